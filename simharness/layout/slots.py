"""Openings in the walls: outlines, and what the mesh must honour of them."""

from __future__ import annotations

import math

from shapely.geometry import Polygon

from simharness.constants import MM
from simharness.em.slot_shape import rectangular_length
from simharness.records import Guide, RoundGuide, Slot
from simharness.scene import Feature, constant_width_outline


def slot_outline(slot: Slot) -> Polygon:
    """Outline of a slot in the plane of the wall, (x, z) in m."""
    x, z, half = slot.offset_mm * MM, slot.position_mm * MM, slot.length_mm * MM / 2
    return constant_width_outline(((x, z - half), (x, z + half)), slot.width_mm * MM, slot.ends)


def front_outline(guide: Guide, slot: Slot) -> Polygon:
    """Outline of a slot as it is seen from the front, (x, z) in m."""
    outline = slot_outline(slot)
    if not isinstance(guide, RoundGuide):
        return outline
    radius = guide.outer_radius_mm * MM
    return Polygon([(radius * math.sin(arc / radius), z) for arc, z in outline.exterior.coords])


def squared_outline(slot: Slot) -> Polygon:
    """The slot as a rectangle of the same width and area."""
    half = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * MM / 2
    x, z = slot.offset_mm * MM, slot.position_mm * MM
    return constant_width_outline(((x, z - half), (x, z + half)), slot.width_mm * MM, "square")


def slot_features(slot: Slot, wall: float) -> tuple[Feature, ...]:
    """Width and length of a slot in a wall of this thickness, m."""
    x, z = slot.offset_mm * MM, slot.position_mm * MM
    half_width = slot.width_mm * MM / 2
    half_length = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * MM / 2
    return (
        Feature("slot width", 0, x - half_width, x + half_width, depth=wall),
        Feature("slot length", 2, z - half_length, z + half_length, scale=2 * half_width, depth=wall),
    )
