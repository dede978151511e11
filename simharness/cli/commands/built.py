"""`simharness built RECORD READINGS`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.options import FilePath, Number, json_option, record_argument, runs_option

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
@click.option(
    "--measured",
    type=FilePath(),
    metavar="FILE",
    help="S11 of the finished antenna (.s1p), weighed together with the readings",
)
@click.option(
    "--delay-ps", type=Number(-1000, 5000), help="one-way delay of its connector  [default: fitted]"
)
@click.option(
    "--tools",
    type=click.Choice(["hand", "mill"]),
    default="hand",
    show_default=True,
    help="what made the dimensions that were not read",
)
@click.option(
    "--caliper",
    "caliper_mm",
    type=Number(0.001, 5, "mm"),
    default=0.1,
    show_default=True,
    metavar="MM",
    help="what a caliper is right within in 95 of 100 cases, mm; it reads up to 150 mm",
)
@click.option(
    "--rule",
    "rule_mm",
    type=Number(0.001, 5, "mm"),
    default=0.5,
    show_default=True,
    metavar="MM",
    help="the same of a steel rule, for what is longer",
)
@click.option(
    "--run",
    "run",
    metavar="NAME",
    help="stored run of the record as drawn, which calibrates the model  [default: the finest there is]",
)
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

    READINGS is the table that --form began. S11, band and gain come with what the readings and the model leave
    open, and the readings that matter most. With --measured, readings and curve are weighed together: what
    the curve says of dimensions that could not be read, or that both contradict each other.
    """
    from simharness import as_built, read_record
    from simharness.cli.bar import Bar
    from simharness.cli.finished import known_run
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
    from simharness.workshop.messages import figure_rows

    click.echo(f"{found.study.base.record.name}: as built\n")
    print_columns(figure_rows(found.study), ("", "as built", "95 of 100 within"))
    click.echo()
