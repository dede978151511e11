"""What is likely to go wrong with single slots, and with the sum of what they take."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from simharness.advice.feeds import feed_advice
from simharness.advice.quantities import conductances, distinct_slots, free_wavelength, slot_resonance
from simharness.advice.row import resonates_coupled
from simharness.records import Record

_DETUNING = 0.05
"""Of the design frequency: about the half-conductance width of a slot."""
_MAX_WIDTH = 0.1
"""Of a slot, in free-space wavelengths."""


def slot_warnings(record: Record) -> Iterator[str]:
    """Sentences about resonance, width and place of slots, and about their conductances."""
    centre, free = record.band.centre, free_wavelength(record)
    alone = {slot: slot_resonance(record, slot) for slot in distinct_slots(record)}
    off = {
        slot
        for slot, resonance in alone.items()
        if resonance is None or abs(resonance / centre - 1) > _DETUNING
    }
    excused = bool(off) and resonates_coupled(record, list(alone.values()))
    for slot, resonance in alone.items():
        where = f"slot {record.open_slots.index(slot) + 1}"
        if slot in off and not excused:
            found = (
                "has no resonance near"
                if resonance is None
                else f"resonates near {resonance / 1e9:.3f} GHz, not"
            )
            yield (
                f"{where} ({slot.length_mm:g} x {slot.width_mm:g} mm) {found} {record.band.centre_ghz:g} "
                "GHz; it will take little power"
            )
        if slot.width > _MAX_WIDTH * free:
            yield (
                f"{where} is {slot.width_mm:g} mm wide, over a tenth of a wavelength: formulas for thin "
                "slots do not hold"
            )
        if slot.offset_mm == 0 and slot.shape == "straight":
            yield f"{where} lies on the centre line, where a longitudinal slot does not radiate"
    yield from feed_advice(record).conductance_warnings(float(np.sum(conductances(record))))
