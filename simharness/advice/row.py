"""Whether the slots, coupled to each other, resonate in the band."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np

from simharness.constants import MARKED_MM
from simharness.em.row.response import resonant_stretch
from simharness.em.slot.basis import SlottedGuide
from simharness.estimate import model_inputs
from simharness.records import Record

OUTSIDE_BAND = 0.015
"""How far beyond an edge of the band, as a share of it, a row may resonate without a warning. Rows of
`design` resonate at their design frequency within 0.1 %; the shipped records, tuned by other means, up to 1.0
% beyond; slots 7 % too long 3.6 %."""

ALIKE = 0.02
"""Of the design frequency, a judgement: slots whose resonances alone differ by less are shifted by their
coupling to each other, not by errors."""


def row_resonance(record: Record) -> float | None:
    """Frequency (Hz) near which the slots of a standing wave resonate, all of them coupled.

    It is found at the design frequency, by the factor on all slot lengths that makes the row a real load
    there. None for a travelling wave, for slots that do not couple, and where they resonate far from the
    design frequency.
    """
    if (
        not record.slots
        or record.guide.far_end != "short"
        or not any(shape.offset for shape in model_inputs.slot_shapes(record))
    ):
        return None
    centre = record.band.centre
    factor = _stretch(model_inputs.slotted_guide(record), centre)
    return None if factor is None else factor * centre


@lru_cache(maxsize=64)
def _stretch(guide: SlottedGuide, frequency: float) -> float | None:
    return resonant_stretch(guide, frequency)


def _beyond(record: Record, resonance: float) -> tuple[float, float]:
    """How far below and above the band a row resonates (Hz), as shares of the edges."""
    return 1 - resonance / record.band.low, resonance / record.band.high - 1


def resonates_coupled(record: Record, alone: Sequence[float | None]) -> bool:
    """Whether the coupled row resonates in the band though its slots alone do not: each is shifted alike by
    the others.

    Parameters
    ----------
    alone : sequence of float or None
        Resonances of the slots by themselves, Hz; None where there is none.
    """
    known = [resonance for resonance in alone if resonance is not None]
    if len(known) < len(alone) or max(known) - min(known) > ALIKE * record.band.centre:
        return False
    found = row_resonance(record)
    return found is not None and max(_beyond(record, found)) < OUTSIDE_BAND


def row_warnings(record: Record) -> Iterator[str]:
    """Sentences about a row that resonates outside the band."""
    found, band = row_resonance(record), record.band
    if found is None:
        return
    below, above = _beyond(record, found)
    if max(below, above) < OUTSIDE_BAND:
        return
    side, error = ("below", "long") if below > above else ("above", "short")
    amount = abs(1 - found / band.centre) * float(np.mean([slot.length_mm for slot in record.slots]))
    by_model = (
        f": by the model they are {amount:.1f} mm too {error} for {band.centre_ghz:g} GHz"
        if amount >= MARKED_MM
        else ""
    )
    yield (
        f"the slots, coupled to each other, resonate near {found / 1e9:.2f} GHz, "
        f"{100 * max(below, above):.1f} % {side} the band from {band.low_ghz:g} to {band.high_ghz:g} GHz"
        f"{by_model}"
    )
