"""A sweep from its points to its table: planned as a whole, run by workers, read from the store."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from simharness.errors import CancelledError, InputError, MachineError
from simharness.fingerprint import request_key
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.runs.planning import Plan, record_plan
from simharness.runs.store import Store
from simharness.solver.machine import Machine, machine
from simharness.sweep.points import SweepPoint, Variable, point_text, sweep_points
from simharness.sweep.table import Sweep, SweepRow, stored_row
from simharness.sweep.task import REFUSED, Event, Note, PointOutcome, Share, Task

SURE_SHARE = 0.03
"""Share of the work that must be done before the time left follows from the time spent."""

Workers = Callable[[Sequence[Task]], Generator[Event, None, None]]
"""Makes the runs of tasks and reports their events: `local_events` or `cluster_events` as a partial."""


@dataclass(frozen=True)
class SweepPlan:
    """A sweep before it is run: points, and their plans in the same order. Points may share a run."""

    record: Record
    quality: str
    variables: tuple[Variable, ...]
    points: tuple[SweepPoint, ...]
    plans: tuple[Plan, ...]

    @property
    def name(self) -> str:
        """Name of the folder of its table: the record, the fields, and a hash of both with the values."""
        seen = [
            self.quality,
            self.record.model_dump(by_alias=True, exclude_none=True),
            [[variable.field, list(variable.values)] for variable in self.variables],
        ]
        fields = "-".join(variable.field for variable in self.variables[:2])
        return f"sweep-{self.record.name}-{fields}-{request_key(seen)[:8]}"

    @property
    def runs(self) -> dict[str, int]:
        """Keys of the distinct runs, with the index of the first point of each."""
        found: dict[str, int] = {}
        for i, plan in enumerate(self.plans):
            found.setdefault(plan.key, i)
        return found

    def missing(self, store: Store) -> dict[str, int]:
        """Those of `runs` that are not stored."""
        return {key: i for key, i in self.runs.items() if store.find(key) is None}

    def seconds(self, missing: dict[str, int], workers: int, threads: int) -> float:
        """Wall-clock time of the runs yet to be made, s, if the solver scales with the number of cores."""
        plans = [self.plans[i] for i in missing.values()]
        used = min(workers, max(len(plans), 1)) * threads
        return sum(plan.typical_seconds * max(plan.threads / used, 1.0) for plan in plans)


def sweep_plan(
    record: Record, variables: Sequence[Variable], quality: str = "normal", on: Machine | None = None
) -> SweepPlan:
    """All points of a sweep with their runs, checked before any of them is made.

    Raises
    ------
    InputError
        See `sweep_points`; or a point that cannot be meshed, which is named.
    MachineError
        The solver is missing, or a mesh does not fit into memory.
    """
    points = sweep_points(record, variables)
    on = on or machine()
    plans = []
    for point in points:
        try:
            plans.append(record_plan(point.record, quality, on=on))
        except (InputError, MachineError) as error:
            error.args = (f"at {point_text(variables, point.values)}: {error}",)
            raise
    return SweepPlan(record, quality, tuple(variables), points, tuple(plans))


def tasks_of(plan: SweepPlan, missing: dict[str, int], root: Path, threads: int) -> tuple[Task, ...]:
    """The runs yet to be made, for workers with this number of solver threads each."""
    found = []
    for i in missing.values():
        what = plan.plans[i]
        what = replace(what, machine=replace(what.machine, threads=threads))
        point = plan.points[i]
        found.append(Task(what, point.record, root.resolve(), point_text(plan.variables, point.values)))
    return tuple(found)


def sweep(
    plan: SweepPlan, store: Store, workers: Workers, threads: int, progress: Progress | None = None
) -> Sweep:
    """Make the missing runs, and read the whole table from the store.

    Parameters
    ----------
    workers : callable
        Takes the tasks; see `Workers`.
    threads : int
        Solver threads of each worker.

    Raises
    ------
    CancelledError
        Interrupted; runs that were finished before remain stored.
    MachineError
        A worker found the machine unfit; all others were stopped.
    StoreError
        A stored run is damaged.
    """
    progress = progress or Silent()
    missing = plan.missing(store)
    outcomes: dict[str, PointOutcome] = {}
    if missing:
        tasks = tasks_of(plan, missing, store.root, threads)
        try:
            with closing(workers(tasks)) as events:
                outcomes = _followed(tasks, events, progress)
        except KeyboardInterrupt:
            raise CancelledError("interrupted") from None
        finally:
            progress.done()
            store.clear_stale()
    return Sweep(
        plan.record,
        plan.quality,
        plan.variables,
        tuple(
            _row(plan.quality, point, what.key, store, outcomes)
            for point, what in zip(plan.points, plan.plans)
        ),
    )


def _followed(
    tasks: Sequence[Task], events: Generator[Event, None, None], progress: Progress
) -> dict[str, PointOutcome]:
    """Outcomes of all tasks by run key; progress of the whole sweep is reported meanwhile."""
    weights = {task.key: task.plan.typical_seconds for task in tasks}
    labels = {task.key: task.label for task in tasks}
    forecast = sum(weights.values())
    shares: dict[str, float] = {}
    outcomes: dict[str, PointOutcome] = {}
    begun = time.monotonic()
    for event in events:
        if isinstance(event, Note):
            progress.note(event.text)
            continue
        if isinstance(event, PointOutcome):
            outcomes[event.key] = event
            shares[event.key] = 1.0
            if event.status == REFUSED:
                raise MachineError(event.reason)
            reason = f" ({event.reason})" if event.reason else ""
            progress.note(f"{len(outcomes)} of {len(tasks)}: {labels[event.key]}: {event.status}{reason}")
        elif isinstance(event, Share):
            shares[event.key] = event.share
        done = sum(weights[key] * share for key, share in shares.items()) / forecast
        spent = time.monotonic() - begun
        left = spent * (1 / done - 1) if done > SURE_SHARE else forecast
        progress.advance(done, left, f"{len(outcomes)} of {len(tasks)} runs")
    return outcomes


def _row(
    quality: str, point: SweepPoint, key: str, store: Store, outcomes: dict[str, PointOutcome]
) -> SweepRow:
    """The row of a point from the store, or with the reason why there is no run."""
    run = store.find(key)
    if run is not None:
        return stored_row(point, run.path.name, run.results(), quality)
    outcome = outcomes[key]
    return SweepRow(point.values, outcome.status, outcome.reason)
