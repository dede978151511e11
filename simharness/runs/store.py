"""The store of runs: one folder a run, named by its label and the hash of its input.

A store is a plain folder:

    <label>-<key>               a finished run, with a manifest of its files
    failed-<label>-<key>-<n>    a failed run, kept to be looked at, never reused
    .work-<key>                 a run being worked on
    .lock-<key>                 the lock of the process that works on it
    .names/<name>-<key>.json    a record that asked for a run, as it was then

A run is worked on under a hidden name and gets its own in one step when it is
complete, so that nothing half done ever looks finished. The lock is the operating
system's: it ends with its process, however that ends.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from simharness.errors import InputError, StoreError
from simharness.files import machine_errors, sync_folder
from simharness.printable import quoted
from simharness.runs.leftovers import GONE, Leftover, clear, key_part, leftovers
from simharness.runs.listing import RunSummary, summaries
from simharness.runs.manifest import FAILED, QUICK_HASH_BYTES, Run, check_files, read_manifest
from simharness.runs.names import KEY, Name, forget, names, remember
from simharness.runs.writer import RunWriter, folder_names, key_lock, removed, stored_names

if TYPE_CHECKING:
    from simharness.records import Record

__all__ = ["Run", "RunSummary", "Store"]

_LABEL = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")


class Store:
    """The runs below one folder, which is made with the first run."""

    def __init__(self, root: Path | str):
        self.root = Path(root)

    def find(self, key: str) -> Run | None:
        """The finished run of a key, verified, or None.

        Raises
        ------
        StoreError
            When the run is there but damaged: it is neither used nor silently
            made again.
        """
        refusal = None
        for name in stored_names(self.root, key):
            try:
                return self.opened(name)
            except StoreError as exc:
                refusal = refusal or exc
        if refusal is not None:
            raise refusal
        return None

    def writer(self, key: str, label: str, *, replace: bool = False) -> RunWriter:
        """The right to work on a key, as a context manager.

        Parameters
        ----------
        key : str
            See `request_key`.
        label : str
            Readable part of the folder name: letters, digits, dot, dash, underscore.
        replace : bool
            Whether a finished run of the same key may be there; it is then replaced
            when the new one is finished.

        Returns
        -------
        RunWriter
            Entering it raises BusyError when another process works on the key,
            StoreError when a finished run is there and `replace` is false, and
            MachineError when the store cannot be written.

        Raises
        ------
        InputError
            For a label or key that cannot be part of a folder name.
        """
        if not _LABEL.fullmatch(label) or f"{label}-".startswith(f"{FAILED}-"):
            raise InputError(
                "label",
                label,
                "must begin with a letter or digit and hold up to 80 "
                f"letters, digits, '.', '-', '_', and not begin with '{FAILED}'",
            )
        if not KEY.fullmatch(key):
            raise InputError("key", key, "must be 8 to 64 hexadecimal digits")
        return RunWriter(self.root, key, label, replace)

    def runs(self, hashed: float = 0.0, unfinished: bool = False) -> list[RunSummary]:
        """All runs, failed and damaged ones too, oldest first; see `listing.summaries`."""
        return summaries(self.root, hashed, unfinished)

    def folders(self) -> list[str]:
        """Names of the folders that may be runs, sorted."""
        return folder_names(self.root)

    def names(self) -> list[Name]:
        """Records that asked for a run, the last to ask at the end."""
        return names(self.root)

    def remember(self, key: str, record: Record) -> None:
        """Keep a record as one that asked for the run of a key; see `simharness.runs.names`."""
        remember(self.root, key, record.model_dump(mode="json", by_alias=True, exclude_none=True))

    def leftovers(self) -> list[Leftover]:
        """What killed processes left, with its size; nothing is touched."""
        return leftovers(self.root)

    def clear(self) -> list[Leftover]:
        """Remove all that killed processes left, and mend what they left half replaced; what there was."""
        return clear(self.root)

    def clear_stale(self) -> list[str]:
        """Remove what processes left that were killed while they worked on a run; the names of it."""
        return [item.path.name for item in clear(self.root, whole=False)]

    def remove(self, summary: RunSummary) -> None:
        """Remove a run for good, with the names it goes by.

        It vanishes from the list in one step. Nothing of its key may be under way.

        Raises
        ------
        BusyError
            A process works on it.
        MachineError
            The folder of the runs cannot be written.
        """
        lock = key_lock(self.root, summary.key)
        with machine_errors(f"remove {summary.folder}"):
            lock.acquire()
            try:
                gone = removed(self.root / f"{GONE}{summary.name}")
                if summary.folder.is_dir():
                    os.rename(summary.folder, gone)
                    sync_folder(self.root)
                removed(gone)
                if not stored_names(self.root, summary.key):
                    forget(self.root, summary.key)
            finally:
                lock.release()

    def open(self, name_or_prefix: str) -> Run:
        """A run, failed or not, by its folder name or the beginning of its name or key.

        Raises
        ------
        StoreError
            In one sentence: unknown, ambiguous, foreign, damaged, or of a newer format.
        """
        return self.opened(resolved(self.root, name_or_prefix, {name: name for name in self.folders()}))

    def opened(self, name: str) -> Run:
        """The run in a folder of this very name, verified."""
        folder = self.root / name
        with machine_errors(f"read {folder}"):
            manifest = read_manifest(folder)
            proper = f"{manifest.label}-{manifest.key}"
            failed = re.fullmatch(rf"{FAILED}-{re.escape(proper)}-\d+", name)
            if not (failed if manifest.status == FAILED else name == proper):
                raise StoreError(f"run folder {name} does not fit its manifest, which says {proper}")
            check_files(folder, manifest, hashed=QUICK_HASH_BYTES)
        return Run(folder, manifest)


class UnknownRunError(StoreError):
    """There is no run of the name that was given."""


def resolved(root: Path, words: str, full_names: Mapping[str, str]) -> str:
    """What the beginning of a name or of a key means.

    Parameters
    ----------
    words : str
        A full name, also as a path below `root`; else the beginning of names, else that of keys. A failed
        run is meant only where nothing else can be.
    full_names : mapping
        From each full name to the folder of its run.

    Returns
    -------
    str
        One of the full names: where several of one run begin so, that of its folder.

    Raises
    ------
    StoreError
        Unknown, or of several runs.
    """
    path = Path(words)
    if len(path.parts) > 1 and path.parent.resolve() == root.resolve():
        words = path.name
    if words in full_names:
        return words
    found = [name for name in full_names if words and name.startswith(words)]
    found = found or [name for name in full_names if words and key_part(name).startswith(words)]
    found = [name for name in found if not name.startswith(f"{FAILED}-")] or found
    if not found:
        raise UnknownRunError(f"there is no run {quoted(repr(words))} in {root}")
    if len({full_names[name] for name in found}) > 1:
        raise StoreError(
            f"{quoted(repr(words))} may mean {len(found)} runs: "
            f"{', '.join(found[:5])}{', ...' if len(found) > 5 else ''}"
        )
    return next((name for name in found if name == full_names[name]), found[0])
