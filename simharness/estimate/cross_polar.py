"""The field along the guide that curved slots add to the field across it: figures and sentences."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from simharness.em.pattern.cuts import cut_along
from simharness.em.pattern.far_field import FarField
from simharness.em.slot.curved import cross_polar_level
from simharness.estimate.model_inputs import centre_line_of
from simharness.figures import Figure
from simharness.numerics.decibels import decibels
from simharness.records import Record
from simharness.records.outlines import chord_middle

NAME = "cross_polar_level"
_FRONT = np.radians(85.0)


def curved(record: Record) -> bool:
    """Whether any slot of the front wall is bent or an S."""
    return any(slot.shape != "straight" for slot in record.slots if slot.face == "front")


def estimated(record: Record, voltages: NDArray, frequency: float) -> dict[str, Figure]:
    """Cross-polar level in front of a row with these slot voltages; nothing for straight slots."""
    if not curved(record):
        return {}
    front = [
        i for i, slot in enumerate(record.slots) if slot.face == "front"
    ]  # the plane hides those behind it
    row = [record.open_slots[i] for i in front]
    places = np.array([chord_middle(slot)[1] for slot in row])
    found = cross_polar_level([centre_line_of(slot) for slot in row], places, voltages[front], frequency)
    return {
        NAME: _figure(
            found.broadside,
            found.largest,
            found.angle,
            "moments of the centre lines, infinite plane; within about 4 dB",
        )
    }


def simulated(record: Record, results: Mapping[str, NDArray], index: int, basis: str) -> dict[str, Figure]:
    """The same from a far field, at one of its frequencies."""
    if not curved(record):
        return {}
    cut = cut_along(FarField.stored(results), index)
    front = np.abs(cut.angle) <= _FRONT + 1e-9
    size, beam = np.sqrt(cut.cross[front]), np.sqrt(cut.co[front].max())
    most = int(np.argmax(size))
    broadside = float(np.interp(0.0, cut.angle[front], size))
    return {NAME: _figure(broadside / beam, size[most] / beam, cut.angle[front][most], basis)}


def _figure(broadside: float, largest: float, angle: float, basis: str) -> Figure:
    where = f"largest {abs(np.degrees(angle)):.0f} degrees from broadside"
    if broadside > 1e-3:
        where += f", {decibels(broadside**2):.0f} dB at broadside"
    return Figure(
        decibels(largest**2),
        "dB",
        f"field along the guide against the main beam, plane along the guide; {where}; {basis}",
    )


def sentence(record: Record, figures: Mapping[str, Figure]) -> str:
    """What the shapes of the slots do to polarization; empty for straight ones or without a figure."""
    if NAME not in figures:
        return ""
    level = figures[NAME]
    return f"{_effect(record)}: {level.value:.1f} dB against the beam at most, {level.basis.split('; ')[1]}."


def _effect(record: Record) -> str:
    signs = {np.sign(slot.aside_mm) for slot in record.slots if slot.shape == "s" and slot.face == "front"}
    if len(signs) == 1:
        return (
            "S-shaped slots of one hand tilt the polarization of the main beam: they add a field along the "
            "guide"
        )
    return (
        "Curved slots add a field along the guide, which cancels in the main beam where neighbours mirror "
        "each other, not off it"
    )
