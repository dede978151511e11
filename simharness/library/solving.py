"""A full-wave run: what it will cost, and the run itself."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.library.values import ShortRepr, plain

if TYPE_CHECKING:
    from simharness.library.solved_run import SolvedRun
    from simharness.progress import Progress
    from simharness.records import Record
    from simharness.runs.planning import Plan
    from simharness.solver.process import Cancel


@dataclass(frozen=True, repr=False)
class RunPlan(ShortRepr):
    """What a full-wave run would be, and what `solve` takes.

    Attributes
    ----------
    record : Record
    run : simharness.runs.planning.Plan
        Geometry, mesh, solver and machine.
    """

    record: Record
    run: Plan

    def __repr__(self) -> str:
        return (
            f"<RunPlan of {self.record.name}: {self.quality} mesh, {self.cells / 1e6:.2f} million cells, "
            f"about {self.typical_seconds:.0f} s>"
        )

    @property
    def quality(self) -> str:
        """How fine the mesh is: "draft", "normal" or "fine"."""
        return self.run.quality

    @property
    def key(self) -> str:
        """Hash of all that the solver sees; a stored run of the same key is not made again."""
        return self.run.key

    @property
    def cells(self) -> int:
        """Cells of the mesh."""
        return self.run.cells

    @property
    def memory(self) -> int:
        """Memory of the solver, bytes."""
        return self.run.memory

    @property
    def typical_seconds(self) -> float:
        """Time that it will usually take, s."""
        return self.run.typical_seconds

    @property
    def most_seconds(self) -> float:
        """Time that it takes if it makes all its steps, s."""
        return self.run.most_seconds

    @property
    def settles_slowly(self) -> bool:
        """Whether the antenna rings for long."""
        return self.run.slow

    def with_forecast(self) -> RunPlan:
        """The plan with the time by the ringing of the estimate, which takes a second or two to compute."""
        from simharness.runs.prediction import settling_periods

        return replace(self, run=replace(self.run, predicted=settling_periods(self.record, self.run.request)))

    def measured(self, progress: Progress | None = None) -> RunPlan:
        """The plan with the speed of this machine as measured, once for each machine and in some fifteen
        seconds.
        """
        from simharness.progress import Silent
        from simharness.solver.speed import measured_machine

        return replace(
            self, run=replace(self.run, machine=measured_machine(self.run.machine, progress or Silent()))
        )

    def as_dict(self) -> dict[str, Any]:
        """Cost of the run in types that JSON knows."""
        return plain(
            {
                "key": self.key,
                "cells": self.cells,
                "memory_bytes": self.memory,
                "typical_seconds": self.typical_seconds,
                "most_seconds": self.most_seconds,
                "settles_slowly": self.settles_slowly,
                "solver": self.run.solver,
                "threads": self.run.threads,
                "cells_per_second": self.run.cells_per_second,
                "measured": self.run.machine.measured or None,
            }
        )


def plan(record: Record, quality: str = "normal", *, feed: str = "coax") -> RunPlan:
    """Lay out the mesh of a full-wave run, and say what the run will cost.

    Parameters
    ----------
    record : Record
    quality : str
        How fine the mesh is: "draft" for a first look in a minute or so, "normal", or "fine". It goes with
        the plan into the run, and decides how long the error bars are.
    feed : str
        "coax": a true coax line; "gap": a lumped source at the foot of the probe, faster and less accurate.

    Returns
    -------
    RunPlan

    Raises
    ------
    InputError
        Another quality or feed, or a geometry that cannot be meshed.
    MachineError
        The solver is missing, or the mesh does not fit into memory.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> job = simharness.plan(record, "draft")  # doctest: +SKIP
    >>> job.quality, job.cells  # doctest: +SKIP
    ('draft', 224460)
    """
    from simharness.errors import InputError
    from simharness.runs.planning import record_plan

    if feed not in ("coax", "gap"):
        raise InputError("feed", feed, "must be coax or gap")
    return RunPlan(record, record_plan(record, quality, feed))


def solve(
    plan: RunPlan,
    *,
    runs: Path | str = "runs",
    again: bool = False,
    limit_minutes: float | None = None,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    will_draw: bool = False,
) -> SolvedRun:
    """Make the full-wave run of a plan, or open it where it is stored already.

    Parameters
    ----------
    plan : RunPlan
        From `plan`; record and quality are those of the plan.
    runs : Path or str
        Folder of the stored runs, made where it is not there.
    again : bool
        Solve even if the run is stored; the old one is replaced when the new one is complete.
    limit_minutes : float, optional
        Give up after so long; three times the longest expected time without it.
    progress : Progress, optional
        Any object with the methods of `simharness.progress.Progress`; nothing is told without it.
    cancel : threading.Event or callable, optional
        Asked ten times a second while the solver works: an event that is set, or a function that returns
        true, stops it.
    will_draw : bool
        Whether pictures will be drawn from the run: what they need is loaded while the solver works.

    Returns
    -------
    SolvedRun

    Raises
    ------
    CancelledError
        `cancel` said so, or Ctrl-C: nothing half done is kept.
    SolverError, NotConvergedError
        The run failed; it is kept as such, and never found as a result.
    BusyError
        Another process works on the same run.
    StoreError
        The stored run is damaged.
    MachineError
        The solver is missing, the disk full, a folder not writable.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> run = simharness.solve(simharness.plan(record, "draft"))  # doctest: +SKIP
    >>> run.verdict.state.value  # doctest: +SKIP
    'met'
    """
    from simharness.progress import Silent
    from simharness.runs.execution import solve as solved
    from simharness.runs.lookup import other_name
    from simharness.runs.store import Store

    if not isinstance(plan, RunPlan):
        raise TypeError(f"solve takes a plan, not {type(plan).__name__}: solve(plan(record, quality))")
    record, store, progress = plan.record, Store(runs), progress or Silent()
    if again or store.find(plan.key) is None:
        plan = plan.measured(progress)

    @cache
    def guess():
        from simharness.estimate.antenna import estimate

        return estimate(record)

    def meanwhile() -> float:
        from simharness.runs.prediction import settling_periods

        guess()
        if will_draw:
            from simharness.plot.album import warm_up

            warm_up(record)
        return settling_periods(record, plan.run.request)

    found = solved(
        plan.run,
        store,
        record,
        again=again,
        timeout_s=60 * limit_minutes if limit_minutes else None,
        progress=progress,
        meanwhile=meanwhile,
        named=True,
        cancel=cancel,
    )
    from simharness.library.solved_run import (
        SolvedRun,
    )  # not before the solver has run: it loads what takes a while

    return SolvedRun(found, record, remarks=other_name(found, record), guess=guess, progress=progress)
