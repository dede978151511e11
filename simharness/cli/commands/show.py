"""`simharness show RUN [RUN [RUN]]`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.options import FilePath, json_option, quality_option, run_argument, runs_option

if TYPE_CHECKING:
    from simharness.library.solved_run import SolvedRun


@click.command("show")
@run_argument
@click.argument("others", metavar="[RUN [RUN]]", nargs=-1)
@quality_option
@click.option("--figures", is_flag=True, help="draw the pictures anew")
@click.option(
    "--record",
    "as_record",
    is_flag=True,
    help="print the record of the run instead, as a file that 'solve' takes",
)
@click.option("--out", type=FilePath(), metavar="FILE", help="with --record: write it to this file")
@click.option("--replace", is_flag=True, help="with --out: replace the file if it is there")
@json_option
@runs_option
def command(
    run: str,
    others: tuple[str, ...],
    quality: str | None,
    figures: bool,
    as_record: bool,
    out: Path | None,
    replace: bool,
    as_json: bool,
    runs_folder: Path,
) -> None:
    """The verdict of a stored RUN: a record file, the name of a record, or the name of a run or its
    beginning.

    A record finds the runs of its geometry, by whatever name they were made; title, target, mounting and name
    in the verdict are those of the record. A RUN named in full is shown with the record that was solved by
    that name.

    Two or three: figures and dimensions side by side, and which differ by more than their error bars;
    'compare' says so in sentences. Here a record file (.toml) stands by its estimate, and a Touchstone
    one-port (.s1p) may be among them.
    """
    if others:
        if figures or as_record or out is not None or replace:
            raise click.UsageError("--figures, --record, --out and --replace go with one RUN")
        _show_side_by_side((run, *others), quality, as_json, runs_folder)
        return
    if as_record:
        _give_record(run, quality, out, replace, runs_folder)
        return
    if out is not None or replace:
        raise click.UsageError("--out and --replace go with --record")
    from simharness import open_run
    from simharness.cli.bar import Bar

    describe(
        open_run(run, runs=runs_folder, quality=quality, progress=None if as_json else Bar()),
        as_json,
        figures,
    )


def _show_side_by_side(named: tuple[str, ...], quality: str | None, as_json: bool, runs_folder: Path) -> None:
    from simharness.cli.beside import print_tables, set_side_by_side
    from simharness.cli.text import print_json, print_wrapped

    found, remarks = set_side_by_side(named, quality, runs_folder)
    if as_json:
        print_json(found.as_dict() | {"remarks": remarks})
        return
    print_tables(found)
    for sentence in remarks:
        print_wrapped(sentence)


def _give_record(run: str, quality: str | None, out: Path | None, replace: bool, runs_folder: Path) -> None:
    """The record of a run, failed ones too, as TOML."""
    from simharness.library.stored_runs import stored_record
    from simharness.library.values import write_text
    from simharness.records.text import record_text

    name, record = stored_record(run, runs=runs_folder, quality=quality)
    text = record_text(record, f"From the run {name}.")
    if out is None:
        click.echo(text, nl=False)
        return
    click.echo(f"  written: {write_text(out, text, replace)}")


def describe(run: SolvedRun, as_json: bool, figures: bool) -> None:
    """Print the verdict of a run; draw its pictures where asked for."""
    from simharness.advice.warnings import CAUTIONS
    from simharness.cli.text import print_json, print_wrapped

    verdict = run.verdict
    pictures = run.write_pictures() if figures else []
    if as_json:
        print_json(run.as_dict() | {"pictures": [str(p) for p in pictures], "remarks": run.remarks})
        return
    _print_verdict(run)
    for sentence in (*run.remarks, *verdict.sentences):
        print_wrapped(sentence)
    print_wrapped(f"Before you cut, solder and transmit: {CAUTIONS[0]} {CAUTIONS[-1]}")
    if pictures:
        click.echo(f"\n  pictures in {run.pictures_folder}")
    click.echo(f"\n{verdict.conclusion}")


def _print_verdict(run: SolvedRun) -> None:
    from simharness.cli.text import number, print_columns
    from simharness.solver.settings import SLOW_PERIODS

    about = run.results.attributes
    periods = about.get("periods_after_pulse", 0.0)
    slowly = f"; it settled slowly, over {periods:.0f} periods" if periods > SLOW_PERIODS else ""
    lumped = about.get("feed") == "GapPort"
    gap = ", lumped gap at the probe: less accurate than the coax line" if lumped else ""
    click.echo(
        f"\n{run.record.name}: estimate and full wave ({run.quality} mesh, {about['solver']}, "
        f"{about['steps']} steps in {about['solver_seconds']:.0f} s{gap}{slowly})\n"
    )
    words = {True: "agree", False: "differ", None: ""}
    print_columns(
        [
            (row.label, number(row.estimate), number(row.full_wave), words[row.agrees])
            for row in run.verdict.rows
        ],
        ("", "estimate", "full wave", ""),
    )
    click.echo()
