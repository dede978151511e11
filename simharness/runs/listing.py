"""The list of runs: what state each is in, how good, how large, and the names it goes by."""

from __future__ import annotations

import contextlib
import math
import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from simharness.em.signals.match import worst_match
from simharness.errors import HarnessError, StoreError
from simharness.files import machine_errors
from simharness.fingerprint import KEY_DIGITS
from simharness.numerics.decibels import decibels
from simharness.results.file import read_results
from simharness.runs.leftovers import folder_size, key_part
from simharness.runs.lock import holder
from simharness.runs.manifest import (
    FAILED,
    RESULTS_NAME,
    ForeignFolderError,
    Manifest,
    NewerFormatError,
    check_files,
    plain_provenance,
    plain_record,
    read_manifest,
)
from simharness.runs.names import names
from simharness.runs.writer import folder_names

DAMAGED, NEWER, WORKING, LEFT_OVER = "damaged", "of a newer version", "being worked on", "left over"
"""States besides that of the manifest: see `RunSummary.status`."""

_MADE_LIKE_A_RUN = re.compile(rf".+-[0-9a-f]{{{KEY_DIGITS}}}(-\d+)?")


@dataclass(frozen=True)
class RunSummary:
    """One line of the list of runs.

    Attributes
    ----------
    name, key, label : str
        `name` is that of the folder, or the one that a run under way will have.
    status : str
        The word the run was finished with, "failed", or one of "damaged", "of a newer version", "being worked
        on" and "left over" (by a process that was killed).
    created : str
        When it was finished or begun, ISO 8601 in UTC; empty where nobody knows.
    size : int
        Bytes of everything in the folder, figures too.
    quality : str
        Of the mesh; empty where nobody knows.
    worst_s11_db : float or None
        Worst S11 in the band of its record, dB.
    names : tuple of str
        Records that asked for it besides its own.
    reason : str
        What is damaged, why it failed, or who works on it.
    """

    name: str
    key: str
    status: str
    created: str
    label: str
    size: int
    quality: str = ""
    worst_s11_db: float | None = None
    names: tuple[str, ...] = ()
    reason: str = ""
    folder: Path = field(default=Path(), repr=False)

    @property
    def age(self) -> float | None:
        """Time since then, s."""
        if not self.created:
            return None
        return max(0.0, (datetime.now(UTC) - datetime.fromisoformat(self.created)).total_seconds())


def summaries(root: Path, hashed: float = 0.0, unfinished: bool = False) -> list[RunSummary]:
    """All runs, failed and damaged ones too, oldest first; foreign folders are left out.

    Parameters
    ----------
    hashed : float
        Files up to this size in bytes are held against their checksums; of others the size alone is compared.
    unfinished : bool
        Whether runs under way, and those that killed processes left, are listed too.
    """
    known = defaultdict(list)
    for other in names(root):
        known[other.key].append(other.name)
    found = []
    with machine_errors(f"read {root}"):
        for name in folder_names(root):
            # A run may be removed by another process meanwhile: then it is not there.
            with contextlib.suppress(ForeignFolderError, FileNotFoundError):
                found.append(_visible(root / name, known, hashed))
        for folder in sorted(root.glob(".work-*")) if unfinished else ():
            with contextlib.suppress(FileNotFoundError):
                found.append(_under_way(folder))
    return sorted(found, key=lambda summary: (summary.created, summary.name))


def _visible(folder: Path, known: Mapping[str, list[str]], hashed: float) -> RunSummary:
    """A folder under its own name."""
    key = key_part(folder.name)
    manifest, reason = Manifest(key, folder.name.removesuffix(f"-{key}"), DAMAGED, "", ""), ""
    try:
        manifest = read_manifest(folder)
        reason = manifest.reason
        check_files(folder, manifest, hashed=hashed)
        status = manifest.status
    except NewerFormatError as error:
        status, reason = NEWER, str(error)
    except ForeignFolderError:
        if not _MADE_LIKE_A_RUN.fullmatch(folder.name):
            raise
        status, reason = DAMAGED, f"run {folder.name} is damaged: it lacks a manifest of this program"
    except StoreError as error:
        status, reason = DAMAGED, str(error)
    provenance = plain_provenance(folder)
    failed = folder.name.startswith(f"{FAILED}-")
    others = (
        () if failed else sorted(set(known[manifest.key]) - {manifest.label}) if manifest.key in known else ()
    )
    return RunSummary(
        folder.name,
        manifest.key,
        status,
        manifest.created,
        manifest.label,
        folder_size(folder),
        str(provenance.get("quality", "")),
        None if failed or status == DAMAGED else _worst_s11(folder, provenance),
        tuple(others),
        reason,
        folder,
    )


def _under_way(folder: Path) -> RunSummary:
    """A working folder: of a process that goes on, or of one that was killed."""
    key = key_part(folder.name)
    who = holder(folder.parent / f".lock-{key}")
    label = str(plain_record(folder).get("name", ""))
    begun = datetime.fromtimestamp(folder.stat().st_ctime, UTC).isoformat(timespec="seconds")
    return RunSummary(
        f"{label}-{key}" if label else folder.name,
        key,
        LEFT_OVER if who is None else WORKING,
        begun,
        label,
        folder_size(folder),
        reason="" if who is None else f"by {who}",
        folder=folder,
    )


def _worst_s11(folder: Path, provenance: Mapping[str, Any]) -> float | None:
    """Worst S11 in the band, dB: as noted when the run was made, else from its results."""
    try:
        noted = provenance.get("worst_s11_db")
        if isinstance(noted, (int, float)) and math.isfinite(noted):
            return float(noted)
        band = plain_record(folder)["band"]
        results = read_results(folder / RESULTS_NAME, ("frequency", "s11"))
        return float(
            decibels(
                worst_match(
                    results["frequency"], results["s11"], 1e9 * band["low_ghz"], 1e9 * band["high_ghz"]
                )[1]
            )
        )
    except (HarnessError, KeyError, TypeError, ValueError, OverflowError):
        return None
