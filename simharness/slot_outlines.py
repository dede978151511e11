"""Outlines of slots in the plane of the wall: as they are cut, and as a mesh of few cells takes them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon

from simharness.constants import MM
from simharness.em.centre_line import centre_line
from simharness.em.slot import rectangular_length
from simharness.scene import Askew, Outline, constant_width_outline

if TYPE_CHECKING:  # the records themselves look at outlines
    from simharness.records import Slot

_PIECES = 64
"""Chords of a curved centre line: they leave a half circle by less than 4e-4 of its radius."""

_FILLINGS = 16
"""Pieces of a slot askew to the mesh, an even number."""


def slot_outline(slot: Slot) -> Polygon:
    """Outline of a slot in the plane of the wall, (x, z) in m."""
    return constant_width_outline(_centre_line(slot, slot.length_mm), slot.width_mm * MM, slot.ends, (slot.tip_mm or 0.0) * MM)


def squared_outline(slot: Slot) -> Polygon:
    """The slot with square ends for round ones, of the same width and area."""
    length, ends = rectangular_length(slot.length_mm, slot.width_mm, slot.ends), "square" if slot.ends == "round" else slot.ends
    return constant_width_outline(_centre_line(slot, length), slot.width_mm * MM, ends, (slot.tip_mm or 0.0) * MM)


def chord_middle(slot: Slot) -> tuple[float, float]:
    """The middle between the tips of a slot (x, z), m."""
    return slot.offset_mm * MM, slot.position_mm * MM


def slot_middle(slot: Slot) -> tuple[float, float]:
    """The middle of the centre line (x, z), m."""
    x, z = chord_middle(slot)
    return x + (slot.aside_mm * MM if slot.shape == "bent" else 0.0), z


def askew_opening(slot: Slot) -> Askew:
    """The meshed outline of a curved or tapered slot in pieces along its centre line."""
    length, width = slot.length_mm * MM, slot.width_mm * MM
    cuts = np.linspace(-length / 2, length / 2, _FILLINGS + 1)
    points, tangents = centre_line(slot.shape, length, slot.aside_mm * MM, cuts)
    points = points + chord_middle(slot)
    # whole at the tips, in spite of rounding
    points[[0, -1]] += 0.5 * width * tangents[[0, -1]] * [[-1], [1]]
    _, middle = centre_line(slot.shape, length, slot.aside_mm * MM, (cuts[1:] + cuts[:-1]) / 2)
    normals = width * np.stack([tangents[:, 1], -tangents[:, 0]], axis=1)
    left, right = points - normals, points + normals
    pieces = tuple(
        (Outline(tuple(map(tuple, (left[i], right[i], right[i + 1], left[i + 1])))), math.atan2(*middle[i])) for i in range(_FILLINGS)
    )
    return Askew(Outline.of(squared_outline(slot)), width, pieces)


def _centre_line(slot: Slot, length_mm: float) -> tuple[tuple[float, float], ...]:
    """Points of the centre line, shortened or not at its tips to a length; m."""
    (x, z), half = chord_middle(slot), length_mm * MM / 2
    if slot.shape == "straight":
        return (x, z - half), (x, z + half)
    along = np.linspace(-half, half, _PIECES + 1)
    points, _ = centre_line(slot.shape, slot.length_mm * MM, slot.aside_mm * MM, along)
    return tuple((x + float(u), z + float(v)) for u, v in points)
