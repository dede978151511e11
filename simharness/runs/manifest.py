"""The manifest of a run folder: which files it holds, and how to tell that they are whole.

The manifest is the file `manifest.json` in the folder. It lists every file with its
size and SHA-256, but for itself and the subfolder `figures`: what is drawn from a
run after it was finished goes there and is not vouched for.
"""

from __future__ import annotations

import json
import math
import os
import stat
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import Any

import simharness
from simharness.errors import StoreError
from simharness.files import (
    UnreadableError,
    atomic_write_text,
    content,
    file_sha256,
    sync_file,
    sync_folder,
)
from simharness.printable import is_printable, printable, quoted
from simharness.results.file import read_results
from simharness.results.outputs import Results

MANIFEST_NAME = "manifest.json"
FIGURES_NAME = "figures"
RESULTS_NAME = "results.h5"
RECORD_NAME = "record.json"
PROVENANCE_NAME = "provenance.json"
FORMAT_NAME = "simharness-run"
FORMAT_VERSION = 1
FAILED = "failed"

MAX_JSON_BYTES = 1_000_000
"""Of a manifest or a stored record: a hundred times what they have."""

QUICK_HASH_BYTES = 4_000_000
"""Files up to this size are hashed whenever a run is opened; larger ones on a full check.

4 MB takes about 10 ms at the 400 MB/s of a slow core."""


class ForeignFolderError(StoreError):
    """A folder that is no run folder of this program."""


class NewerFormatError(StoreError):
    """A run that was written in a newer format: nothing is wrong with it."""


@dataclass(frozen=True)
class Manifest:
    """What a run folder holds.

    `status` is the word the run was finished with, or ``"failed"``; `created` is the
    time when it was finished (ISO 8601, UTC); `software` the version of this program;
    `files` maps relative names to (size in bytes, SHA-256); `reason` says why a
    failed run failed.
    """

    key: str
    label: str
    status: str
    created: str
    software: str
    files: dict[str, tuple[int, str]] = field(default_factory=dict)
    reason: str = ""


@dataclass(frozen=True)
class Run:
    """A run folder whose files agreed with its manifest when it was opened."""

    path: Path
    manifest: Manifest

    @property
    def key(self) -> str:
        """Hash of the input."""
        return self.manifest.key

    def results(self) -> Results:
        """The result arrays; StoreError when the run has none that its manifest vouches for."""
        if RESULTS_NAME not in self.manifest.files:
            raise StoreError(f"there is no result file {RESULTS_NAME} in run {self.path.name}")
        return read_results(self.path / RESULTS_NAME)

    def verify(self, *, full: bool = True) -> None:
        """Compare the files with the manifest; StoreError names the first that differs."""
        check_files(self.path, self.manifest, hashed=math.inf if full else QUICK_HASH_BYTES)

    def figures(self, name: str) -> Path:
        """Folder of the pictures for a record of this name.

        Other records than the one the run was made for have a folder each below its own: their pictures
        bear their titles.
        """
        own = plain_record(self.path).get("name", name)
        return self.path / FIGURES_NAME / ("" if name == own else name)


def plain_record(folder: Path) -> dict[str, Any]:
    """The design record in a run folder as plain data; empty where there is none that can be read."""
    return _mapping(folder / RECORD_NAME)


def plain_provenance(folder: Path) -> dict[str, Any]:
    """The provenance in a run folder; empty where there is none that can be read."""
    return _mapping(folder / PROVENANCE_NAME)


