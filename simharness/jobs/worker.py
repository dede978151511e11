"""The process that does the jobs of a queue, one after the other: started by whoever adds one, ended when
nothing has been waiting for a while.

    python -m simharness.jobs.worker RUNS

One for each folder of runs, by a lock that ends with it. It outlives who started it. SIGTERM ends the work
under way in order.
"""

from __future__ import annotations

import shutil
import signal
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from types import FrameType

from simharness.errors import BusyError, CancelledError, HarnessError, MachineError
from simharness.files import atomic_write_text, input_text, machine_errors
from simharness.jobs.entry import GONE, NEW
from simharness.jobs.folder import (
    CANCEL,
    RECORD,
    RESULT,
    STATUS,
    WORKER_LOCK,
    job_folder,
    job_numbers,
    jobs_root,
    json_text,
    mapping,
    read_job,
)
from simharness.jobs.job import CANCELLED, CUT_SHORT, FAILED, FINISHED, LOST, RUNNING, WAITING, Job
from simharness.jobs.queue import read_text
from simharness.jobs.telling import Teller
from simharness.jobs.works import WORKS, Outcome, Task
from simharness.printable import printable
from simharness.records.reading import MAX_BYTES
from simharness.runs.lock import FileLock
from simharness.runs.manifest import utc_now

IDLE_S = 5.0
"""How long the worker waits for another job."""

LOOK_S = 0.2
STALE_S = 3600.0
"""What somebody began to add, or to remove, so long ago will not be finished any more."""


class Worker:
    """Does the jobs beside some runs.

    Parameters
    ----------
    runs : Path
        Folder of the runs.
    idle_s : float, optional
        How long it waits for another job, s; `IDLE_S` without it.
    """

    def __init__(self, runs: Path, idle_s: float | None = None):
        self.runs, self.idle_s = runs.absolute(), IDLE_S if idle_s is None else idle_s
        self.ending = False

    def end(self, number: int, frame: FrameType | None) -> None:
        """Take a signal: the work under way is ended in order, and no other begun."""
        self.ending = True

    def work(self) -> None:
        """Do all jobs, and wait a while for others; nothing happens where another process does them."""
        lock = FileLock(jobs_root(self.runs) / WORKER_LOCK, f"the queue of {self.runs}")
        while True:
            try:
                with machine_errors(f"work in {lock.path.parent}"):
                    lock.acquire()
            except (BusyError, FileNotFoundError):
                return
            try:
                self._mark_lost()
                self._clear()
                self._serve()
            finally:
                lock.release()
            # Whoever added a job while the lock was still held took this process to be at work.
            if self.ending or self._next() is None:
                return

    def _serve(self) -> None:
        idle_since = time.monotonic()
        while not self.ending and time.monotonic() - idle_since < self.idle_s:
            job = self._next()
            if job is None:
                time.sleep(LOOK_S)
                continue
            self._do(job)
            idle_since = time.monotonic()

    def _next(self) -> Job | None:
        """The first job that waits."""
        for number in job_numbers(self.runs):
            job = read_job(self.runs, number)
            if job is not None and job.state == WAITING:
                return job
        return None

    def _do(self, job: Job) -> None:
        """Do a job, and write down how it ended."""
        try:
            teller = Teller(job.folder)
        except FileNotFoundError:
            return  # it was forgotten
        state, text, code = self._outcome(job, teller)
        teller.done()
        teller.end(state, text, code)

    def _outcome(self, job: Job, teller: Teller) -> tuple[str, str, int]:
        """State, sentence and exit code of a job that was done."""

        def asked_to_stop() -> bool:
            return self.ending or (job.folder / CANCEL).exists()

        try:
            if asked_to_stop():
                raise CancelledError("cancelled before it had begun")
            found = self._done(job, teller, asked_to_stop)
            atomic_write_text(job.folder / RESULT, json_text(found.as_dict()))
        except CancelledError as error:
            return (LOST, CUT_SHORT, 1) if self.ending else (CANCELLED, str(error), error.exit_code)
        except HarnessError as error:
            return FAILED, str(error), error.exit_code
        except Exception as error:
            print(f"{utc_now()} job {job.number}", file=sys.stderr)
            traceback.print_exc()
            what = printable(f"{type(error).__name__}: {error}", keep="")
            return FAILED, f"the program itself failed ({what}); worker.log has more", 1
        return FINISHED, found.conclusion, 0

    def _done(self, job: Job, teller: Teller, asked_to_stop: Callable[[], bool]) -> Outcome:
        source = job.folder / RECORD
        record = read_text(input_text("record", source, MAX_BYTES, "TOML file"), job.source)
        return WORKS[job.kind](
            Task(record, source, job.source, job.options, self.runs, teller, asked_to_stop)
        )

    def _mark_lost(self) -> None:
        """Write down what a worker before left that was killed while it did a job."""
        for number in job_numbers(self.runs):
            job = read_job(self.runs, number)
            if job is not None and job.state == RUNNING:
                path = job_folder(self.runs, number) / STATUS
                told = mapping(path)
                told |= {"state": LOST, "text": CUT_SHORT, "seconds_left": None, "exit_code": 1}
                atomic_write_text(path, json_text(told))

    def _clear(self) -> None:
        """Remove what was half added or half removed by processes that were killed."""
        for pattern in (f"{NEW}*", f"{GONE}*"):
            for path in jobs_root(self.runs).glob(pattern):
                if not path.is_symlink() and time.time() - path.stat().st_mtime > STALE_S:
                    shutil.rmtree(path, ignore_errors=True)


def main() -> None:
    """Do the jobs beside the runs whose folder is the first argument."""
    worker = Worker(Path(sys.argv[1]))
    signal.signal(signal.SIGTERM, worker.end)
    signal.signal(signal.SIGINT, worker.end)
    try:
        worker.work()
    except MachineError as error:
        # What was under way is lost, as anybody sees who looks; the rest waits until somebody goes on.
        sys.exit(f"{utc_now()} {error}")


if __name__ == "__main__":
    main()
