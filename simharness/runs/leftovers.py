"""What killed processes leave in a store: found with its size, and cleared away.

Nothing that is being worked on counts: whoever works on a run or leads a sweep holds a lock for as long,
and the operating system takes it back when the process ends, however it ends.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from simharness.errors import BusyError
from simharness.files import machine_errors
from simharness.runs.lock import holder
from simharness.runs.manifest import FAILED, FIGURES_NAME
from simharness.runs.names import NAMES_FOLDER, forget, names
from simharness.runs.writer import OLD, folder_names, key_lock, recover, stored_names, work_folder

GONE = ".gone-"
"""Before the name of a run that is being removed."""

SWEEP = ".sweep-"
"""Before the mark of a sweep that goes on: a file that its process holds the lock of."""

STALE_S = 3600.0
"""A temporary file older than this is nobody's any more: to write one takes seconds."""


@dataclass(frozen=True)
class Leftover:
    """Something left over. `path` says what; `size` is in bytes; `put_back` names a run that only had to
    get its name."""

    path: Path
    size: int
    put_back: str = ""


def key_part(name: str) -> str:
    """The key in the name of a run folder, as far as the name is made like one.

    Examples
    --------
    >>> key_part("my-antenna-0123456789abcdef"), key_part("failed-my-antenna-0123456789abcdef-2")
    ('0123456789abcdef', '0123456789abcdef')
    """
    parts = name.rsplit("-", 2)
    return parts[-2] if name.startswith(f"{FAILED}-") and len(parts) == 3 else parts[-1]


def folder_size(folder: Path) -> int:
    """Bytes in the files of a folder, as far as it does not vanish meanwhile."""
    return _size_within(str(folder))


def _size_within(folder: str) -> int:
    size = 0
    with contextlib.suppress(FileNotFoundError, NotADirectoryError), os.scandir(folder) as entries:
        for entry in entries:
            with contextlib.suppress(FileNotFoundError):
                if entry.is_dir(follow_symlinks=False):
                    size += _size_within(entry.path)
                elif entry.is_file():
                    size += entry.stat().st_size
    return size


def leftovers(root: Path) -> list[Leftover]:
    """What `clear` would clear away, sorted."""
    with machine_errors(f"read {root}"):
        found = {path for path, _ in _leftovers(root)}
        return [Leftover(path, folder_size(path) if path.is_dir() else _size(path)) for path in sorted(found)]


def clear(root: Path, whole: bool = True) -> list[Leftover]:
    """Remove what killed processes left, and mend what they left half replaced; what was there.

    Parameters
    ----------
    whole : bool
        Whether marks of sweeps, temporary files and names without a run go too, not only what hangs on a key.

    Raises
    ------
    MachineError
        The folder of the runs cannot be written.
    """
    found = []
    with machine_errors(f"clear {root}"):
        for path, remove in _leftovers(root) if whole else _keyed(root):
            size = folder_size(path) if path.is_dir() else _size(path)
            # Somebody has begun to work on it since: then it is not left over.
            with contextlib.suppress(BusyError):
                found.append(Leftover(path, size, ", ".join(remove() or ())))
    return sorted(found, key=lambda item: item.path)


def _leftovers(root: Path) -> Iterator[tuple[Path, Callable[[], list[str] | None]]]:
    """Everything left over, and what clears it."""
    yield from _keyed(root)
    for path in root.glob(f"{SWEEP}*"):
        if holder(path) is None:
            yield path, partial(_unlink, path)
    folders = [root / name for name in folder_names(root)]
    pictures = [
        inner for folder in folders for inner in (folder / FIGURES_NAME, *(folder / FIGURES_NAME).glob("*/"))
    ]
    for folder in (root, root / NAMES_FOLDER, *folders, *pictures):
        for path in folder.glob(".*.tmp"):
            if time.time() - _changed(path) > STALE_S:
                yield path, partial(_unlink, path)
    yield from _lost_names(root)


def _keyed(root: Path) -> Iterator[tuple[Path, Callable[[], list[str] | None]]]:
    """Working folders, locks, and runs half replaced or half removed."""
    for prefix in (OLD, GONE, ".work-"):
        for path in root.glob(f"{prefix}*"):
            key = key_part(path.name)
            if holder(root / f".lock-{key}") is None:
                yield path, partial(_clear_key, root, key, path)
    for path in root.glob(".lock-*"):
        key = path.name.removeprefix(".lock-")
        if holder(path) is None and not work_folder(root, key).exists():
            yield path, partial(_clear_key, root, key, work_folder(root, key))


def _lost_names(root: Path) -> Iterator[tuple[Path, Callable[[], list[str] | None]]]:
    """Names whose run is gone."""
    for name in names(root):
        if not stored_names(root, name.key) and holder(root / f".lock-{name.key}") is None:
            yield root / NAMES_FOLDER / f"{name.full}.json", partial(_forget_lost, root, name.key)


def _unlink(path: Path) -> None:
    """Remove a file, if it is still there."""
    path.unlink(missing_ok=True)


def _clear_key(root: Path, key: str, folder: Path) -> list[str]:
    """Mend and clear what hangs on a key; runs that are back in their places."""
    lock = key_lock(root, key)
    lock.acquire()
    try:
        back = recover(root, key)
        if folder.is_dir():
            shutil.rmtree(folder)
        return back
    finally:
        lock.release()


def _forget_lost(root: Path, key: str) -> None:
    """Drop the names of a key unless its run has come meanwhile."""
    lock = key_lock(root, key)
    lock.acquire()
    try:
        if not stored_names(root, key):
            forget(root, key)
    finally:
        lock.release()


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0


def _changed(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except FileNotFoundError:
        return time.time()
