"""The metal of a round tube: its wall in pieces along the axis, left open where the slots are.

The axis of the tube is x = 0, y = -D/2, and its front line, from which the offsets of the slots are counted
as arc lengths on the outer surface, is x = 0, y = 0 at the inner face.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from shapely.geometry import Polygon

from simharness.constants import MM
from simharness.em.slot.shape import rectangular_length
from simharness.geometry.pieces import Hole, Pieces
from simharness.geometry.scene import Feature, RoundModePort, SlotMark
from simharness.geometry.solids import METAL, Material, Outline, Prism, TubePart, circle, tube_part
from simharness.records import Record, RoundGuide, Slot
from simharness.records.outlines import slot_outline


class RoundShape:
    """A round tube; for the methods see `shapes.GuideShape`."""

    def __init__(self, guide: RoundGuide):
        self.guide = guide
        self._radii = guide.diameter / 2, guide.outer_radius

    def pieces(self, record: Record, near: float, far: float, holes: Mapping[str, Hole]) -> Iterator[Pieces]:
        """Wall and slots; a coax cuts its own hole into it."""
        yield Pieces(
            tuple(self._walls(record.slots, near, far)), tuple(self._features(record.slots, near, far))
        )
        for slot in record.slots:
            yield Pieces((), self._slot_features(slot))

    def _walls(self, slots: Sequence[Slot], near: float, far: float) -> Iterator[TubePart]:
        """Wall and end plates."""
        radii, plate = self._radii, self.guide.wall
        z0, z1 = -near, self.guide.length + far
        reaches = [_reach(slot) for slot in slots]
        places = sorted({z0, z1, *(z for reach in reaches for z in reach if z0 < z < z1)})
        for low, high in pairwise(places):
            middle = (low + high) / 2
            gaps = sorted(
                self._gap(slot) for slot, (start, stop) in zip(slots, reaches) if start < middle < stop
            )
            for sector in _sectors(gaps):
                yield tube_part("tube", "wall", METAL, radii, -radii[0], (low, high), sector)
        for end, span in (("near end", (z0 - plate, z0)), ("far end", (z1, z1 + plate))):
            yield tube_part(end, "end", METAL, radii, -radii[0], span)

    def _features(self, slots: Sequence[Slot], near: float, far: float) -> Iterator[Feature]:
        """What the mesh must honour of the tube: its outline, and the level of its wall at every slot."""
        inner, length, plate = self._radii[0], self.guide.length, self.guide.wall
        yield Feature("tube", 0, -inner, inner)
        yield Feature("tube", 1, -2 * inner, 0.0)
        yield Feature("guide length", 2, self.guide.near_face - near, self.guide.far_face + far)
        finest = min((slot.width for slot in slots), default=0.0)
        for angle in sorted({round(abs(self._angle(slot)), 9) for slot in slots}):
            low, high = (radius * math.cos(angle) - inner for radius in self._radii)
            yield Feature("front wall", 1, low, high, scale=finest)
        for axis, middle, half in ((0, 0.0, inner), (1, -inner, inner)):
            yield Feature("wall", axis, middle - half - plate, middle - half, soft=True)
            yield Feature("wall", axis, middle + half, middle + half + plate, soft=True)
        yield Feature("wall", 2, -near - plate, -near, soft=True)
        yield Feature("wall", 2, length + far, length + far + plate, soft=True)

    def _slot_features(self, slot: Slot) -> tuple[Feature, ...]:
        """Width and length of a slot, its edges as seen from the front."""
        middle, wall = sum(self._radii) / 2, self.guide.wall
        low, high = (middle * math.sin(angle) for angle in self._gap(slot))
        return (
            Feature("slot width", 0, low, high, depth=wall),
            Feature("slot length", 2, *_reach(slot), scale=slot.width, depth=wall),
        )

    def _angle(self, slot: Slot) -> float:
        """Where a slot lies, rad from the front line, positive towards +x."""
        return slot.offset_mm / self.guide.outer_radius_mm

    def _gap(self, slot: Slot) -> tuple[float, float]:
        """Angles of the edges of a slot with parallel sides, in the middle of the wall."""
        half = slot.width_mm / (self.guide.diameter_mm + self.guide.wall_mm)
        return self._angle(slot) - half, self._angle(slot) + half

    def filling(self, part: str, material: Material, low: float, high: float) -> Prism:
        """The whole inside from z = `low` to `high`."""
        radius = self._radii[0]
        return tube_part(part, "filling", material, (radius, radius), -radius, (low, high))

    def mode_port(
        self, direction: int, plane: float, reference: float, source: float | None
    ) -> RoundModePort:
        """A port of TE11."""
        width, height = self.guide.line[0], self.guide.diameter
        return RoundModePort(
            width, height, 0.0, -height, direction, plane=plane, reference=reference, source=source
        )

    def slot_mark(self, slot: Slot) -> SlotMark:
        """Where the voltage across a slot is recorded: between its outer edges, along x."""
        (inner, outer), angle = self._radii, self._angle(slot)
        return SlotMark(
            outer * math.sin(angle),
            slot.position,
            slot.width * math.cos(angle),
            slot.length,
            outer * math.cos(angle) - inner,
        )

    def front_outline(self, slot: Slot) -> Polygon:
        """The outline on the outer surface, seen along y."""
        outer = self._radii[1]
        return Polygon([(outer * math.sin(arc / outer), z) for arc, z in slot_outline(slot).exterior.coords])

    def unrolled(self, slots: Sequence[Slot], holes: Mapping[str, Hole]) -> tuple[Outline, ...]:
        """Slots and the hole of a probe on the outer surface; what the wall is cut by."""
        front_line = {"front": 0.0, "back": math.pi * self._radii[1]}
        polygons = [slot_outline(slot) for slot in slots]
        polygons += [circle(front_line[wall] + hole.u, hole.v, hole.diameter) for wall, hole in holes.items()]
        return tuple(Outline.of(polygon) for polygon in polygons)

    @property
    def side_wall_mm(self) -> None:
        """None: a tube has no side wall."""
        return None


def _reach(slot: Slot) -> tuple[float, float]:
    """Ends of the slot as a rectangle of its area, m."""
    half = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) / 2
    return (slot.position_mm - half) * MM, (slot.position_mm + half) * MM


def _sectors(gaps: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """What is left of the ring between gaps in order: between neighbours, and round the back."""
    if not gaps:
        return [(-math.pi, math.pi)]
    between = [(one[1], two[0]) for one, two in pairwise(gaps)]
    return [*between, (gaps[-1][1], gaps[0][0] + 2 * math.pi)]
