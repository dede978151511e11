"""What commands read from a stored run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simharness.records import Record
    from simharness.results.outputs import Results
    from simharness.runs.lookup import Asked
    from simharness.runs.manifest import Run

MIN_IN_BAND, MIN_ANGLES = 3, 9
"""Frequencies in the band, and directions along each angle, without which nothing can be said; a run has hundreds and dozens."""


def asked(words: str, runs_folder: Path, quality: str | None = None) -> Asked:
    """The run that is meant by some words, with the record to judge it by; see `simharness.runs.lookup`.

    Raises
    ------
    StoreError
        There is none, it failed, it is damaged, or it was made for no record, or for one that is not allowed.
    InputError
        The record at hand does not hold, or the run is of another quality.
    """
    from simharness.errors import StoreError
    from simharness.runs.lookup import asked_run
    from simharness.runs.store import Store

    found = asked_run(Store(runs_folder), words, quality)
    if found.run.manifest.status == "failed":
        raise StoreError(f"run {found.run.path.name} failed: {found.run.manifest.reason}")
    if found.record is None:
        raise StoreError(
            f"run {found.run.path.name} holds no design record, so there is nothing to judge it by"
        )
    return found


def print_remarks(found: Asked) -> None:
    """What was chosen from several runs, and what else it is called."""
    from simharness.cli.text import print_wrapped

    for sentence in found.remarks:
        print_wrapped(sentence)


def stored_results(run: Run, record: Record) -> Results:
    """The result arrays of a run; StoreError where there are none, or some that are not of its record."""
    from simharness.errors import StoreError

    results = run.results()
    if odd := _misfit(results, record):
        raise StoreError(f"run {run.path.name} holds results that are not of its design record: {odd}")
    return results


def _misfit(results: Results, record: Record) -> str:
    """What in the results cannot come from solving the record; empty if nothing."""
    from simharness.em.pattern.far_field import sphere_weights
    from simharness.errors import InputError

    frequency, band = results.get("frequency", ()), record.band
    inside = sum(band.low <= value <= band.high for value in frequency)
    if inside < MIN_IN_BAND:
        return f"{inside} frequencies lie in the band"
    if "slot_z" in results and len(results["slot_z"]) != len(record.slots):
        return f"{len(results['slot_z'])} slots instead of {len(record.slots)}"
    if "theta" in results and "phi" in results:
        try:
            sphere_weights(results["theta"], results["phi"])
        except InputError as error:
            return str(error)
        if min(results["theta"].size, results["phi"].size) < MIN_ANGLES:
            return "too few directions"
    return ""
