"""Outlines of slots in the plane of the wall: as they are cut, and as a mesh of few cells takes them."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon

from simharness.constants import MM
from simharness.em.centre_line import centre_line
from simharness.em.slot_shape import rectangular_length
from simharness.scene import Askew, constant_width_outline

if TYPE_CHECKING:  # the records themselves look at outlines
    from simharness.records import Slot

_PIECES = 64
"""Chords of a curved centre line: they leave a half circle by less than 4e-4 of its radius."""


@lru_cache(maxsize=512)
def slot_outline(slot: Slot) -> Polygon:
    """Outline of a slot in the plane of the wall, (x, z) in m."""
    return constant_width_outline(_centre_line(slot, slot.length_mm), slot.width_mm * MM, slot.ends, (slot.tip_mm or 0.0) * MM)


@lru_cache(maxsize=512)
def squared_outline(slot: Slot) -> Polygon:
    """The slot with square ends for round ones, of the same width and area."""
    squared = squared_slot(slot)
    return constant_width_outline(squared.line, squared.width, squared.ends, squared.taper)


def squared_slot(slot: Slot) -> Askew:
    """Centre line and ends of the slot with square ends for round ones."""
    length, ends = rectangular_length(slot.length_mm, slot.width_mm, slot.ends), "square" if slot.ends == "round" else slot.ends
    return Askew(_centre_line(slot, length), slot.width_mm * MM, ends, (slot.tip_mm or 0.0) * MM)


def chord_middle(slot: Slot) -> tuple[float, float]:
    """The middle between the tips of a slot (x, z), m."""
    return slot.offset_mm * MM, slot.position_mm * MM


def slot_middle(slot: Slot) -> tuple[float, float]:
    """The middle of the centre line (x, z), m."""
    x, z = chord_middle(slot)
    return x + (slot.aside_mm * MM if slot.shape == "bent" else 0.0), z


def _centre_line(slot: Slot, length_mm: float) -> tuple[tuple[float, float], ...]:
    """Points of the centre line, shortened or not at its tips to a length; m."""
    (x, z), half = chord_middle(slot), length_mm * MM / 2
    if slot.shape == "straight":
        return (x, z - half), (x, z + half)
    along = np.linspace(-half, half, _PIECES + 1)
    points, _ = centre_line(slot.shape, slot.length_mm * MM, slot.aside_mm * MM, along)
    return tuple((x + float(u), z + float(v)) for u, v in points)
