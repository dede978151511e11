"""One record on refined meshes."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.library.values import Cancellable, ShortRepr, plain

if TYPE_CHECKING:
    from simharness.convergence.steps import Step
    from simharness.convergence.study import Study
    from simharness.progress import Progress
    from simharness.records import Record
    from simharness.runs.store import Store
    from simharness.solver.process import Cancel


@dataclass(frozen=True)
class ConvergencePlan:
    """The runs of a mesh study, from coarse to fine.

    Attributes
    ----------
    record : Record
    steps : tuple of simharness.convergence.steps.Step
    store : simharness.runs.store.Store
    """

    record: Record
    steps: tuple[Step, ...]
    store: Store

    @property
    def seconds(self) -> float:
        """Time that the runs which are not stored yet will usually take, s."""
        from simharness.convergence.steps import remaining_seconds

        return remaining_seconds(self.steps, self.store)

    @property
    def stored(self) -> int:
        """How many of the runs are stored."""
        return sum(self.store.find(step.plan.key) is not None for step in self.steps)

    def measured(self, progress: Progress | None = None) -> ConvergencePlan:
        """The plan with the speed of this machine as measured, where there is something left to solve."""
        from simharness.progress import Silent
        from simharness.solver.speed import measured_machine

        if not self.seconds:
            return self
        on = measured_machine(self.steps[0].plan.machine, progress or Silent())
        return replace(
            self, steps=tuple(replace(step, plan=replace(step.plan, machine=on)) for step in self.steps)
        )

    def as_dict(self) -> dict[str, Any]:
        """In types that JSON knows."""
        return plain(
            {
                "seconds": self.seconds,
                "runs": [
                    {
                        "label": step.label,
                        "key": step.plan.key,
                        "cells": step.plan.cells,
                        "typical_seconds": step.plan.typical_seconds,
                        "stored": self.store.find(step.plan.key) is not None,
                    }
                    for step in self.steps
                ],
            }
        )


@dataclass(frozen=True, repr=False)
class Convergence(ShortRepr):
    """What the figures of a record converge to.

    Attributes
    ----------
    record : Record
    study : simharness.convergence.study.Study
        Each figure on each mesh, its order, and its limit with an error bar.
    """

    record: Record
    study: Study

    def as_dict(self) -> dict[str, Any]:
        """The study in types that JSON knows."""
        return plain(asdict(self.study))

    def write(self, folder: Path | str) -> list[Path]:
        """Write the table as JSON and the picture as PNG; MachineError where the folder cannot be written."""
        from simharness.convergence.picture import convergence_figure
        from simharness.files import atomic_write_text, machine_errors
        from simharness.plot import write_figure

        folder = Path(folder)
        with machine_errors(f"make the folder {folder}"):
            folder.mkdir(parents=True, exist_ok=True)
        table = folder / "convergence.json"
        atomic_write_text(table, json.dumps(self.as_dict(), indent=2) + "\n")
        picture = write_figure(folder / "convergence.png", convergence_figure, self.study, self.record)
        return [table, picture]


def convergence_plan(
    record: Record, levels: int = 3, *, spreads: bool = False, runs: Path | str = "runs"
) -> ConvergencePlan:
    """The runs of `converge` and their cost; parameters and errors are those of `converge`."""
    from simharness.convergence.steps import study_steps
    from simharness.runs.store import Store

    return ConvergencePlan(record, study_steps(record, levels, spreads), Store(runs))


def converge(
    record: Record | ConvergencePlan,
    levels: int = 3,
    *,
    spreads: bool = False,
    runs: Path | str = "runs",
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> Convergence:
    """Solve a record on finer and finer meshes: what its figures converge to, and how surely.

    Every run is stored, and a stored one is not made again: after an interruption the same call goes on where
    it stopped.

    Parameters
    ----------
    record : Record or ConvergencePlan
        With a plan from `simharness.library.convergence_plan` the next three arguments are those of the plan.
    levels : int
        Meshes, 3 or 4: 2, 3, 4 (and 6) cells across a slot. The fourth takes longer than the others together.
    spreads : bool
        Whether air margin, absorber, length of the record and model of the feed are varied too, on the
        coarsest mesh.
    runs : Path or str
        Folder of the stored runs.
    progress : Progress, optional
    cancel : threading.Event or callable, optional
        Asked whenever there is progress to tell: an event that is set, or a function that returns true, ends
        the study.

    Returns
    -------
    Convergence

    Raises
    ------
    InputError
        Another number of levels.
    SolverError, NotConvergedError, CancelledError, BusyError, StoreError, MachineError
        As `solve`; the runs made before stay stored.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> found = simharness.converge(record)  # doctest: +SKIP
    >>> {row.label: row.convergence for row in found.study.figures}  # doctest: +SKIP
    """
    from simharness.convergence.study import converge as studied

    if not isinstance(record, ConvergencePlan):
        record = convergence_plan(record, levels, spreads=spreads, runs=runs).measured(progress)
    job = record
    found = studied(job.record, job.store, steps=job.steps, progress=Cancellable(progress, cancel))
    return Convergence(job.record, found)
