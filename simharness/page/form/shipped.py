"""The records that come with the program, and those of a folder, with their titles."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from simharness.errors import InputError

MOST = 300
"""Files of a folder whose titles are read."""


@dataclass(frozen=True)
class Listed:
    """A record file.

    Attributes
    ----------
    path : Path
    title : str
        That of the record; "" where it has none or is none.
    """

    path: Path
    title: str


def shipped_records() -> list[Listed]:
    """Those that come with the program, by name; none where it was installed without them."""
    import simharness

    root = Path(simharness.__file__).parents[1]
    for folder in (root / "models", Path(sys.prefix) / "share" / "simharness" / "models"):
        if (folder / "record.schema.json").is_file():
            return listed(sorted(folder.glob("*.toml")))
    return []


def listed(paths: Iterable[Path]) -> list[Listed]:
    """The files with their titles."""
    return [Listed(path, _title(path) if i < MOST else "") for i, path in enumerate(paths)]


def _title(path: Path) -> str:
    from simharness.files import input_text
    from simharness.printable import printable
    from simharness.records.reading import MAX_BYTES, data_of_text

    try:
        title = data_of_text(input_text("record", path, MAX_BYTES)).get("title")
    except InputError:
        return ""
    return printable(title[:120], keep="") if isinstance(title, str) else ""
