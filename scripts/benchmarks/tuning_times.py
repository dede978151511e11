"""Tuning the height of a probe against a brute-force scan over it: wall seconds, and what either finds."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simharness.em.signals.match import worst_match
from simharness.numerics.decibels import decibels
from simharness.progress import Progress
from simharness.records import Record
from simharness.runs.execution import solve
from simharness.runs.planning import record_plan
from simharness.runs.store import Store
from simharness.tuning.search import tune

SCANNED = np.linspace(0.85, 1.15, 9)
"""Heights of the scan as shares of the tuned one: what a careful user tries who knows the best within 15 %.
"""


@dataclass(frozen=True)
class TuningTime:
    """Both ways to a matched probe.

    Attributes
    ----------
    record, quality : str
    runs, scan_runs : int
        Full-wave runs.
    seconds, scan_seconds : float
        Wall clock, that of the surrogate included.
    worst_db, scan_db : float
        Worst S11 in the band of the best antenna found, dB.
    """

    record: str
    quality: str
    runs: int
    scan_runs: int
    seconds: float
    scan_seconds: float
    worst_db: float
    scan_db: float

    @property
    def ratio(self) -> float:
        """How many times longer the scan takes."""
        return self.scan_seconds / self.seconds


def tuning_time(record: Record, quality: str, store: Store, progress: Progress) -> TuningTime:
    """Tune a record, scan it, and compare; runs that are stored keep their time, the surrogate is timed
    anew.

    Raises
    ------
    SolverError, NotConvergedError, CancelledError, BusyError, StoreError, MachineError
        As `run.solve`; the runs finished before stay in the store.
    """
    found = tune(record, store, quality, progress=progress)
    begun = time.perf_counter()
    tune(record, store, quality)
    model = time.perf_counter() - begun
    seconds = sum(_seconds(store.open(run.name)) for run in found.runs)
    scanned = []
    for height in found.best.values[0] * SCANNED:
        probe = record.feed.model_copy(update={"height_mm": round(float(height), 3)})
        one = record.model_copy(update={"feed": probe})
        scanned.append(solve(record_plan(one, quality), store, one, progress=progress))
    low, high = 1e9 * record.band.low_ghz, 1e9 * record.band.high_ghz
    return TuningTime(
        record.name,
        quality,
        len(found.runs),
        len(scanned),
        seconds + model,
        sum(map(_seconds, scanned)),
        found.best.worst_db,
        min(_worst_db(run.results(), low, high) for run in scanned),
    )


def _seconds(run) -> float:
    """Wall clock of a stored run."""
    return float(run.results().attributes["total_seconds"])


def _worst_db(results, low: float, high: float) -> float:
    """Worst S11 between two frequencies (Hz), dB."""
    return decibels(worst_match(results["frequency"], results["s11"], low, high)[1])


def markdown_text(found: Sequence[TuningTime]) -> str:
    """A table."""
    lines = [
        (
            "| tuning a probe, worst S11 in the band | runs | seconds | found | scan: runs | seconds | found"
            " | scan over tuning |"
        ),
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    lines += [
        f"| {t.record}, {t.quality} | {t.runs} | {t.seconds:.0f} | {t.worst_db:.1f} dB | {t.scan_runs} |"
        f" {t.scan_seconds:.0f} | {t.scan_db:.1f} dB | {t.ratio:.1f} times |"
        for t in found
    ]
    return "\n".join(lines) + "\n"
