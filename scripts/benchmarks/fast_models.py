"""Estimate and design on one core: processor seconds, and against one exact solution for each frequency."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from simharness.design.proposal import designed
from simharness.design.requirements import Requirements
from simharness.design.stock import standard_guide
from simharness.em.slot.moment import SlotMoment
from simharness.estimate import model_inputs
from simharness.estimate.antenna import estimate, estimate_span
from simharness.records import Record

POINTS = 401
PLAIN = 12
"""Frequencies solved plainly, each for itself; the time of `POINTS` follows from them."""


@dataclass(frozen=True)
class Timing:
    """What was timed, processor seconds, and how many times longer the plain way takes (None: there is
    none).
    """

    what: str
    seconds: float
    ratio: float | None = None


def seconds(work: Callable[[], object], repeats: int = 3) -> float:
    """Least processor time of some repeats, s: the first pays for imports."""
    spent = []
    for _ in range(repeats):
        begun = time.process_time()
        work()
        spent.append(time.process_time() - begun)
    return min(spent)


def estimate_timing(record: Record) -> Timing:
    """The whole estimate, both cuts and all figures, against the slots alone solved at every frequency."""
    frequency = np.linspace(*estimate_span(record), PLAIN)
    model = SlotMoment(model_inputs.slotted_guide(record))
    plain = seconds(lambda: [model.solve(f[None]) for f in frequency], 2) / PLAIN * POINTS
    ours = seconds(lambda: estimate(record, POINTS))
    return Timing(f"estimate of {record.name}, {POINTS} frequencies", ours, plain / ours)


def design_timing(slots: int) -> Timing:
    """A whole design at 5.8 GHz."""
    requirements = Requirements(5.8e9, standard_guide("WR-159"), slots=slots, taper="dolph")
    return Timing(
        f"design of {slots} slots at 5.8 GHz, Dolph -20 dB", seconds(lambda: designed(requirements), 2)
    )


def timings(records: list[Record]) -> list[Timing]:
    """All of them; numerical libraries must have been held to one thread."""
    return [*map(estimate_timing, records), *map(design_timing, (8, 12))]


def markdown_text(found: list[Timing]) -> str:
    """A table."""
    lines = [
        "| on one core | processor seconds | plain solution per frequency takes |",
        "| --- | --- | --- |",
    ]
    lines += [
        f"| {t.what} | {t.seconds:.2f} | {'' if t.ratio is None else f'{t.ratio:.0f} times as long'} |"
        for t in found
    ]
    return "\n".join(lines) + "\n"
