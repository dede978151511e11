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
        The run holds none, or one that is not allowed.
    """
    from simharness.errors import InputError, StoreError
    from simharness.manifest import stored_json
    from simharness.records import parse_record

    if "record.json" not in run.manifest.files:
        raise StoreError(f"run {run.path.name} holds no design record, so there is nothing to judge it by")
    try:
        return parse_record(stored_json(run.path, "record.json"), f"{run.path.name}/record.json")
    except InputError as error:
        # A sealed run is not edited: another one is wanted.
        raise StoreError(f"{error}; solve the record again") from None
