"""What commands read from a stored run."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simharness.manifest import Run
    from simharness.outputs import Results
    from simharness.records import Record


RECORD_NAME = "record.json"
LEAST_IN_BAND, LEAST_ANGLES = 3, 9
"""Frequencies in the band, and directions along each angle, without which nothing can be said; a run has hundreds and dozens."""


def stored_results(run: Run) -> Results:
    """The result arrays of a run that finished.

    Raises
    ------
    StoreError
        The run failed, holds none, or holds some that are not of its record.
    """
    from simharness.errors import StoreError

    if run.manifest.status == "failed":
        raise StoreError(f"run {run.path.name} failed: {run.manifest.reason}")
    results = run.results()
    if RECORD_NAME in run.manifest.files and (odd := _misfit(results, stored_record(run))):
        raise StoreError(f"run {run.path.name} holds results that are not of its design record: {odd}")
    return results


def _misfit(results: Results, record: Record) -> str:
    """What in the results cannot come from solving the record; empty if nothing."""
    from simharness.em.farfield import sphere_weights
    from simharness.errors import InputError

    frequency, band = results.get("frequency", ()), record.band
    inside = sum(band.low_ghz <= value / 1e9 <= band.high_ghz for value in frequency)
    if inside < LEAST_IN_BAND:
        return f"{inside} frequencies lie in the band"
    if "slot_z" in results and len(results["slot_z"]) != len(record.slots):
        return f"{len(results['slot_z'])} slots instead of {len(record.slots)}"
    if "theta" in results and "phi" in results:
        try:
            sphere_weights(results["theta"], results["phi"])
        except InputError as error:
            return str(error)
        if min(results["theta"].size, results["phi"].size) < LEAST_ANGLES:
            return "too few directions"
    return ""


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

    if RECORD_NAME not in run.manifest.files:
        raise StoreError(f"run {run.path.name} holds no design record, so there is nothing to judge it by")
    try:
        return parse_record(stored_json(run.path, RECORD_NAME), f"{run.path.name}/{RECORD_NAME}")
    except InputError as error:
        # A sealed run is not edited: another one is wanted.
        raise StoreError(f"{error}; solve the record again") from None
