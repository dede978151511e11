"""`simharness sweep RECORD`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.options import json_option, record_argument, runs_option

if TYPE_CHECKING:
    from simharness.library import SweepPlan, SweepResult


@click.command("sweep")
@record_argument
@click.option(
    "--vary",
    "varied",
    multiple=True,
    required=True,
    metavar="FIELD=VALUES",
    help="a field of the record and its values, as feed.height_mm=18:24:7 (start:stop:count) or "
    "slot.3.length_mm=58,59; "
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
    help="use the workers of this Dask scheduler, as tcp://host:8786, instead; they must share the folder "
    "of the runs",
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

    All points are checked before the first is run. A stored run is not made again: after Ctrl-C, or where a
    run failed, the same command goes on. Table (CSV and HDF5) and picture are written to sweep-NAME-FIELD-...
    in the folder of the runs.
    """
    from simharness import read_record, sweep
    from simharness.cli.bar import Bar
    from simharness.cli.text import print_json
    from simharness.errors import CancelledError
    from simharness.library import sweep_plan

    if cluster and workers:
        raise click.UsageError(
            "--workers counts processes of this machine: the workers of --cluster are started with the "
            "scheduler"
        )
    job = sweep_plan(
        read_record(record),
        varied,
        quality,
        workers=workers,
        threads=threads,
        cluster=cluster,
        runs=runs_folder,
    )
    if only_plan and as_json:
        print_json(job.as_dict())
    elif not as_json:
        _print_plan(job, only_plan)
    if only_plan:
        return
    try:
        found = sweep(job, progress=None if as_json else Bar())
    except (CancelledError, KeyboardInterrupt):
        whole = len(job.points.runs)
        raise CancelledError(
            f"interrupted: {whole - len(job.missing)} of {whole} runs are stored, the same command goes on "
            "from "
            "there"
        ) from None
    written = found.write(runs_folder / job.points.name, not no_figures)
    if as_json:
        print_json(found.as_dict() | {"files": [str(path) for path in written]})
    else:
        _show(found, written)
    _complain(found)


def _print_plan(job: SweepPlan, whole: bool) -> None:
    from simharness.cli.text import print_columns
    from simharness.progress import span
    from simharness.sweep.backend import counted
    from simharness.sweep.points import point_text

    plan, missing, seconds = job.points, job.missing, job.seconds
    time = f", about {span(seconds)}" if missing and seconds is not None else ""
    click.echo(
        f"{plan.record.name}: {counted(len(plan.points), 'point')}, {counted(len(plan.runs), 'run')} "
        f"({plan.quality} mesh), {len(plan.runs) - len(missing)} of them stored; "
        f"{job.backend.description}{time}"
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


_SHOWN = {
    "resonance": "best match at",
    "s11_at_centre": "S11 at centre",
    "realized_gain": "realized gain",
    "beamwidth_along": "beam along",
    "side_lobe_level": "side lobes",
}


def _show(found: SweepResult, written: list[Path]) -> None:
    from simharness.cli.text import number, print_columns
    from simharness.sweep.points import value_text

    fields = [variable.field for variable in found.table.variables]
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


def _complain(found: SweepResult) -> None:
    """An error at the end where some points failed."""
    from simharness.errors import SolverError
    from simharness.sweep.backend import counted

    bad = [row for row in found.rows if not row.run]
    if bad:
        raise SolverError(
            f"{len(bad)} of {counted(len(found.rows), 'point')} failed (first reason: "
            f"{bad[0].reason}); "
            "the same command tries them again"
        )
