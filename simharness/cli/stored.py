"""What commands read from a stored run."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simharness.manifest import Run
    from simharness.outputs import Results
    from simharness.records import Record


def stored_results(run: Run) -> Results:
    """The result arrays of a run that finished.

    Raises
    ------
    StoreError
        The run failed, or holds none.
    """
    from simharness.errors import StoreError

    if run.manifest.status == "failed":
        raise StoreError(f"run {run.path.name} failed: {run.manifest.reason}")
    return run.results()


def stored_record(run: Run) -> Record:
    """The design record of a run, as it was solved.

    Raises
    ------
    StoreError
        The run holds none.
    InputError
        The record is of another format.
    """
    import json

    from simharness.errors import StoreError
    from simharness.records import parse_record

    kept = run.path / "record.json"
    if not kept.exists():
        raise StoreError(f"run {run.path.name} holds no design record, so there is nothing to judge it by")
    return parse_record(json.loads(kept.read_text(encoding="utf-8")), f"{run.path.name}/record.json")
