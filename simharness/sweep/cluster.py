"""The runs of a sweep on the workers of an existing Dask scheduler.

The workers need this package, the same solver, and the runs folder under the same path. A marker file
in that folder exists as long as the sweep goes on: a worker that does not see it is on a machine that
does not share the folder, and one that sees it vanish abandons its run.
"""

from __future__ import annotations

import contextlib
import time
import uuid
from collections.abc import Callable, Generator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from simharness.errors import CancelledError, MachineError
from simharness.files import machine_errors
from simharness.runs.leftovers import SWEEP
from simharness.runs.lock import FileLock
from simharness.solver.machine import machine
from simharness.sweep.task import CANCELLED, FAILED, LOST, REFUSED, Event, Note, PointOutcome, Task, solved

if TYPE_CHECKING:
    from distributed import Client, Future

CONNECT_S = 10.0
"""Time limit for connecting to the scheduler, s."""

LOOK_S = 1.0
"""Pause between two polls of workers and results, s."""

NO_WORKERS_S = 30.0
"""Time without any worker after which the user is notified, s."""

Work = Callable[[Task, str], PointOutcome]


def mark_path(root: Path, mark: str) -> Path:
    """The marker file that exists while the sweep goes on."""
    return root / f"{SWEEP}{mark}"


class Marked:
    """Progress that reports nothing, and cancels the run when the marker file of the sweep is gone."""

    def __init__(self, mark: Path):
        self._mark = mark

    @property
    def gone(self) -> bool:
        """Whether the sweep has been abandoned."""
        return not self._mark.exists()

    def note(self, text: str) -> None: ...

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        if self.gone:
            raise CancelledError("the sweep was interrupted")

    def done(self) -> None: ...


def work(task: Task, mark: str) -> PointOutcome:
    """Make the run of a task in a Dask worker."""
    progress = Marked(mark_path(task.root, mark))
    if progress.gone:
        return PointOutcome(
            task.key,
            REFUSED,
            f"a Dask worker does not see the folder {task.root}: it must be shared, under the same path",
        )
    try:
        here = machine().solver
    except MachineError as error:
        return PointOutcome(task.key, REFUSED, f"on a Dask worker {error}")
    if here != task.plan.solver:
        return PointOutcome(
            task.key,
            REFUSED,
            f"a Dask worker has {here}, not {task.plan.solver}: results of two solvers must not mix",
        )
    return solved(task, progress, lambda: progress.gone)


def cluster_events(tasks: Sequence[Task], address: str, what: Work = work) -> Generator[Event, None, None]:
    """Make the runs on the workers of a scheduler and report their events; each task ends with its outcome.

    Closing the generator cancels the waiting runs; those under way end at the next output of their solver.

    Parameters
    ----------
    address : str
        Of the scheduler, as in "tcp://host:8786".
    what : callable
        What a worker does with a task and the marker of the sweep.

    Raises
    ------
    MachineError
        Dask is not installed, or no scheduler answers, or it stops answering.
    """
    with contextlib.closing(_client(address)) as client:
        mark = uuid.uuid4().hex
        root = tasks[0].root
        with machine_errors(f"write in {root}"):
            root.mkdir(parents=True, exist_ok=True)
            standing = FileLock(mark_path(root, mark), "a sweep")
            standing.acquire()
        dispatcher = _Dispatcher(client, tasks, mark, what)
        try:
            yield from dispatcher.events()
        except OSError as error:
            raise MachineError(
                f"the Dask scheduler at {address} is gone: what was solved so far is stored"
            ) from error
        finally:
            standing.release()
            with contextlib.suppress(OSError):
                client.cancel(list(dispatcher.under_way), force=True)


def _client(address: str) -> Client:
    try:
        from distributed import Client
    except ImportError:
        raise MachineError(
            "Dask is not installed: for --cluster, pip install 'simharness[cluster]' here and on the workers"
        ) from None
    try:
        return Client(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise MachineError(f"no Dask scheduler answers at {address} ({str(error).splitlines()[0]})") from None


class _Dispatcher:
    """Submits tasks to the workers, one for each of their threads, and follows them.

    Tasks are not submitted all at once: Dask would queue runs at one worker while a later one is idle.
    """

    def __init__(self, client: Client, tasks: Sequence[Task], mark: str, what: Work):
        self._client, self._mark, self._what = client, mark, what
        self._waiting = list(tasks)
        self._known: dict[str, int] = {}
        self._alone_since = time.monotonic()
        self.under_way: dict[Future, Task] = {}

    def events(self) -> Generator[Event, None, None]:
        """Outcomes as they arrive, and workers that join or leave."""
        while self._waiting or self.under_way:
            yield from self._worker_notes()
            while self._waiting and len(self.under_way) < sum(self._known.values()):
                self._submit(self._waiting.pop(0))
            for future in [future for future in self.under_way if future.done()]:
                yield _outcome(future, self.under_way.pop(future))
            if self.under_way or not self._known:
                time.sleep(LOOK_S)

    def _submit(self, task: Task) -> None:
        # A key of their own keeps the runs of two sweeps apart on one scheduler.
        future = self._client.submit(
            self._what, task, self._mark, key=f"sweep-{self._mark}-{task.key}", pure=False, retries=0
        )
        self.under_way[future] = task

    def _worker_notes(self) -> Generator[Event, None, None]:
        """Workers that joined or left since the last poll."""
        now = self._client.nthreads()
        yield from (
            Note(f"the Dask worker {name} is lost: its run is made again by another")
            for name in self._known.keys() - now.keys()
        )
        if now and now.keys() != self._known.keys():
            yield Note(f"Dask workers: {len(now)}, runs at once: {sum(now.values())}")
        if now:
            self._alone_since = time.monotonic()
        elif time.monotonic() - self._alone_since > NO_WORKERS_S:
            yield Note("the Dask scheduler has no workers: start some, or interrupt")
            self._alone_since = time.monotonic()
        self._known = dict(now)


def _outcome(future: Future, task: Task) -> PointOutcome:
    """Outcome of a finished future; the death of a worker is distinguished from a failed run."""
    from distributed import KilledWorker

    if future.status == "finished":
        return future.result()
    if future.status == "cancelled":
        return PointOutcome(task.key, CANCELLED, "cancelled on the scheduler")
    error = future.exception()
    if isinstance(error, KilledWorker):
        return PointOutcome(task.key, LOST, "the Dask workers that had it were killed, again and again")
    return PointOutcome(task.key, FAILED, f"its Dask worker failed: {error!r}")
