"""`simharness built RECORD READINGS`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.finished import known_run, reading_options
from simharness.cli.options import FilePath, json_option, record_argument, runs_option

if TYPE_CHECKING:
    from simharness.library import BuiltResult


@click.command("built")
@record_argument
@click.argument("readings", required=False, type=FilePath())
@click.option(
    "--form",
    type=FilePath(),
    metavar="FILE",
    help="instead: write an empty table of readings (.csv), with what is drawn beside the blanks",
)
@reading_options
@click.option("--out", type=FilePath(), metavar="FILE", help="write the record as built")
@click.option("--replace", is_flag=True, help="replace files if they are there")
@click.option("--no-figures", is_flag=True, help="leave the picture out")
@json_option
@runs_option
def command(
    record: Path,
    readings: Path | None,
    form: Path | None,
    measured: Path | None,
    delay_ps: float | None,
    tools: str,
    caliper_mm: float,
    rule_mm: float,
    run: str | None,
    out: Path | None,
    replace: bool,
    no_figures: bool,
    as_json: bool,
    runs_folder: Path,
) -> None:
    """What the finished antenna of RECORD does, by what caliper and rule read on it.

    READINGS is the table that --form began. S11, band and gain come with what readings and model leave
    open, and the readings that matter most. With --measured, readings and curve are weighed together: what
    the curve says of dimensions that could not be read, or that both contradict each other.
    """
    from simharness import as_built, read_record
    from simharness.cli.bar import Bar
    from simharness.cli.text import print_json, print_wrapped
    from simharness.library import readings_form
    from simharness.library.values import require_free, write_text

    design = read_record(record)
    if form is not None:
        if readings is not None or measured is not None or out is not None:
            raise click.UsageError("--form writes an empty table and does nothing else")
        click.echo(f"  written: {write_text(form, readings_form(design), replace)}")
        return
    if readings is None and measured is None:
        raise click.UsageError("READINGS or --measured must be given; --form FILE writes an empty table")
    if out is not None:
        require_free(out, replace)
    opened, remarks = known_run(run, record, runs_folder)
    found = as_built(
        design,
        readings,
        run=opened,
        measured=measured,
        delay_ps=delay_ps,
        tools=tools,
        caliper_mm=caliper_mm,
        rule_mm=rule_mm,
        progress=None if as_json else Bar(),
    )
    where = runs_folder / f"built-{design.name}" / f"{(readings or measured or record).stem}.png"
    files = [] if no_figures else [found.write_picture(where)]
    if out is not None:
        files.append(found.write_record(out, replace))
    if as_json:
        print_json(found.as_dict() | {"remarks": remarks, "files": [str(path) for path in files]})
        return
    _print(found)
    for sentence in (*found.sentences, *remarks):
        print_wrapped(sentence)
    for path in files:
        click.echo(f"\n  written: {path}")


def _print(found: BuiltResult) -> None:
    from simharness.cli.text import print_columns
    from simharness.workshop.messages import FIGURE_HEAD, figure_rows

    click.echo(f"{found.study.base.record.name}: as built\n")
    print_columns(figure_rows(found.study), FIGURE_HEAD)
    click.echo()
