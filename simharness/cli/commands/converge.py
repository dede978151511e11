"""`simharness converge RECORD`."""

from __future__ import annotations

import math
from pathlib import Path

import click

from simharness.cli.options import json_option, record_argument, runs_option


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

    Every run is stored, and a stored one is not made again: after Ctrl-C the same command goes on where it stopped.
    Table and picture are written to convergence-NAME in the folder of the runs.
    """
    from dataclasses import replace

    from simharness.cli.bar import Bar
    from simharness.convergence.steps import remaining_seconds, study_steps
    from simharness.convergence.study import converge
    from simharness.errors import CancelledError
    from simharness.progress import Silent
    from simharness.records import read_record
    from simharness.runs.store import Store
    from simharness.solver.speed import measured_machine

    design, store = read_record(record), Store(runs_folder)
    steps = study_steps(design, levels, spreads)
    progress = Silent() if as_json else Bar()
    if not only_plan and remaining_seconds(steps, store):
        on = measured_machine(steps[0].plan.machine, progress)
        steps = tuple(replace(step, plan=replace(step.plan, machine=on)) for step in steps)
    left = remaining_seconds(steps, store)
    if not as_json:
        _print_plan(design.name, steps, store, left)
    if only_plan:
        if as_json:
            _print_plan_json(steps, store, left)
        return
    try:
        study = converge(design, store, steps=steps, progress=progress)
    except (CancelledError, KeyboardInterrupt):
        stored = sum(store.find(step.plan.key) is not None for step in steps)
        raise CancelledError(
            f"interrupted: {stored} of {len(steps)} runs are stored, the same command goes on from there"
        ) from None
    written = _written(study, design, runs_folder / f"convergence-{design.name}")
    if as_json:
        from simharness.cli.text import print_json

        print_json(_as_plain(study) | {"files": [str(path) for path in written]})
        return
    _print_study(study)
    click.echo(f"\n  written: {', '.join(map(str, written))}")


def _print_plan(name: str, steps, store, left: float) -> None:
    from simharness.cli.text import print_columns, threads_in_words
    from simharness.progress import span

    click.echo(
        f"{name}: {len(steps)} runs, about {span(left)} in all ({steps[0].plan.solver}, {threads_in_words(steps[0].plan.threads)})"
    )
    print_columns(
        [
            (
                step.label,
                f"{step.plan.cells / 1e6:.2f} million",
                "stored" if store.find(step.plan.key) else f"about {span(step.plan.typical_seconds)}",
            )
            for step in steps
        ],
        ("run", "cells", "time"),
    )


def _print_plan_json(steps, store, left: float) -> None:
    from simharness.cli.text import print_json

    print_json(
        {
            "seconds": left,
            "runs": [
                {
                    "label": step.label,
                    "key": step.plan.key,
                    "cells": step.plan.cells,
                    "typical_seconds": step.plan.typical_seconds,
                    "stored": store.find(step.plan.key) is not None,
                }
                for step in steps
            ],
        }
    )


def _as_plain(study) -> dict:
    from dataclasses import asdict

    from simharness.cli.text import plain

    return plain(asdict(study))


def _written(study, design, folder: Path) -> list[Path]:
    """Table and picture on disk."""
    import json

    from simharness.convergence.picture import convergence_figure
    from simharness.files import atomic_write_text, machine_errors
    from simharness.plot import write_figure

    with machine_errors(f"make the folder {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
    table = folder / "convergence.json"
    atomic_write_text(table, json.dumps(_as_plain(study), indent=2) + "\n")
    return [table, write_figure(folder / "convergence.png", convergence_figure, study, design)]


def _print_study(study) -> None:
    from simharness.cli.text import print_columns, print_wrapped

    click.echo(f"\n{study.record}: figures on {len(study.h)} meshes, and what they converge to\n")
    heads = ("", *(f"1/{n}" for n in study.slot_cells), "order", "extrapolated")
    print_columns([_row(row) for row in study.figures], heads)
    click.echo()
    print_wrapped(
        "Columns 1/2, 1/3, ...: cell size in slot widths. S11 in the complex plane: distances from the finest mesh, at "
        "last that of the finest mesh from the limit."
    )
    print_wrapped(
        "The bar is meant to hold the limit in 95 of 100 cases: 1.25 times the extrapolated change, and at least the "
        "change that errors of first order would leave. It holds the mesh alone, not the cut, nor the solver's model."
    )
    for row in study.figures:
        # Reasons with the factor of 1.25 need no words: they are the rule just stated.
        if row.convergence is not None and "factor 1.25" not in row.convergence.reason:
            print_wrapped(f"{row.label}: {row.convergence.reason}.")
    for sentence in study.remarks:
        print_wrapped(sentence)
    if study.spreads:
        _print_spreads(study)


def _row(row) -> tuple[str, ...]:
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


def _print_spreads(study) -> None:
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
            + (f" came to nothing: {spread.reason}" if spread.changes is None else "")
            + "."
        )


def _change(spread, row) -> str:
    change = spread.changes.get(row.name)
    if change is None:
        return "-"
    scale, unit = (1e6, "MHz") if row.unit == "Hz" else (1.0, row.unit.replace("dBi", "dB"))
    sign = "" if row.name == "s11_distance" else "+"
    return f"{change / scale:{sign}.{2 if unit == 'MHz' else 3}f} {unit}".rstrip()
