"""Openings in the walls: outlines, and what the mesh must honour of them."""

from __future__ import annotations

from shapely.geometry import Polygon

from simharness.constants import MM
from simharness.em.slot_shape import rectangular_length
from simharness.records import Guide, Slot
from simharness.scene import Feature, SlotMark, constant_width_outline


def slot_outline(slot: Slot) -> Polygon:
    """Outline of a slot in the plane of the wall, (x, z) in m."""
    x, z, half = slot.offset_mm * MM, slot.position_mm * MM, slot.length_mm * MM / 2
    return constant_width_outline(((x, z - half), (x, z + half)), slot.width_mm * MM, slot.ends)


def squared_outline(slot: Slot) -> Polygon:
    """The slot as a rectangle of the same width and area."""
    half = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * MM / 2
    x, z = slot.offset_mm * MM, slot.position_mm * MM
    return constant_width_outline(((x, z - half), (x, z + half)), slot.width_mm * MM, "square")


def slot_wall(slot: Slot, guide: Guide) -> tuple[float, float]:
    """Inner and outer face of the wall that a slot is cut into, y in m."""
    if slot.face == "front":
        return 0.0, guide.front_metal_mm * MM
    return -guide.b_mm * MM, -guide.b_mm * MM - guide.other_walls_mm * MM


def slot_mark(slot: Slot, guide: Guide) -> SlotMark:
    """Where the voltage of a slot is recorded: across its outer face."""
    return SlotMark(slot.offset_mm * MM, slot.position_mm * MM, slot.width_mm * MM, slot.length_mm * MM,
                    slot_wall(slot, guide)[1], slot.face)


def slot_features(slot: Slot, guide: Guide) -> tuple[Feature, ...]:
    """Width and length of a slot."""
    inner, outer = slot_wall(slot, guide)
    wall = abs(outer - inner)
    x, z = slot.offset_mm * MM, slot.position_mm * MM
    half_width = slot.width_mm * MM / 2
    half_length = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * MM / 2
    return (
        Feature("slot width", 0, x - half_width, x + half_width, depth=wall),
        Feature("slot length", 2, z - half_length, z + half_length, scale=2 * half_width, depth=wall),
    )
