"""Names that runs go by: every record that asked for a run, kept beside the run, as it was when it asked.

A run is named after what the solver saw. What a record is called, how the antenna hangs and what is wanted
of it are not part of that, so several records may share a run. Each is one small file in a hidden folder of
the store, named like a run of its own, `<name of the record>-<key of the run>.json`: written in one step,
by however many processes, and replaced when the same record asks again. The run itself is never touched.
"""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from simharness.files import UnreadableError, atomic_write_text, content, machine_errors
from simharness.printable import is_printable

NAMES_FOLDER = ".names"
_FORMAT = "simharness-name"
_VERSION = 1

KEY = re.compile(r"[0-9a-f]{8,64}")
"""What the key of a run is made of: it is part of names of folders, and of patterns of such names."""

MAX_BYTES = 1_000_000
"""Of a name: a hundred times what it has."""


@dataclass(frozen=True)
class Name:
    """A record that asked for a run.

    Attributes
    ----------
    name : str
        Of the record.
    key : str
        Of the run.
    asked : str
        When it last asked, ISO 8601 in UTC.
    record : mapping
        The record as plain data.
    """

    name: str
    key: str
    asked: str
    record: Mapping[str, Any]

    @property
    def full(self) -> str:
        """Name and key together, as in the name of a run folder."""
        return f"{self.name}-{self.key}"


def remember(root: Path, key: str, record: Mapping[str, Any]) -> Name:
    """Keep a record as one that asked for the run of a key just now.

    Raises
    ------
    MachineError
        The folder of the runs cannot be written.
    """
    found = Name(str(record["name"]), key, datetime.now(UTC).isoformat(timespec="microseconds"), record)
    data = {
        "format": _FORMAT,
        "format_version": _VERSION,
        "name": found.name,
        "key": key,
        "asked": found.asked,
        "record": record,
    }
    folder = root / NAMES_FOLDER
    with machine_errors(f"write in {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
        atomic_write_text(folder / f"{found.full}.json", json.dumps(data, indent=1) + "\n")
    return found


def names(root: Path) -> list[Name]:
    """All names in a store, the last to ask at the end; files that are none are passed over."""
    found = []
    with machine_errors(f"read {root}"):
        for path in sorted((root / NAMES_FOLDER).glob("[!.]*.json")):
            # Removed meanwhile, or no JSON: a name is a convenience, and its run can be found without it.
            with contextlib.suppress(UnreadableError, ValueError, KeyError, TypeError, RecursionError):
                data = json.loads(content(path, MAX_BYTES))
                name = Name(data["name"], data["key"], data["asked"], data["record"])
                whole = (
                    all(isinstance(text, str) for text in (name.name, name.key, name.asked))
                    and path.name == f"{name.full}.json"
                    and is_printable(name.full)
                    and KEY.fullmatch(name.key) is not None
                    and isinstance(name.record, dict)
                )
                if whole and data["format_version"] <= _VERSION:
                    found.append(name)
    return sorted(found, key=lambda name: (str(name.asked), name.full))


def forget(root: Path, key: str) -> int:
    """Drop all names of a run; how many there were."""
    count = 0
    with machine_errors(f"write in {root / NAMES_FOLDER}"):
        for path in (root / NAMES_FOLDER).glob(f"*-{key}.json"):
            path.unlink(missing_ok=True)
            count += 1
    return count
