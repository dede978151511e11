"""What the commands about finished antennas share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from simharness.errors import StoreError

if TYPE_CHECKING:
    from simharness import SolvedRun


def known_run(named: str | None, record: Path, runs_folder: Path) -> tuple[SolvedRun | None, tuple[str, ...]]:
    """The run of a record that is named, or the finest that is stored, and remarks; none where there is none.

    Raises
    ------
    StoreError
        The run that is named is not there, or is damaged.
    """
    from simharness import open_run

    if named is not None:
        found = open_run(named, runs=runs_folder)
        return found, found.remarks
    try:
        found = open_run(str(record), runs=runs_folder)
    except StoreError as error:
        return None, (f"No run calibrates the model: {error}.",)
    return found, found.remarks
