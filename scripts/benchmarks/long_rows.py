"""Full-wave runs of longer and longer rows: the time of one slot for one time step should stay the same."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from simharness.design.proposal import designed
from simharness.design.requirements import Requirements
from simharness.design.stock import standard_guide
from simharness.geometry import antenna_scene
from simharness.mesh.settings import QUALITIES
from simharness.progress import Progress
from simharness.runs.planning import plan
from simharness.runs.watch import run_child
from simharness.solver.machine import Machine
from simharness.solver.settings import SolverSettings

COUNTS = 10, 20, 40
PERIODS = 40.0
"""After the pulse: thrice the pulse in all, or the solver warns; far too short for a result."""
PATIENCE_S = 1800.0


@dataclass(frozen=True)
class LongRow:
    """A row of some slots: cells, steps, seconds of the child in all."""

    slots: int
    cells: int
    steps: int
    seconds: float

    @property
    def share(self) -> float:
        """Time of one slot for one step, s."""
        return self.seconds / self.slots / self.steps


def long_row(slots: int, on: Machine, progress: Progress) -> LongRow:
    """Time of a row on a standing wave at 5.8 GHz on the draft mesh."""
    record = designed(Requirements(5.8e9, standard_guide("WR-159"), slots=slots)).record
    what = plan(antenna_scene(record), SolverSettings(QUALITIES["draft"], longest=PERIODS), on)
    with tempfile.TemporaryDirectory() as folder:
        end = run_child(Path(folder), what, progress, PATIENCE_S, not_before=what.request.steps)
    progress.done()
    return LongRow(slots, what.cells, end.steps, end.seconds)


def markdown_text(rows: list[LongRow]) -> str:
    """A table; times of a slot and step over that of the shortest row."""
    lines = [
        "| slots | million cells | steps | s | per slot and step, over the first |",
        "| --- | --- | --- | --- | --- |",
    ]
    lines += [
        f"| {r.slots} | {r.cells / 1e6:.2f} | {r.steps} | {r.seconds:.0f} | {r.share / rows[0].share:.2f} |"
        for r in rows
    ]
    spread = max(r.share for r in rows) / min(r.share for r in rows)
    return "\n".join(lines) + f"\n\nLargest over smallest: {spread:.2f}\n"
