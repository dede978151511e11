"""`simharness sweep RECORD`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import json_option, record_argument, runs_option


@click.command("sweep")
@record_argument
@click.option(
    "--vary",
    "varied",
    multiple=True,
    required=True,
    metavar="FIELD=VALUES",
    help="a field of the record and its values, as feed.height_mm=18:24:7 (start:stop:count) or slot.3.length_mm=58,59; "
    "given several times, all combinations are solved",
)
@click.option(
    "--quality",
    type=click.Choice(["draft", "normal", "fine"]),
    default="normal",
    show_default=True,
    help="how fine the mesh is",
)
@click.option(
    "--workers",
    type=click.IntRange(1),
    metavar="N",
    help="runs at once on this machine  [default: as many as cores, runs and memory allow]",
)
@click.option(
    "--threads",
    type=click.IntRange(1),
    metavar="N",
    help="solver threads of each run  [default: the cores shared out among the workers; 1 with --cluster]",
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="use the workers of this Dask scheduler, as tcp://host:8786, instead; they must share the folder of the runs",
)
@click.option("--plan", "only_plan", is_flag=True, help="print the points and the time they take, and stop")
@click.option("--no-figures", is_flag=True, help="leave the picture out")
@json_option
@runs_option
def command(
    record: Path,
    varied: tuple[str, ...],
    quality: str,
    workers: int | None,
    threads: int | None,
    cluster: str | None,
    only_plan: bool,
    no_figures: bool,
    as_json: bool,
    runs_folder: Path,
) -> None:
    """Full-wave runs of RECORD with fields varied: every point a stored run, and one table of all.

    All points are checked before the first is run. A stored run is not made again: after Ctrl-C, or where a run failed, the same
    command goes on. Table (CSV and HDF5) and picture are written to sweep-NAME-FIELD-... in the folder of the runs.
    """
    from simharness.cli.bar import Bar
    from simharness.errors import CancelledError
    from simharness.progress import Silent
    from simharness.records import read_record
    from simharness.runs.store import Store
    from simharness.sweep.backend import backend_for
    from simharness.sweep.execution import sweep, sweep_plan
    from simharness.sweep.points import variable

    if cluster and workers:
        raise click.UsageError(
            "--workers counts processes of this machine: the workers of --cluster are started with the scheduler"
        )
    design, store = read_record(record), Store(runs_folder)
    plan = sweep_plan(design, [variable(text) for text in varied], quality)
    made_by = backend_for(plan, plan.missing(store), workers, threads, cluster)
    if not as_json or only_plan:
        _print_plan(plan, store, made_by, only_plan, as_json)
    if only_plan:
        return
    try:
        found = sweep(plan, store, made_by.events, made_by.threads, Silent() if as_json else Bar())
    except (CancelledError, KeyboardInterrupt):
        stored = len(plan.runs) - len(plan.missing(store))
        raise CancelledError(
            f"interrupted: {stored} of {len(plan.runs)} runs are stored, the same command goes on from there"
        ) from None
    written = _written(found, runs_folder / plan.name, not no_figures)
    _show(found, written, as_json)
    _complain(found)


def _print_plan(plan, store, made_by, whole: bool, as_json: bool) -> None:
    from simharness.cli.text import print_columns, print_json
    from simharness.progress import span
    from simharness.sweep.backend import counted
    from simharness.sweep.points import point_text

    missing = plan.missing(store)
    seconds = None if made_by.workers is None else plan.seconds(missing, made_by.workers, made_by.threads)
    stored = len(plan.runs) - len(missing)
    if as_json:
        print_json(
            {
                "points": len(plan.points),
                "runs": len(plan.runs),
                "stored": stored,
                "workers": made_by.workers,
                "threads": made_by.threads,
                "seconds": seconds,
                "folder": plan.name,
            }
        )
        return
    time = f", about {span(seconds)}" if missing and seconds is not None else ""
    click.echo(
        f"{plan.record.name}: {counted(len(plan.points), 'point')}, {counted(len(plan.runs), 'run')} ({plan.quality} mesh), "
        f"{stored} of them stored; {made_by.description}{time}"
    )
    if whole:
        print_columns(
            [
                (
                    point_text(plan.variables, point.values),
                    f"{what.cells / 1e6:.2f} million",
                    "to be run" if what.key in missing else "stored",
                )
                for point, what in zip(plan.points, plan.plans)
            ],
            ("point", "cells", ""),
        )


def _written(found, folder: Path, figures: bool) -> list[Path]:
    """Tables and picture on disk."""
    from simharness.files import atomic_write_bytes, atomic_write_text, machine_errors
    from simharness.sweep.table import csv_text, hdf5_bytes

    with machine_errors(f"make the folder {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
    written = [folder / "sweep.csv", folder / "sweep.h5"]
    atomic_write_text(written[0], csv_text(found))
    atomic_write_bytes(written[1], hdf5_bytes(found))
    if figures and any(row.run for row in found.rows):
        from simharness.plot import write_figure
        from simharness.sweep.picture import sweep_figure

        written.append(write_figure(folder / "sweep.png", sweep_figure, found))
    return written


_SHOWN = {
    "resonance": "best match at",
    "s11_at_centre": "S11 at centre",
    "realized_gain": "realized gain",
    "beamwidth_along": "beam along",
    "side_lobe_level": "side lobes",
}


def _show(found, written: list[Path], as_json: bool) -> None:
    from simharness.cli.text import number, print_columns, print_json
    from simharness.sweep.points import value_text

    fields = [variable.field for variable in found.variables]
    if as_json:
        print_json(
            {
                "record": found.record.name,
                "quality": found.quality,
                "files": [str(path) for path in written],
                "rows": [
                    dict(zip(fields, row.values))
                    | {"status": row.status, "reason": row.reason, "run": row.run, "figures": row.figures}
                    for row in found.rows
                ],
            }
        )
        return
    click.echo()
    print_columns(
        [
            (
                *map(value_text, row.values),
                *(number(row.figures.get(name)) for name in _SHOWN),
                row.run or f"{row.status}: {row.reason}",
            )
            for row in found.rows
        ],
        (*fields, *_SHOWN.values(), "run"),
    )
    click.echo(f"\n  written: {', '.join(map(str, written))}")


def _complain(found) -> None:
    """An error at the end where some points came to nothing."""
    from simharness.errors import SolverError
    from simharness.sweep.backend import counted

    bad = [row for row in found.rows if not row.run]
    if bad:
        raise SolverError(
            f"{len(bad)} of {counted(len(found.rows), 'point')} came to nothing (first reason: {bad[0].reason}); "
            "the same command tries them again"
        )
