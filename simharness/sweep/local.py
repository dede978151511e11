"""The runs of a sweep in processes on this machine, one process for each run.

A separate process takes a second to start; in return, one that is killed costs no more than its run.
"""

from __future__ import annotations

import contextlib
import json
import pickle
import queue
import sys
import tempfile
import threading
from collections.abc import Generator, Sequence
from pathlib import Path

from simharness.errors import HarnessError
from simharness.files import atomic_write_bytes
from simharness.printable import printable
from simharness.solver.process import ProcessOutcome, supervise
from simharness.sweep.table import STORED
from simharness.sweep.task import CANCELLED, FAILED, LOST, REFUSED, Event, Note, PointOutcome, Share, Task

PROGRAM = (sys.executable, "-m", "simharness.sweep.worker")
"""Command line of a worker; the path of its task file is appended."""

TRIES = 2
"""Attempts at a run whose worker is killed."""

GRACE_S = 12.0
"""Time for a worker to end, s: it first stops its solver, which is given five seconds."""

LONGEST = 300
"""Characters of the last output line of a crashed worker that are shown."""

_SENT = {STORED, FAILED, CANCELLED, REFUSED}


def local_events(tasks: Sequence[Task], workers: int) -> Generator[Event, None, None]:
    """Make the runs, several at a time, and report their events; each task ends with its outcome.

    Closing the generator stops all workers and their solvers, and waits until they are gone.
    """
    waiting: queue.SimpleQueue[Task] = queue.SimpleQueue()
    events: queue.SimpleQueue[Event | None] = queue.SimpleQueue()
    for task in tasks:
        waiting.put(task)
    cancel = threading.Event()
    with tempfile.TemporaryDirectory(prefix="simharness-sweep-") as scratch:
        threads = [
            threading.Thread(target=_serve, args=(waiting, events, cancel, Path(scratch)))
            for _ in range(min(workers, len(tasks)))
        ]
        for thread in threads:
            thread.start()
        try:
            for _ in threads:
                while (event := events.get()) is not None:
                    yield event
        finally:
            cancel.set()
            for thread in threads:
                thread.join()


def _serve(
    waiting: queue.SimpleQueue, events: queue.SimpleQueue, cancel: threading.Event, scratch: Path
) -> None:
    """Make waiting tasks one after the other until none is left; None is put at the end."""
    try:
        while not cancel.is_set():
            task = waiting.get_nowait()
            events.put(_made(task, events, cancel, scratch))
    except queue.Empty:
        pass
    finally:
        events.put(None)


def _made(task: Task, events: queue.SimpleQueue, cancel: threading.Event, scratch: Path) -> PointOutcome:
    """The outcome of a task by a worker, or by another one if the first is killed."""
    for attempt in range(1, TRIES + 1):
        try:
            end, said = _worked(task, events, cancel, scratch)
        except HarnessError as error:
            return PointOutcome(task.key, REFUSED, str(error))
        if end.status == "cancelled":
            return PointOutcome(task.key, CANCELLED, "interrupted")
        if said is not None:
            return said
        if end.signal is None:
            last = end.last_lines[-1] if end.last_lines else "no output"
            return PointOutcome(
                task.key,
                FAILED,
                f"its worker crashed with code {end.returncode}: {printable(last.strip()[:LONGEST])}",
            )
        again = "it is made again" if attempt < TRIES else "it is given up"
        events.put(Note(f"the worker on {task.label} was killed ({end.signal}): {again}"))
        events.put(Share(task.key, 0.0))
    return PointOutcome(task.key, LOST, f"its worker was killed {TRIES} times ({end.signal})")


def _worked(
    task: Task, events: queue.SimpleQueue, cancel: threading.Event, scratch: Path
) -> tuple[ProcessOutcome, PointOutcome | None]:
    """One worker followed to its end, and the outcome that it reported, if any."""
    reported: list[PointOutcome] = []

    def read_line(line: str) -> None:
        # Any other output of the worker stays in its transcript.
        with contextlib.suppress(ValueError, KeyError, TypeError, AttributeError):
            said = json.loads(line)
            if said.get("status") in _SENT:
                reported.append(PointOutcome(task.key, said["status"], said["reason"]))
            else:
                events.put(Share(task.key, float(said["share"])))

    file = scratch / f"{task.key}.pickle"
    atomic_write_bytes(file, pickle.dumps(task))
    end = supervise(
        [*PROGRAM, file],
        scratch,
        scratch / f"{task.key}.txt",
        on_line=read_line,
        cancel=cancel,
        grace_s=GRACE_S,
    )
    return end, reported[-1] if reported else None
