"""Working on one run: a hidden folder under a lock, finished or failed or gone."""

from __future__ import annotations

import contextlib
import math
import os
import re
import shutil
from pathlib import Path
from types import TracebackType

from simharness.errors import InputError, StoreError
from simharness.files import machine_errors, sync_folder
from simharness.runs.lock import FileLock
from simharness.runs.manifest import FAILED, Run, check_files, final_manifest, read_manifest

OLD = ".old-"
"""Before the name of a run that is about to be replaced."""


def folder_names(root: Path) -> list[str]:
    """Names of the visible folders in a store, sorted; none when there is no store yet."""
    with machine_errors(f"read {root}"), contextlib.suppress(FileNotFoundError):
        return sorted(
            entry.name for entry in os.scandir(root) if not entry.name.startswith(".") and entry.is_dir()
        )
    return []


def stored_names(root: Path, key: str) -> list[str]:
    """Names of the folders that by their names are the stored run of a key."""
    return [
        name for name in folder_names(root) if name.endswith(f"-{key}") and not name.startswith(f"{FAILED}-")
    ]


def removed(folder: Path) -> Path:
    """The path of a folder that is now gone, whether or not it was there."""
    if folder.is_dir():
        shutil.rmtree(folder)
    return folder


def work_folder(root: Path, key: str) -> Path:
    """Where a run of this key is worked on."""
    return root / f".work-{key}"


def key_lock(root: Path, key: str) -> FileLock:
    """The lock on everything of a key."""
    return FileLock(root / f".lock-{key}", f"run {key}")


def set_aside(root: Path, key: str) -> list[Path]:
    """Runs of a key that a new one was about to replace: `.old-` and their name."""
    return sorted(root.glob(f"{OLD}*-{key}"))


def recover(root: Path, key: str) -> list[str]:
    """Mend what a process left that was killed while it finished a run; to be called under the lock of the
    key.

    The new run takes its place if it had been finished, one that was to be replaced otherwise.

    Returns
    -------
    list of str
        Names of the runs that are back in their places.
    """
    aside, back = set_aside(root, key), []
    if not stored_names(root, key):
        finished = _finished_name(work_folder(root, key), key)
        back = (
            [(work_folder(root, key), finished)]
            if finished
            else [(old, old.name.removeprefix(OLD)) for old in aside]
        )
        for folder, name in back:
            os.rename(folder, root / name)
            sync_folder(root)
    for old in aside:
        removed(old)
    return [name for _, name in back]


def _finished_name(work: Path, key: str) -> str:
    """Name for the run in a working folder that lacks nothing else; empty if it lacks more."""
    try:
        manifest = read_manifest(work)
        check_files(work, manifest, hashed=math.inf)
    except StoreError:
        return ""
    return f"{manifest.label}-{key}" if manifest.key == key and manifest.status != FAILED else ""


def own_label(root: Path, finished: list[str], key: str) -> str:
    """Label of the finished run of a key; a stray copy under another name does not count."""
    for name in finished:
        with contextlib.suppress(StoreError):
            if read_manifest(root / name).label == name.removesuffix(f"-{key}"):
                return name.removesuffix(f"-{key}")
    return finished[0].removesuffix(f"-{key}")


class RunWriter:
    """The right to work on one key; see `simharness.runs.store.Store.writer`.

    `path` is the working folder, fresh and empty on entering; after `finalize` and
    `fail` it is the folder under its final name. Leaving without either removes it.
    `label` is that of the run to be replaced, where there is one; `root` is the store.
    """

    def __init__(self, root: Path, key: str, label: str, replace: bool):
        self.key, self.label = key, label
        self.root, self._replace = root, replace
        self._lock = key_lock(root, key)
        self.path = work_folder(root, key)
        self._work = self.path

    def __enter__(self) -> RunWriter:
        with machine_errors(f"work in {self.root}"):
            self.root.mkdir(parents=True, exist_ok=True)
            self._lock.acquire()
            try:
                recover(self.root, self.key)
                finished = stored_names(self.root, self.key)
                if finished and not self._replace:
                    raise StoreError(f"run {finished[0]} is already there: open it instead")
                if finished:
                    # Whoever asks again under another name leaves the run where its first name points.
                    self.label = own_label(self.root, finished, self.key)
                # With the lock in hand, a work folder can only be that of a killed process.
                removed(self._work)
                self._work.mkdir()
            except BaseException:
                self._lock.release()
                raise
        return self

    def finalize(self, status: str = "done") -> Run:
        """Turn the working folder into a finished run.

        Parameters
        ----------
        status : str
            A word for the manifest; not ``"failed"``.

        Returns
        -------
        Run
            The finished run, all of it forced to the disk.

        Raises
        ------
        StoreError
            When the working folder holds a link.
        MachineError
            When the disk is full; nothing then looks finished.
        """
        if status == FAILED:
            raise InputError("status", status, "must not be the word for failed runs")
        return self._finish(f"{self.label}-{self.key}", status, "")

    def fail(self, reason: str) -> Run:
        """Keep the working folder as a failed run, under the next free number."""
        pattern = re.compile(rf"{FAILED}-{re.escape(self.label)}-{self.key}-(\d+)")
        numbers = [int(m[1]) for m in map(pattern.fullmatch, folder_names(self.root)) if m]
        number = max(numbers, default=0) + 1
        return self._finish(f"{FAILED}-{self.label}-{self.key}-{number}", FAILED, reason)

    def _finish(self, name: str, status: str, reason: str) -> Run:
        if not self._lock.held or self.path != self._work:
            raise RuntimeError("a run is finished once, and inside its context")
        root = self.root
        with machine_errors(f"finish {root / name}"):
            manifest = final_manifest(self.path, self.key, self.label, status, reason)
            if status != FAILED:
                for old in stored_names(self.root, self.key):
                    os.replace(root / old, removed(root / f"{OLD}{old}"))
            os.rename(self.path, root / name)
            sync_folder(root)
            self.path = root / name
            for replaced in set_aside(root, self.key):
                removed(replaced)
        return Run(self.path, manifest)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            removed(self._work)
        finally:
            self._lock.release()
