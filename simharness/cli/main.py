"""The command line: one module for each command, imported when it is called."""

from __future__ import annotations

import importlib
import os
import sys

import click

from simharness import __version__
from simharness.errors import CancelledError, HarnessError, MachineError
from simharness.printable import printable, quoted

# The solver has the cores; small matrices do not gain from more threads, and spinning ones would slow it.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

LONGEST_MESSAGE = 500
"""Characters of a message about the command line."""

COMMANDS = {
    "start": "questions about band, metal, feed and tools, and the record",
    "design": "a complete record from a frequency and the metal at hand",
    "check": "validate a record, show what follows from it, and warn",
    "estimate": "match, pattern and gain in about a second",
    "page": "in your browser: curves and drawing move while a dimension moves",
    "solve": "full-wave run, and the verdict beside the estimate",
    "converge": "refined meshes, and how surely the full-wave figures are known",
    "tune": "how long the probe must be, in at most three full-wave runs",
    "tolerance": "how exact each dimension must be, and the yield by hand or mill",
    "sweep": "fields of a record over ranges of values, in one table",
    "sheets": "true-scale cut sheets (PDF, SVG, DXF) and the build list",
    "report": "verdict, pictures and build list of a stored run as a page",
    "show": "the verdict and figures of a stored run",
    "compare": "a measured reflection or received levels beside a stored run",
    "built": "what the finished antenna does, by what caliper and rule read on it",
    "mend": "what can still be done with metal that misses the target",
    "link": "received level and range, radiated power and exposure distance",
    "runs": "list the stored runs, check them, remove some",
    "schema": "JSON Schema of design records, for editors",
}


class LazyGroup(click.Group):
    """Knows the names of all commands but imports only the one that is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        return importlib.import_module(f"simharness.cli.commands.{name}").command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(
    cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(__version__, prog_name="simharness")
def cli() -> None:
    """Slotted waveguide antennas: from a written design record to a full-wave verdict, before metal is cut.

    A record is a TOML file (see models/). Begin with 'simharness start', then 'check', 'estimate' and
    'solve'.

    Exit codes: 0 done, 2 wrong command line, 3 edit the record, 4 mend the machine, 5 the solver failed,
    6 not converged, 7 a stored run is damaged or unknown, 8 the same run is under way, 130 interrupted.
    """


def main() -> None:
    """Entry point: deliberate errors become one sentence and their exit code."""
    try:
        cli(standalone_mode=False)
    except click.exceptions.Abort:
        click.echo("interrupted: nothing was kept", err=True)
        sys.exit(CancelledError.exit_code)
    except click.ClickException as error:
        _show(error)
        sys.exit(error.exit_code)
    except HarnessError as error:
        click.echo(f"simharness: {error}", err=True)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        click.echo("interrupted: nothing was kept", err=True)
        sys.exit(CancelledError.exit_code)
    except BrokenPipeError:
        sys.exit(0)
    except OSError as error:
        if error.filename is None:
            raise
        click.echo(f"simharness: cannot use {quoted(error.filename)}: {error.strerror}", err=True)
        sys.exit(MachineError.exit_code)


def _show(error: click.ClickException) -> None:
    """What is wrong with the command line, safe to print and not long, whatever was written there."""
    text = printable(error.format_message())
    if len(text) > LONGEST_MESSAGE:
        half = LONGEST_MESSAGE // 2
        text = f"{text[:half]} ... {text[-half:]}"
    if isinstance(error, click.UsageError):
        click.UsageError(text, error.ctx).show()
    else:
        click.ClickException(text).show()


if __name__ == "__main__":
    main()
