"""`simharness solve RECORD`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.options import Number, json_option, record_argument, runs_option

if TYPE_CHECKING:
    from simharness.library import RunPlan


@click.command("solve")
@record_argument
@click.option(
    "--quality",
    type=click.Choice(["draft", "normal", "fine"]),
    default="normal",
    show_default=True,
    help="how fine the mesh is: minutes, some minutes, long",
)
@click.option(
    "--feed",
    type=click.Choice(["coax", "gap"]),
    default="coax",
    show_default=True,
    help="coax: a true coax line; gap: a lumped source at the foot of the probe, faster and less accurate",
)
@click.option("--plan", "only_plan", is_flag=True, help="print mesh, time and memory, and stop")
@click.option("--again", is_flag=True, help="solve even if this very run is stored")
@click.option("--limit-minutes", type=Number(0.05, 100_000), default=None, help="give up after so long")
@click.option("--no-figures", is_flag=True, help="leave the pictures out")
@json_option
@runs_option
def command(
    record: Path,
    quality: str,
    feed: str,
    only_plan: bool,
    again: bool,
    limit_minutes: float | None,
    no_figures: bool,
    as_json: bool,
    runs_folder: Path,
) -> None:
    """Full-wave run of RECORD with the FDTD solver, stored under runs/, and the verdict.

    The same request again returns the stored run at once. Interrupt with Ctrl-C: nothing half done is kept.
    """
    from simharness import plan, read_record, solve
    from simharness.cli.bar import Bar
    from simharness.cli.commands.show import describe
    from simharness.cli.text import print_json
    from simharness.errors import CancelledError
    from simharness.progress import Silent
    from simharness.runs.store import Store

    progress = Silent() if as_json else Bar()
    job = plan(read_record(record), quality, feed=feed)
    if not only_plan and (again or Store(runs_folder).find(job.key) is None):
        job = job.measured(progress)
    if not as_json:
        _print_plan(job)
    if only_plan:
        job = job.with_forecast()
    if not as_json:
        _print_time(job)
    if only_plan:
        if as_json:
            print_json(job.as_dict())
        return
    run = solve(
        job,
        runs=runs_folder,
        again=again,
        limit_minutes=limit_minutes,
        progress=progress,
        will_draw=not no_figures,
    )
    try:
        describe(run, as_json, figures=not no_figures)
    except KeyboardInterrupt:
        raise CancelledError(
            f"interrupted, but the run is stored: 'simharness show {run.record.name}-{run.key}' goes on"
        ) from None


def _print_plan(job: RunPlan) -> None:
    from simharness.cli.text import threads_in_words

    what = job.run
    mesh = what.request.grid
    size = " x ".join(str(len(line) - 1) for line in mesh.lines)
    click.echo(
        f"{what.request.scene.name}: {job.quality} mesh, {size} cells = {what.cells / 1e6:.2f} million, "
        f"neighbours differ by at most {mesh.largest_ratio:.2f}"
    )
    if mesh.moved > 1e-6:
        click.echo(
            f"  edges that lay too close were merged: largest move {mesh.moved * 1e3:.3f} mm "
            f"({mesh.moved_kind})"
        )
    basis = (
        f"measured {what.machine.measured}"
        if what.machine.measured
        else "a guess, measured when first solving"
    )
    click.echo(
        f"  {what.solver}, {threads_in_words(what.threads)} at {what.cells_per_second / 1e6:.0f} million "
        f"cells a second ({basis})"
    )


def _print_time(job: RunPlan) -> None:
    from simharness.progress import span

    what = job.run
    click.echo(
        f"  about {span(what.typical_seconds)}, at most {span(what.most_seconds)}; {what.memory / 1e6:.0f} "
        "MB of memory"
    )
    if what.slow:
        click.echo(
            f"  it settles slowly: only some {what.typical_periods:.0f} periods of the centre frequency "
            "after the pulse"
        )
