"""What commands read from a stored run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simharness.lookup import Asked


def asked(words: str, runs_folder: Path, quality: str | None = None) -> Asked:
    """The run that is meant by some words, with the record to judge it by; see `simharness.lookup`.

    Raises
    ------
    StoreError
        There is none, it failed, it is damaged, or it was made for no record.
    InputError
        The record does not hold, or the run is of another quality.
    """
    from simharness.errors import StoreError
    from simharness.lookup import asked_run
    from simharness.store import Store

    found = asked_run(Store(runs_folder), words, quality)
    if found.run.manifest.status == "failed":
        raise StoreError(f"run {found.run.path.name} failed: {found.run.manifest.reason}")
    if found.record is None:
        raise StoreError(f"run {found.run.path.name} holds no design record, so there is nothing to judge it by")
    return found


def print_remarks(found: Asked) -> None:
    """What was chosen from several runs, and what else it is called."""
    from simharness.cli.text import print_wrapped

    for sentence in found.remarks:
        print_wrapped(sentence)

