"""The metal of a rectangular guide, its slots, and what the mesh must honour of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from shapely.geometry import Polygon

from simharness.constants import MM
from simharness.em.slot.shape import arc_half_angle, rectangular_length
from simharness.geometry.dielectrics import cover_pieces, substrate_pieces
from simharness.geometry.mending import plate_pieces
from simharness.geometry.pieces import Hole, Pieces
from simharness.geometry.scene import Feature, ModePort, SlotMark, extent_features
from simharness.geometry.solids import METAL, Material, Outline, Prism, block, circle, rectangle
from simharness.records import Record, RectangularGuide, Slot
from simharness.records.outlines import slot_middle, slot_outline, squared_outline, squared_slot

_ACROSS = 1.5
"""Length of the line on which the voltage across a curved slot is taken, in widths of the slot: it must reach
metal on either side."""


class RectangularShape:
    """A rectangular guide; for the methods see `shapes.GuideShape`."""

    def __init__(self, guide: RectangularGuide):
        self.guide = guide

    def pieces(self, record: Record, near: float, far: float, holes: Mapping[str, Hole]) -> Iterator[Pieces]:
        """Walls, slots and laminate."""
        guide = self.guide
        yield Pieces(
            tuple(self._walls(record.slots, near, far, holes)),
            tuple(self._features(record.slots, near, far)),
        )
        for slot in record.slots:
            yield Pieces((), slot_features(slot, guide))
        yield from plate_pieces(guide)
        if guide.substrate is not None:
            yield substrate_pieces(guide, record.slots, near, far, record.band.centre)
        yield from cover_pieces(record, guide, near, far)

    def _walls(
        self, slots: Sequence[Slot], near: float, far: float, holes: Mapping[str, Hole]
    ) -> Iterator[Prism]:
        """Walls and ends."""
        guide = self.guide
        a, b, length = guide.a, guide.b, guide.length
        front, other = guide.front_metal, guide.other_walls
        x = a / 2 + other
        z0, z1 = -near - other, length + far + other
        for face, low, high in (("front", 0.0, front), ("back", -b - other, -b)):
            own = [slot for slot in slots if slot.face == face]
            hole = _circles(holes, face)
            cut, squared = ([outline(slot) for slot in own] for outline in (slot_outline, squared_outline))
            meshed = rectangle(-x, x, z0, z1, (*squared, *hole)) if own else None
            off_grid = tuple(squared_slot(slot) for slot in own if slot.off_grid)
            outline = rectangle(-x, x, z0, z1, (*cut, *hole))
            yield Prism(f"{face} wall", METAL, 1, low, high, outline, meshed, off_grid)
        for side, low in (("left side wall", -x), ("right side wall", a / 2)):
            yield Prism(side, METAL, 0, low, low + other, rectangle(-b - other, front, z0, z1))
        for end, low in (("near", z0), ("far", z1 - other)):
            outline = rectangle(-x, x, -b - other, front, _circles(holes, end))
            yield Prism(f"{end} end", METAL, 2, low, low + other, outline)

    def _features(self, slots: Sequence[Slot], near: float, far: float) -> Iterator[Feature]:
        """What the mesh must honour of the walls."""
        guide = self.guide
        a, b, length, other = guide.a, guide.b, guide.length, guide.other_walls
        yield Feature("guide width", 0, -a / 2, a / 2)
        yield Feature("guide height", 1, -b, 0.0)
        yield Feature("guide length", 2, guide.near_face - near, guide.far_face + far)
        finest = min((slot.width for slot in slots), default=0.0)
        if guide.substrate is None:
            yield Feature("front wall", 1, 0.0, guide.front_wall, scale=finest)
        if any(slot.face == "back" for slot in slots):
            yield Feature("back wall", 1, -b - other, -b, scale=finest)
        yield Feature("wall", 0, -a / 2 - other, -a / 2, soft=True)
        yield Feature("wall", 0, a / 2, a / 2 + other, soft=True)
        yield Feature("wall", 1, -b - other, -b, soft=True)
        yield Feature("wall", 2, -near - other, -near, soft=True)
        yield Feature("wall", 2, length + far, length + far + other, soft=True)

    def filling(self, part: str, material: Material, low: float, high: float) -> Prism:
        """The whole inside from z = `low` to `high`."""
        half, height = self.guide.width / 2, self.guide.height
        return block(part, material, (-half, half, -height, 0.0, low, high))

    def mode_port(self, direction: int, plane: float, reference: float, source: float | None) -> ModePort:
        """A port of TE10."""
        a, b = self.guide.a, self.guide.b
        return ModePort(a, b, 0.0, -b, direction, plane=plane, reference=reference, source=source)

    def slot_mark(self, slot: Slot) -> SlotMark:
        """Where the voltage across a slot is recorded."""
        return slot_mark(slot, self.guide)

    def front_outline(self, slot: Slot) -> Polygon:
        """The outline itself."""
        return slot_outline(slot)

    def unrolled(self, slots: Sequence[Slot], holes: Mapping[str, Hole]) -> tuple[Outline, ...]:
        """None: its walls are flat."""
        return ()

    @property
    def side_wall_mm(self) -> float:
        """Height of a side wall, mm."""
        return self.guide.b_mm


def _circles(holes: Mapping[str, Hole], wall: str) -> tuple[Polygon, ...]:
    hole = holes.get(wall)
    return () if hole is None else (circle(hole.u, hole.v, hole.diameter),)


def _slot_wall(slot: Slot, guide: RectangularGuide) -> tuple[float, float]:
    """Inner and outer face of the wall that a slot is cut into, y in m."""
    if slot.face == "front":
        return 0.0, guide.front_metal
    return -guide.b, -guide.b - guide.other_walls


def slot_features(slot: Slot, guide: RectangularGuide) -> tuple[Feature, ...]:
    """Width and length of a slot; of one off the grid of the mesh, its whole extent."""
    inner, outer = _slot_wall(slot, guide)
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


def slot_mark(slot: Slot, guide: RectangularGuide) -> SlotMark:
    """Where the voltage of a slot is recorded: across its middle at its outer face, across the guide."""
    x, z = slot_middle(slot)
    width = slot.width
    if slot.off_grid:
        turn = arc_half_angle(slot.shape, slot.length, slot.aside) if slot.shape == "s" else 0.0
        width *= _ACROSS / math.cos(turn)
    return SlotMark(x, z, width, slot.length, _slot_wall(slot, guide)[1], slot.face)
