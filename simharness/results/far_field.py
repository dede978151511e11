"""The far field of a run: which of those stored, and from where it is seen."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.em.pattern.far_field import FarField, nearest_field
from simharness.errors import InputError
from simharness.records import Record


def far_index(far_frequency: np.ndarray, frequency: float) -> int:
    """Index of the stored far field for a frequency in Hz.

    Raises
    ------
    InputError
        It lies further outside the stored ones than they lie from each other.
    """
    low, high = float(far_frequency[0]), float(far_frequency[-1])
    step = float(np.max(np.diff(far_frequency))) if far_frequency.size > 1 else 0.02 * low
    if not low - step <= frequency <= high + step:
        raise InputError(
            "frequency",
            f"{frequency / 1e9:g} GHz",
            f"the run holds far fields from {low / 1e9:g} to {high / 1e9:g} GHz",
        )
    return nearest_field(far_frequency, frequency)


def antenna_middle(record: Record) -> tuple[float, float, float]:
    """Middle of the slots at the front wall, m; of the guide where there are none."""
    places = [slot.position_mm for slot in record.slots] or [0.0, record.guide.length_mm]
    return 0.0, 0.0, 0.5e-3 * (min(places) + max(places))


def run_far_field(results: Mapping[str, np.ndarray]) -> FarField:
    """The far field of a run.

    Raises
    ------
    InputError
        The run stores none.
    """
    if "e_theta" not in results:
        raise InputError("run", "without a far field", "take a run of an antenna with slots")
    return FarField.stored(results)
