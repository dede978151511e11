"""The store of runs: one folder a run, named by its label and the hash of its input.

A store is a plain folder:

    <label>-<key>               a sealed run, with a manifest of its files
    failed-<label>-<key>-<n>    a failed run, kept to be looked at, never reused
    .work-<key>                 a run being worked on
    .lock-<key>                 the lock of the process that works on it

A run is worked on under a hidden name and gets its own in one step when it is
complete, so that nothing half done ever looks finished. The lock is the operating
system's: it ends with its process, however that ends.
"""

from __future__ import annotations

import contextlib
import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from simharness.claim import Claim, folder_names, sealed_names
from simharness.errors import BusyError, InputError, StoreError
from simharness.files import atomic_write_bytes, atomic_write_text, machine_errors
from simharness.fingerprint import canonical, nanometres, request_key
from simharness.lock import FileLock
from simharness.manifest import (
    FAILED,
    RESULTS_NAME,
    ForeignFolderError,
    Manifest,
    Run,
    check_files,
    read_manifest,
)
from simharness.printable import quoted

__all__ = [
    "Claim", "RESULTS_NAME", "Run", "RunSummary", "Store", "atomic_write_bytes",
    "atomic_write_text", "canonical", "nanometres", "request_key",
]

_LABEL = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
_KEY = re.compile(r"[0-9a-f]{8,64}")


@dataclass(frozen=True)
class RunSummary:
    """One line of the list of runs; `status` is ``"unreadable"`` for a damaged or newer manifest.

    `size` is in bytes and counts everything in the folder, figures too.
    """

    name: str
    key: str
    status: str
    created: str
    label: str
    size: int


class Store:
    """The runs below one folder, which is made when the first run is claimed."""

    def __init__(self, root: Path | str):
        self.root = Path(root)

    def find(self, key: str) -> Run | None:
        """The sealed run of a key, verified, or None.

        Raises
        ------
        StoreError
            When the run is there but damaged: it is neither used nor silently
            made again.
        """
        refusal = None
        for name in sealed_names(self.root, key):
            try:
                return self._opened(name)
            except StoreError as exc:
                refusal = refusal or exc
        if refusal is not None:
            raise refusal
        return None

    def claim(self, key: str, label: str, *, replace: bool = False) -> Claim:
        """The right to work on a key, as a context manager.

        Parameters
        ----------
        key : str
            See `request_key`.
        label : str
            Readable part of the folder name: letters, digits, dot, dash, underscore.
        replace : bool
            Whether a sealed run of the same key may be there; it is then replaced
            at the moment of sealing.

        Returns
        -------
        Claim
            Entering it raises BusyError when another process works on the key,
            StoreError when a sealed run is there and `replace` is false, and
            MachineError when the store cannot be written.

        Raises
        ------
        InputError
            For a label or key that cannot be part of a folder name.
        """
        if not _LABEL.fullmatch(label) or f"{label}-".startswith(f"{FAILED}-"):
            raise InputError("label", label, "must begin with a letter or digit and hold up to 80 "
                             f"letters, digits, '.', '-', '_', and not begin with '{FAILED}'")
        if not _KEY.fullmatch(key):
            raise InputError("key", key, "must be 8 to 64 hexadecimal digits")
        return Claim(self.root, key, label, replace)

    def runs(self) -> list[RunSummary]:
        """All runs, failed and damaged ones too, oldest first; foreign folders are left out."""
        summaries = []
        for name in folder_names(self.root):
            folder = self.root / name
            size = _folder_size(folder)
            try:
                m = read_manifest(folder)
            except ForeignFolderError:
                continue
            except StoreError:
                m = Manifest(_key_part(name), "", "unreadable", "", "")
            summaries.append(RunSummary(name, m.key, m.status, m.created, m.label, size))
        return sorted(summaries, key=lambda summary: (summary.created, summary.name))

    def clear_stale(self) -> list[str]:
        """Remove the working folders of killed processes; their names."""
        cleared = []
        with machine_errors(f"clear {self.root}"):
            for folder in sorted(self.root.glob(".work-*")):
                key = folder.name.removeprefix(".work-")
                lock = FileLock(self.root / f".lock-{key}", f"run {key}")
                with contextlib.suppress(BusyError):
                    lock.acquire()
                    try:
                        shutil.rmtree(folder)
                    finally:
                        lock.release()
                    cleared.append(folder.name)
        return cleared

    def open(self, name_or_prefix: str) -> Run:
        """A run, failed or not, by its folder name or the beginning of its name or key.

        Raises
        ------
        StoreError
            In one sentence: unknown, ambiguous, foreign, damaged, or of a newer format.
        """
        wanted = Path(name_or_prefix)
        if len(wanted.parts) > 1 and wanted.parent.resolve() == self.root.resolve():
            name_or_prefix = wanted.name
        names = folder_names(self.root)
        if name_or_prefix in names:
            return self._opened(name_or_prefix)
        found = [name for name in names if name_or_prefix and name.startswith(name_or_prefix)]
        found = found or [name for name in names
                          if name_or_prefix and _key_part(name).startswith(name_or_prefix)]
        found = [name for name in found if not name.startswith(f"{FAILED}-")] or found
        if not found:
            raise StoreError(f"there is no run {quoted(repr(name_or_prefix))} in {self.root}")
        if len(found) > 1:
            raise StoreError(f"{quoted(repr(name_or_prefix))} may mean {len(found)} runs: "
                             f"{', '.join(found[:5])}{', ...' if len(found) > 5 else ''}")
        return self._opened(found[0])

    def _opened(self, name: str) -> Run:
        folder = self.root / name
        with machine_errors(f"read {folder}"):
            manifest = read_manifest(folder)
            proper = f"{manifest.label}-{manifest.key}"
            failed = re.fullmatch(rf"{FAILED}-{re.escape(proper)}-\d+", name)
            if not (failed if manifest.status == FAILED else name == proper):
                raise StoreError(f"run folder {name} does not fit its manifest, which says {proper}")
            check_files(folder, manifest, full=False)
        return Run(folder, manifest)


def _key_part(name: str) -> str:
    """The key in the name of a run folder, as far as the name is made like one."""
    parts = name.rsplit("-", 2)
    return parts[-2] if name.startswith(f"{FAILED}-") and len(parts) == 3 else parts[-1]


def _folder_size(folder: Path) -> int:
    """Bytes in the files of a folder, as far as it does not vanish meanwhile."""
    size = 0
    with contextlib.suppress(FileNotFoundError):
        for path in folder.rglob("*"):
            if path.is_file():
                size += path.stat().st_size
    return size