def _mapping(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(content(path, MAX_JSON_BYTES))
    except (UnreadableError, ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def utc_now() -> str:
    """The present moment, ISO 8601 in UTC to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def final_manifest(folder: Path, key: str, label: str, status: str, reason: str = "") -> Manifest:
    """Write the manifest of a finished folder and force all of it to the disk.

    Parameters
    ----------
    folder : Path
        The folder; nothing may write into it any more.
    key, label, status, reason : str
        See `Manifest`.

    Returns
    -------
    Manifest
        What was written.

    Raises
    ------
    StoreError
        When the folder holds a link: a run must not lean on files outside.
    MachineError
        When the manifest cannot be written.
    """
    files: dict[str, tuple[int, str]] = {}
    folders = [folder]
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            raise StoreError(f"{name} in {folder} is a link: a run folder must hold real files")
        if path.is_dir():
            folders.append(path)
        elif name != MANIFEST_NAME and not name.startswith(FIGURES_NAME + "/"):
            sync_file(path)
            files[name] = (path.stat().st_size, file_sha256(path))
    manifest = Manifest(key, label, status, utc_now(), simharness.__version__, files, reason)
    text = {"format": FORMAT_NAME, "format_version": FORMAT_VERSION, **asdict(manifest)}
    text["files"] = {name: {"bytes": size, "sha256": digest} for name, (size, digest) in files.items()}
    atomic_write_text(folder / MANIFEST_NAME, json.dumps(text, indent=1) + "\n")
    for path in folders:
        sync_folder(path)
    return manifest


def read_manifest(folder: Path) -> Manifest:
    """Manifest of a run folder.

    Raises
    ------
    ForeignFolderError
        When there is none, or one of another program.
    StoreError
        When it is damaged; `NewerFormatError` when it was written in a newer format.
    """
    if not (folder / MANIFEST_NAME).exists():
        raise ForeignFolderError(f"{folder.name} is not a run folder: it has no {MANIFEST_NAME}")
    found = stored_json(folder, MANIFEST_NAME)
    if not isinstance(found, dict) or found.get("format") != FORMAT_NAME:
        raise ForeignFolderError(f"{folder.name} is not a run folder of this program")
    version = found.get("format_version")
    if not isinstance(version, int) or version > FORMAT_VERSION:
        raise NewerFormatError(
            f"{folder.name} has the format version {version}: this program reads up to {FORMAT_VERSION}"
        )
    try:
        texts = {name: found[name] for name in ("key", "label", "status", "created", "software", "reason")}
        files = {name: (int(entry["bytes"]), str(entry["sha256"])) for name, entry in found["files"].items()}
        if datetime.fromisoformat(texts["created"]).tzinfo is None:
            raise ValueError("a time lacks its zone")
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as exc:
        raise _damaged(folder, MANIFEST_NAME, "an entry is missing or wrong") from exc
    if not all(isinstance(text, str) for text in texts.values()):
        raise _damaged(folder, MANIFEST_NAME, "an entry is not text")
    if strange := next((name for name in files if not _within(name)), None):
        raise _damaged(
            folder, MANIFEST_NAME, f"it names {quoted(strange)}, which would lie outside of the run"
        )
    return Manifest(files=files, **{name: printable(text, keep="") for name, text in texts.items()})


def _within(name: str) -> bool:
    """Whether the name of a file in a manifest is that of one below the folder."""
    parts = PurePosixPath(name)
    return bool(name) and not parts.is_absolute() and ".." not in parts.parts and is_printable(name)


def stored_json(folder: Path, name: str) -> Any:
    """What a JSON file of a run folder holds.

    Raises
    ------
    StoreError
        The file is missing, is no regular file, too large, or not JSON.
    """
    try:
        return json.loads(content(folder / name, MAX_JSON_BYTES))
    except UnreadableError as exc:
        raise _damaged(folder, name, str(exc)) from exc
    except (ValueError, RecursionError) as exc:
        raise _damaged(folder, name, "it is not JSON") from exc


def check_files(folder: Path, manifest: Manifest, *, hashed: float) -> None:
    """Compare the files of a folder with its manifest.

    Parameters
    ----------
    folder : Path
        The run folder.
    manifest : Manifest
        Its manifest.
    hashed : float
        Files up to this size in bytes are hashed: 0 for none, infinity for all. Sizes are
        compared always.

    Raises
    ------
    StoreError
        Naming the first file that is missing or differs. Files which the manifest
        does not name are ignored.
    """
    for name, (size, digest) in manifest.files.items():
        found = _own_size(str(folder), name)
        if found is None:
            raise _damaged(folder, name, "it is missing")
        if found != size:
            raise _damaged(folder, name, f"it has {found} bytes instead of {size}")
        if size <= hashed and file_sha256(folder / name) != digest:
            raise _damaged(folder, name, "its content has changed (SHA-256 differs)")


def _own_size(folder: str, name: str) -> int | None:
    """Bytes of a file that lies in the folder itself, with no link on the way; None where there is none.

    Of thousands of runs every file is asked for: a path object for each would take longer than the disk.
    """
    path, found = folder, None
    for part in name.split("/"):
        if part in ("", ".", "..") or (found is not None and not stat.S_ISDIR(found.st_mode)):
            return None
        path = f"{path}/{part}"
        try:
            found = os.lstat(path)
        except (OSError, ValueError):  # also a name that is too long, or has a null in it
            return None
    return found.st_size if found is not None and stat.S_ISREG(found.st_mode) else None


def _damaged(folder: Path, name: str, why: str) -> StoreError:
    return StoreError(
        f"run {folder.name} is damaged, file {name}: {why}; "
        f"'simharness runs --remove {folder.name}' makes room for it to be solved anew"
    )
