"""`simharness mend RECORD`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.finished import known_run, reading_options
from simharness.cli.options import FilePath, Number, json_option, record_argument, runs_option

if TYPE_CHECKING:
    from simharness.library import MendResult


@click.command("mend")
@record_argument
@click.option(
    "--readings", type=FilePath(), metavar="FILE", help="what was read on the antenna, as for 'built'"
)
@reading_options
@click.option(
    "--step",
    "step_mm",
    type=Number(0, 5, "mm", above=True),
    default=0.1,
    show_default=True,
    metavar="MM",
    help="what you can mark: amounts are multiples of it",
)
@click.option(
    "--confirm", is_flag=True, help="solve the antenna with the first operation done: a full-wave run"
)
@click.option(
    "--quality",
    type=click.Choice(["draft", "normal", "fine"]),
    default="draft",
    show_default=True,
    help="how fine the mesh of that run is",
)
@click.option(
    "--out",
    type=FilePath(),
    metavar="FILE",
    help="write the record with an operation done, and its sheets into a folder beside it",
)
@click.option(
    "--number",
    type=click.IntRange(1, 3),
    default=1,
    show_default=True,
    help="which of the operations is confirmed and written",
)
@click.option("--replace", is_flag=True, help="replace the file if it is there")
@json_option
@runs_option
def command(
    record: Path,
    readings: Path | None,
    measured: Path | None,
    delay_ps: float | None,
    tools: str,
    caliper_mm: float,
    rule_mm: float,
    run: str | None,
    step_mm: float,
    confirm: bool,
    quality: str,
    out: Path | None,
    number: int,
    replace: bool,
    as_json: bool,
    runs_folder: Path,
) -> None:
    """What can still be done with the finished antenna of RECORD, where it misses its target.

    The one, two or three operations that metal still allows, in the order in which to try them: tape over the
    ends of slots, another probe or a shorter one, a plate inside either end, slots filed longer or wider.
    Each with what it gives, how exact the hand must be, and whether it can be undone.
    """
    from simharness import as_built, mend, read_record
    from simharness.cli.bar import Bar
    from simharness.cli.text import print_json, print_wrapped
    from simharness.library.values import require_free

    if readings is None and measured is None:
        raise click.UsageError(
            "--readings or --measured must be given; 'simharness built RECORD --form FILE' begins one"
        )
    if out is not None:
        require_free(out, replace)
    design, progress = read_record(record), None if as_json else Bar()
    opened, remarks = known_run(run, record, runs_folder)
    built = as_built(
        design,
        readings,
        run=opened,
        measured=measured,
        delay_ps=delay_ps,
        tools=tools,
        caliper_mm=caliper_mm,
        rule_mm=rule_mm,
        progress=progress,
    )
    found = mend(built, step_mm=step_mm, progress=progress)
    told = list(remarks)
    files: list[Path] = []
    if not found.study.mends and (confirm or out is not None):
        told.append("There is nothing to confirm or to write.")
        confirm, out = False, None
    if confirm:
        told += found.confirmed(number, quality, runs=runs_folder, progress=progress)
    if out is not None:
        files += found.write_files(out, number, replace)
    if as_json:
        print_json(found.as_dict() | {"remarks": told, "files": [str(path) for path in files]})
        return
    _print(found)
    for sentence in told:
        print_wrapped(sentence)
    for path in files:
        click.echo(f"  written: {path}")


def _print(found: MendResult) -> None:
    from simharness.cli.text import print_wrapped

    click.echo(f"{found.study.built.base.record.name}: what can still be done\n")
    for sentence in found.sentences:
        print_wrapped(sentence)
