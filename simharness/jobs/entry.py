"""A new job in its folder, and the process that will do it."""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from simharness.errors import BusyError, MachineError
from simharness.files import UnreadableError, atomic_write_text, content, machine_errors, sync_folder, unled
from simharness.jobs.folder import RECORD, REQUEST, WORKER_LOG, job_folder, job_numbers, jobs_root
from simharness.runs.lock import FileLock

PROGRAM: tuple[str, ...] = (sys.executable, "-P", "-m", "simharness.jobs.worker")
"""Command line of the process that does the jobs; the folder of the runs is appended. Nothing is imported
from where it is started."""

PATIENCE_S = 10.0
"""How long another one who adds a job is waited for: it takes a hundredth of a second."""

MAX_LOG_BYTES = 1_000_000
NEW, GONE = ".new-", ".gone-"
"""Before the names of folders that are being added or removed."""

_ADDING, _LAST = ".adding", ".last"


def entered(runs: Path, request: str, record_text: str) -> int:
    """Number of a new job, which was not there before all of it was.

    Raises
    ------
    MachineError
        The folder cannot be written; nothing was added then.
    BusyError
        Somebody else has been adding one for long.
    """
    root = jobs_root(runs)
    fresh = root / f"{NEW}{os.getpid()}-{secrets.token_hex(4)}"
    with machine_errors(f"write {root}"):
        fresh.mkdir(parents=True)
        try:
            atomic_write_text(fresh / RECORD, record_text)
            atomic_write_text(fresh / REQUEST, request)
            with _one_at_a_time(root):
                number = max([_last(root), *job_numbers(runs)]) + 1
                atomic_write_text(root / _LAST, f"{number}\n")
                os.rename(fresh, job_folder(runs, number))
                sync_folder(root)
        except BaseException:
            shutil.rmtree(fresh, ignore_errors=True)
            raise
    return number


def start_worker(runs: Path) -> None:
    """Start the process that does the jobs beside some runs; a second one ends at once.

    Raises
    ------
    MachineError
        It cannot be started, or its log cannot be written.
    """
    log = jobs_root(runs) / WORKER_LOG
    with machine_errors(f"write {log}"):
        mode = "wb" if log.exists() and log.stat().st_size > MAX_LOG_BYTES else "ab"
        with open(log, mode, opener=unled) as stream:
            _start([*PROGRAM, str(runs)], stream)


@contextlib.contextmanager
def _one_at_a_time(root: Path) -> Iterator[None]:
    """Only one process numbers jobs at a time."""
    lock, patience = FileLock(root / _ADDING, f"the queue in {root}"), time.monotonic() + PATIENCE_S
    while not lock.held:
        try:
            lock.acquire()
        except BusyError:
            if time.monotonic() > patience:
                raise
    try:
        yield
    finally:
        lock.release()


def _last(root: Path) -> int:
    """The last number that was given; 0 where nobody knows."""
    try:
        text = content(root / _LAST, 100).decode("ascii", "replace").strip()
    except UnreadableError:
        return 0
    return int(text) if re.fullmatch(r"[0-9]{1,8}", text) else 0


def _start(argv: list[str], log: IO[bytes]) -> None:
    """Start a process that does not end with this one."""
    # The solver has the cores; small matrices do not gain from more threads.
    threads = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    try:
        process = subprocess.Popen(
            argv,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            env=threads | dict(os.environ),
            start_new_session=True,
        )
    except OSError as error:
        raise MachineError(f"cannot start {argv[0]}: {error.strerror}") from error
    # Whoever is waited for leaves nothing behind in the table of processes.
    threading.Thread(target=process.wait, daemon=True).start()
