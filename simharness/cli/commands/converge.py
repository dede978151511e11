"""`simharness converge RECORD`."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.options import json_option, record_argument, runs_option

if TYPE_CHECKING:
    from simharness.convergence.study import FigureStudy, Spread, Study
    from simharness.library import ConvergencePlan


@click.command("converge")
@record_argument
@click.option(
    "--levels",
    type=click.IntRange(3, 4),
    default=3,
    show_default=True,
    help="meshes: 2, 3, 4 (and 6) cells across a slot; the fourth takes longer than the others together",
)
@click.option(
    "--spreads",
    is_flag=True,
    help="vary air margin, absorber, length of the record and feed model too, on the coarsest mesh",
)
@click.option("--plan", "only_plan", is_flag=True, help="print the runs and the time they take, and stop")
@json_option
@runs_option
def command(
    record: Path, levels: int, spreads: bool, only_plan: bool, as_json: bool, runs_folder: Path
) -> None:
    """Full-wave runs of RECORD on finer and finer meshes: what its figures converge to, and how surely.

    Every run is stored, and a stored one is not made again: after Ctrl-C the same command goes on where it
    stopped. Table and picture are written to convergence-NAME in the folder of the runs.
    """
    from simharness import converge, read_record
    from simharness.cli.bar import Bar
    from simharness.cli.text import print_json
    from simharness.errors import CancelledError
    from simharness.library import convergence_plan
    from simharness.progress import Silent

    design = read_record(record)
    progress = Silent() if as_json else Bar()
    job = convergence_plan(design, levels, spreads=spreads, runs=runs_folder)
    if not only_plan:
        job = job.measured(progress)
    if not as_json:
        _print_plan(job)
    if only_plan:
        if as_json:
            print_json(job.as_dict())
        return
    try:
        found = converge(job, progress=progress)
    except (CancelledError, KeyboardInterrupt):
        raise CancelledError(
            f"interrupted: {job.stored} of {len(job.steps)} runs are stored, the same command goes on from "
            "there"
        ) from None
    written = found.write(runs_folder / f"convergence-{design.name}")
    if as_json:
        print_json(found.as_dict() | {"files": [str(path) for path in written]})
        return
    _print_study(found.study)
    click.echo(f"\n  written: {', '.join(map(str, written))}")


def _print_plan(job: ConvergencePlan) -> None:
    from simharness.cli.text import print_columns, threads_in_words
    from simharness.progress import span

    steps, first = job.steps, job.steps[0].plan
    click.echo(
        f"{job.record.name}: {len(steps)} runs, about {span(job.seconds)} in all "
        f"({first.solver}, {threads_in_words(first.threads)})"
    )
    print_columns(
        [
            (
                step.label,
                f"{step.plan.cells / 1e6:.2f} million",
                "stored" if job.store.find(step.plan.key) else f"about {span(step.plan.typical_seconds)}",
            )
            for step in steps
        ],
        ("run", "cells", "time"),
    )


def _print_study(study: Study) -> None:
    from simharness.cli.text import print_columns, print_wrapped

    click.echo(f"\n{study.record}: figures on {len(study.h)} meshes, and what they converge to\n")
    heads = ("", *(f"1/{n}" for n in study.slot_cells), "order", "extrapolated")
    print_columns([_row(row) for row in study.figures], heads)
    click.echo()
    print_wrapped(
        "Columns 1/2, 1/3, ...: cell size in slot widths. S11 in the complex plane: distances from the "
        "finest mesh, at "
        "last that of the finest mesh from the limit."
    )
    print_wrapped(
        "The bar is meant to hold the limit in 95 of 100 cases: 1.25 times the extrapolated change, and at "
        "least the "
        "change that errors of first order would leave. It holds the mesh alone, not the cut, nor the "
        "solver's model."
    )
    for row in study.figures:
        # Reasons with the factor of 1.25 need no words: they are the rule just stated.
        if row.convergence is not None and "factor 1.25" not in row.convergence.reason:
            print_wrapped(f"{row.label}: {row.convergence.reason}.")
    for sentence in study.remarks:
        print_wrapped(sentence)
    if study.spreads:
        _print_spreads(study)


def _row(row: FigureStudy) -> tuple[str, ...]:
    """Label, value on each mesh, order, limit with its bar; as many digits as the bar deserves."""
    scale, unit = _scale(row.unit)
    found = row.convergence
    digits = _digits(found.uncertainty / scale if found else 0.0)
    values = tuple("-" if value is None else f"{value / scale:.{digits}f}" for value in row.values)
    if found is None:
        return row.label, *values, "-", "- (not on every mesh)"
    order = "-" if found.order is None else f"{found.order:.1f}"
    bar = f"{found.uncertainty / scale:.{digits}f}"
    # The distance of S11 is a size: its limit is told by how far off the finest mesh can be.
    limit = (
        f"within {bar}"
        if row.name == "s11_distance"
        else f"{found.extrapolated / scale:.{digits}f} ± {bar} {unit}"
    )
    return row.label, *values, order, limit.rstrip()


def _scale(unit: str) -> tuple[float, str]:
    return (1e9, "GHz") if unit == "Hz" else (1.0, unit)


def _digits(bar: float) -> int:
    """Decimals that show two figures of a bar, 1 to 5 of them; 4 where there is no bar.

    Examples
    --------
    >>> _digits(0.0123), _digits(4.2), _digits(0.0)
    (3, 1, 4)
    """
    return 4 if bar <= 0 else min(max(1 - math.floor(math.log10(bar)), 1), 5)


def _print_spreads(study: Study) -> None:
    """Changes by the other choices, figures down, choices across the page in sentences."""
    from simharness.cli.text import print_columns, print_wrapped

    done = [spread for spread in study.spreads if spread.changes is not None]
    if done:
        click.echo("\n  changes on the coarsest mesh by other choices\n")
        print_columns(
            [(row.label, *(_change(spread, row) for spread in done)) for row in study.figures],
            ("", *(spread.name for spread in done)),
        )
        click.echo()
    for spread in study.spreads:
        print_wrapped(
            f"{spread.name}: {spread.label}"
            + (f" failed: {spread.reason}" if spread.changes is None else "")
            + "."
        )


def _change(spread: Spread, row: FigureStudy) -> str:
    change = None if spread.changes is None else spread.changes.get(row.name)
    if change is None:
        return "-"
    scale, unit = (1e6, "MHz") if row.unit == "Hz" else (1.0, row.unit.replace("dBi", "dB"))
    sign = "" if row.name == "s11_distance" else "+"
    return f"{change / scale:{sign}.{2 if unit == 'MHz' else 3}f} {unit}".rstrip()
