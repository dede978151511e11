"""One run of a sweep as it is given to a worker, and what the worker returns."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from simharness.errors import BusyError, CancelledError, HarnessError, MachineError
from simharness.progress import Progress
from simharness.records import Record
from simharness.runs.execution import solve
from simharness.runs.planning import Plan
from simharness.runs.store import Store
from simharness.sweep.table import STORED

FAILED, LOST, CANCELLED, REFUSED = "failed", "lost", "cancelled", "refused"
"""The run itself failed; its worker was killed; it was interrupted; the machine must be repaired first."""

_AGAIN_S = 2.0
"""Pause before a run that another process is making is looked up again, s."""


@dataclass(frozen=True)
class Task:
    """A run to be made. `root`: the runs folder, absolute; `label`: the point, for the user."""

    plan: Plan
    record: Record
    root: Path
    label: str

    @property
    def key(self) -> str:
        """Key of the run."""
        return self.plan.key


@dataclass(frozen=True)
class PointOutcome:
    """How a task ended: `status` is "stored", or one of the above with the `reason`."""

    key: str
    status: str
    reason: str = ""


@dataclass(frozen=True)
class Share:
    """Share of a task that is done, 0 to 1."""

    key: str
    share: float


@dataclass(frozen=True)
class Note:
    """A line for the user."""

    text: str


Event = PointOutcome | Share | Note
"""What the workers report while a sweep goes on; the last event of a task is its outcome."""


def solved(task: Task, progress: Progress, cancelled: Callable[[], bool] = lambda: False) -> PointOutcome:
    """Make the run of a task in this process, or wait for another process that is making the same run.

    Parameters
    ----------
    progress : Progress
        An exception that it raises ends the run.
    cancelled : callable
        Called while another process is waited for.
    """
    patience = time.monotonic() + max(600.0, 3 * task.plan.most_seconds)
    while True:
        try:
            solve(task.plan, Store(task.root), task.record, progress=progress)
            return PointOutcome(task.key, STORED)
        except BusyError as error:
            if cancelled():
                return PointOutcome(task.key, CANCELLED, "interrupted")
            if time.monotonic() > patience:
                return PointOutcome(task.key, FAILED, str(error))
            time.sleep(_AGAIN_S)
        except (CancelledError, KeyboardInterrupt):
            return PointOutcome(task.key, CANCELLED, "interrupted")
        except MachineError as error:
            return PointOutcome(task.key, REFUSED, str(error))
        except HarnessError as error:
            return PointOutcome(task.key, FAILED, str(error))
