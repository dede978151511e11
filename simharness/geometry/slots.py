"""Openings in the walls: what the mesh must honour of them."""

from __future__ import annotations

import math

from shapely.geometry import Polygon

from simharness.constants import MM
from simharness.em.slot.centre_line import arc_half_angle
from simharness.em.slot.shape import rectangular_length
from simharness.geometry.scene import Feature, SlotMark, extent_features
from simharness.records import Guide, RoundGuide, Slot
from simharness.records.outlines import slot_middle, slot_outline, squared_outline

_ACROSS = 1.5
"""Of its own width: the line on which the voltage across a curved slot is taken must reach metal on either side."""


def front_outline(guide: Guide, slot: Slot) -> Polygon:
    """Outline of a slot as it is seen from the front, (x, z) in m."""
    outline = slot_outline(slot)
    if not isinstance(guide, RoundGuide):
        return outline
    radius = guide.outer_radius
    return Polygon([(radius * math.sin(arc / radius), z) for arc, z in outline.exterior.coords])


def slot_wall(slot: Slot, guide: Guide) -> tuple[float, float]:
    """Inner and outer face of the wall that a slot is cut into, y in m."""
    if slot.face == "front":
        return 0.0, guide.front_metal
    return -guide.b, -guide.b - guide.other_walls


def slot_features(slot: Slot, guide: Guide) -> tuple[Feature, ...]:
    """Width and length of a slot; of one askew to the mesh, its whole extent."""
    inner, outer = slot_wall(slot, guide)
    wall = abs(outer - inner)
    if slot.off_grid:
        return extent_features(squared_outline(slot), slot.width, wall)
    x, z = slot.offset, slot.position
    half_width = slot.width / 2
    half_length = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * MM / 2
    return (
        Feature("slot width", 0, x - half_width, x + half_width, depth=wall),
        Feature("slot length", 2, z - half_length, z + half_length, scale=2 * half_width, depth=wall),
    )


def slot_mark(slot: Slot, guide: Guide) -> SlotMark:
    """Where the voltage of a slot is recorded: across its middle at its outer face, across the guide."""
    x, z = slot_middle(slot)
    width, length = slot.width, slot.length
    if slot.off_grid:
        turn = arc_half_angle(slot.shape, length, slot.aside) if slot.shape == "s" else 0.0
        width *= _ACROSS / math.cos(turn)
    return SlotMark(x, z, width, length, slot_wall(slot, guide)[1], slot.face)
