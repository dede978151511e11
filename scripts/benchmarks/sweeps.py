"""Throughput of a sweep on this machine: two workers of one solver thread each against one."""

from __future__ import annotations

import tempfile
import time
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import click

from simharness.cli.bar import Bar
from simharness.progress import Progress
from simharness.records import parse_record
from simharness.runs.store import Store
from simharness.solver.machine import Machine, machine, usable_cores
from simharness.sweep.execution import SweepPlan, sweep, sweep_plan
from simharness.sweep.local import local_events
from simharness.sweep.points import Variable

HEIGHTS = Variable("feed.height_mm", (5.2, 5.4, 5.6, 5.8, 6.0, 6.2, 6.4, 6.6))
ANTENNA = {
    "schema": 1,
    "name": "short",
    "note": "Invented: two slots in a short length of WR-90, for runs of some seconds.",
    "band": {"low_ghz": 9.9, "centre_ghz": 10.0, "high_ghz": 10.1},
    "mounting": {"axis": "vertical"},
    "guide": {"a_mm": 22.86, "b_mm": 10.16, "length_mm": 63.0, "front_wall_mm": 1.27, "other_walls_mm": 1.27},
    "slot_rule": {
        "count": 2,
        "first_mm": 33.0,
        "spacing_mm": 19.9,
        "offset_mm": 4.0,
        "length_mm": 14.6,
        "width_mm": 1.6,
    },
    "feed": {
        "kind": "probe",
        "position_mm": 8.0,
        "height_mm": 6.0,
        "wire_diameter_mm": 1.27,
        "coax_inner_mm": 1.27,
        "coax_outer_mm": 4.1,
    },
}


@dataclass(frozen=True)
class Throughput:
    """Wall clock of the same runs by one worker and by two, s."""

    runs: int
    cells: int
    one: float
    two: float

    @property
    def ratio(self) -> float:
        """How many times as many runs two workers make in the same time."""
        return self.one / self.two


def short_sweep(on: Machine) -> SweepPlan:
    """Eight short runs at draft quality."""
    return sweep_plan(parse_record(ANTENNA), [HEIGHTS], "draft", on=on)


def sweep_seconds(plan: SweepPlan, workers: int, progress: Progress) -> float:
    """Wall clock of a sweep into an empty store by workers of one solver thread each, s."""
    with tempfile.TemporaryDirectory(prefix="simharness-bench-") as folder:
        begun = time.perf_counter()
        found = sweep(plan, Store(Path(folder)), partial(local_events, workers=workers), 1, progress)
        spent = time.perf_counter() - begun
    missing = [row.reason for row in found.rows if not row.run]
    if missing:
        raise RuntimeError(f"a run of the sweep failed: {missing[0]}")
    return spent


def throughput(on: Machine, progress: Progress) -> Throughput | None:
    """One worker, then two; None on a machine with one core."""
    if usable_cores() < 2:
        return None
    plan = short_sweep(on)
    one, two = (sweep_seconds(plan, workers, progress) for workers in (1, 2))
    return Throughput(len(plan.runs), max(what.cells for what in plan.plans), one, two)


def markdown_text(found: Throughput | None) -> str:
    """A sentence."""
    if found is None:
        return "This machine has one core: no two workers to compare.\n"
    return (
        f"{found.runs} short runs of at most {found.cells / 1e6:.2f} million cells: one worker"
        f" {found.one:.0f} s, two workers {found.two:.0f} s, one solver thread each: {found.ratio:.2f} times"
        " the throughput.\n"
    )


if __name__ == "__main__":
    click.echo(markdown_text(throughput(machine(), Bar())))
