"""`simharness solve RECORD`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import Number, json_option, record_argument, runs_option


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
    help="coax: a true coax line; gap: a lumped source at the foot of the probe, cheaper and less true",
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
    from dataclasses import replace
    from functools import cache

    from simharness.cli.bar import Bar
    from simharness.cli.commands.show import describe
    from simharness.errors import CancelledError
    from simharness.progress import Silent
    from simharness.records import read_record
    from simharness.runs.execution import solve
    from simharness.runs.lookup import other_name
    from simharness.runs.planning import record_plan
    from simharness.runs.store import Store
    from simharness.solver.speed import measured_machine

    design = read_record(record)
    store = Store(runs_folder)
    what = record_plan(design, quality, feed)
    progress = Silent() if as_json else Bar()
    if not only_plan and (again or store.find(what.key) is None):
        what = replace(what, machine=measured_machine(what.machine, progress))
    if not as_json:
        _print_plan(what, quality)
    if only_plan:
        from simharness.runs.prediction import settling_periods

        what = replace(what, predicted=settling_periods(design, what.request))
    if not as_json:
        _print_time(what)
    elif only_plan:
        _print_plan_json(what)
    if only_plan:
        return

    @cache
    def guess():
        from simharness.estimate.antenna import estimate

        return estimate(design)

    def meanwhile() -> float:
        from simharness.runs.prediction import settling_periods

        guess()
        if not no_figures:
            from simharness.plot.album import warm_up

            warm_up(design)
        return settling_periods(design, what.request)

    run = solve(
        what,
        store,
        design,
        again=again,
        timeout_s=60 * limit_minutes if limit_minutes else None,
        progress=progress,
        meanwhile=meanwhile,
        named=True,
    )
    try:
        describe(
            run,
            as_json,
            figures=not no_figures,
            record=design,
            guess=guess(),
            remarks=other_name(run, design),
        )
    except KeyboardInterrupt:
        raise CancelledError(
            f"interrupted, but the run is stored: 'simharness show {design.name}-{run.key}' goes on"
        ) from None


def _print_plan(what, quality: str) -> None:
    from simharness.cli.text import threads_in_words

    mesh = what.request.grid
    size = " x ".join(str(len(line) - 1) for line in mesh.lines)
    click.echo(
        f"{what.request.scene.name}: {quality} mesh, {size} cells = {what.cells / 1e6:.2f} million, "
        f"neighbours differ by at most {mesh.largest_ratio:.2f}"
    )
    if mesh.moved > 1e-6:
        click.echo(
            f"  edges that lay too close were merged: largest move {mesh.moved * 1e3:.3f} mm ({mesh.moved_kind})"
        )
    basis = (
        f"measured {what.machine.measured}"
        if what.machine.measured
        else "a guess, measured when first solving"
    )
    click.echo(
        f"  {what.solver}, {threads_in_words(what.threads)} at {what.cells_per_second / 1e6:.0f} million cells a second ({basis})"
    )


def _print_time(what) -> None:
    from simharness.progress import span

    click.echo(
        f"  about {span(what.typical_seconds)}, at most {span(what.most_seconds)}; {what.memory / 1e6:.0f} MB of memory"
    )
    if what.slow:
        click.echo(
            f"  it settles slowly: only some {what.typical_periods:.0f} periods of the centre frequency after the pulse"
        )


def _print_plan_json(what) -> None:
    from simharness.cli.text import print_json

    print_json(
        {
            "key": what.key,
            "cells": what.cells,
            "memory_bytes": what.memory,
            "typical_seconds": what.typical_seconds,
            "most_seconds": what.most_seconds,
            "settles_slowly": what.slow,
            "solver": what.solver,
            "threads": what.threads,
            "cells_per_second": what.cells_per_second,
            "measured": what.machine.measured or None,
        }
    )
