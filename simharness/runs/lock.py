"""A lock between processes, held by the operating system and so freed when its holder dies."""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import time
from pathlib import Path

from simharness.errors import BusyError
from simharness.files import UNLED
from simharness.printable import quoted
from simharness.runs.manifest import utc_now

PATIENCE_S = 0.1
"""How long a lock is waited for before its holder is taken to be at work."""


def holder(path: Path) -> str | None:
    """Who holds the lock on a file, in words; None when nobody does. The lock itself is left as it is."""
    try:
        handle = os.open(path, os.O_RDONLY | UNLED)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return _holder(os.pread(handle, 200, 0))
    finally:
        os.close(handle)
    return None


class FileLock:
    """An exclusive lock on a file, which exists only while the lock is held.

    Parameters
    ----------
    path : Path
        The lock file; its folder must exist.
    what : str
        What is locked, for the message of BusyError.
    """

    def __init__(self, path: Path, what: str):
        self.path, self.what = path, what
        self._handle = -1

    @property
    def held(self) -> bool:
        """Whether this object holds the lock."""
        return self._handle >= 0

    def acquire(self) -> None:
        """Take the lock; BusyError, naming the holder, when another has it.

        One that is held for a moment only, by whoever looks or clears up, is waited for.
        """
        patience = time.monotonic() + PATIENCE_S
        while not self.held:
            handle = os.open(self.path, os.O_RDWR | os.O_CREAT | UNLED, 0o644)
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                # The holder before may have unlinked the file between open and lock.
                if _is_same_file(handle, self.path):
                    note = json.dumps({"pid": os.getpid(), "since": utc_now()}).encode()
                    os.ftruncate(handle, 0)
                    os.pwrite(handle, note, 0)
                    self._handle, handle = handle, -1
            except BlockingIOError as exc:
                if time.monotonic() > patience:
                    raise BusyError(
                        f"{self.what} is being worked on by {_holder(os.pread(handle, 200, 0))}"
                    ) from exc
                time.sleep(PATIENCE_S / 10)
            finally:
                if handle >= 0:
                    os.close(handle)

    def release(self) -> None:
        """Give the lock back; nothing happens when it is not held."""
        if self.held:
            # Unlinked while still held: whoever opened the old file notices and starts over.
            with contextlib.suppress(OSError):
                self.path.unlink()
            os.close(self._handle)
            self._handle = -1


def _is_same_file(handle: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except FileNotFoundError:
        return False


def _holder(text: bytes) -> str:
    try:
        note = json.loads(text)
        return f"process {int(note['pid'])} since {quoted(note['since'])}"
    except (ValueError, KeyError, TypeError, OverflowError):
        return "another process"
