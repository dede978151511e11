"""The metal of a round tube: its wall in pieces along the axis, left open where the slots are.

The axis of the tube is x = 0, y = -D/2, and its front line, from which the offsets of the slots are counted as
arc lengths on the outer surface, is x = 0, y = 0 at the inner face.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from simharness.constants import MM
from simharness.em.slot.shape import rectangular_length
from simharness.geometry.scene import METAL, Feature, Outline, SlotMark, TubePart, circle, tube_part
from simharness.records import Probe, Record, RoundGuide, Slot
from simharness.records.outlines import slot_outline


def slot_angle(guide: RoundGuide, slot: Slot) -> float:
    """Where a slot lies, rad from the front line, positive towards +x."""
    return slot.offset_mm / guide.outer_radius_mm


def _radii(guide: RoundGuide) -> tuple[float, float]:
    return guide.diameter_mm / 2 * MM, guide.outer_radius


def _gap(guide: RoundGuide, slot: Slot) -> tuple[float, float]:
    """Angles of the edges of a slot with parallel sides, in the middle of the wall."""
    half = slot.width_mm / (guide.diameter_mm + guide.wall_mm)
    return slot_angle(guide, slot) - half, slot_angle(guide, slot) + half


def _reach(slot: Slot) -> tuple[float, float]:
    """Ends of the slot as a rectangle of its area, m."""
    half = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) / 2
    return (slot.position_mm - half) * MM, (slot.position_mm + half) * MM


def tube_walls(record: Record, near: float, far: float) -> Iterator[TubePart]:
    """Wall and end plates; `near`, `far`: length of a guide port behind either end, m."""
    guide = record.guide
    assert isinstance(guide, RoundGuide)
    radii, plate = _radii(guide), guide.wall
    z0, z1 = -near, guide.length + far
    reaches = [_reach(slot) for slot in record.slots]
    places = sorted({z0, z1, *(z for reach in reaches for z in reach if z0 < z < z1)})
    for low, high in zip(places, places[1:]):
        middle = (low + high) / 2
        gaps = sorted(
            _gap(guide, s) for s, (start, stop) in zip(record.slots, reaches) if start < middle < stop
        )
        for sector in _sectors(gaps):
            yield tube_part("tube", "wall", METAL, radii, -radii[0], (low, high), sector)
    for end, span in (("near end", (z0 - plate, z0)), ("far end", (z1, z1 + plate))):
        yield tube_part(end, "end", METAL, radii, -radii[0], span)


def _sectors(gaps: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """What is left of the ring between gaps in order: between neighbours, and round the back."""
    if not gaps:
        return [(-math.pi, math.pi)]
    between = [(one[1], two[0]) for one, two in zip(gaps, gaps[1:])]
    return [*between, (gaps[-1][1], gaps[0][0] + 2 * math.pi)]


def tube_features(record: Record, near: float, far: float) -> Iterator[Feature]:
    """What the mesh must honour of the tube: its outline, and the level of its wall at every slot."""
    guide = record.guide
    assert isinstance(guide, RoundGuide)
    (inner, outer), length = _radii(guide), guide.length
    yield Feature("tube", 0, -inner, inner)
    yield Feature("tube", 1, -2 * inner, 0.0)
    yield Feature("guide length", 2, -near, length + far)
    finest = min((s.width_mm for s in record.slots), default=0.0) * MM
    levels = sorted({round(abs(slot_angle(guide, slot)), 9) for slot in record.slots})
    for angle in levels:
        yield Feature(
            "front wall", 1, inner * math.cos(angle) - inner, outer * math.cos(angle) - inner, scale=finest
        )
    plate = guide.wall
    for axis, middle, half in ((0, 0.0, inner), (1, -inner, inner)):
        yield Feature("wall", axis, middle - half - plate, middle - half, soft=True)
        yield Feature("wall", axis, middle + half, middle + half + plate, soft=True)
    yield Feature("wall", 2, -near - plate, -near, soft=True)
    yield Feature("wall", 2, length + far, length + far + plate, soft=True)


def tube_slot_features(guide: RoundGuide, slot: Slot) -> tuple[Feature, ...]:
    """Width and length of a slot, its edges as seen from the front."""
    middle, wall = sum(_radii(guide)) / 2, guide.wall
    low, high = (middle * math.sin(angle) for angle in _gap(guide, slot))
    return (
        Feature("slot width", 0, low, high, depth=wall),
        Feature("slot length", 2, *_reach(slot), scale=slot.width, depth=wall),
    )


def tube_slot_mark(slot: Slot, guide: RoundGuide) -> SlotMark:
    """Where the voltage across a slot is recorded: between its outer edges, along x."""
    inner, outer = _radii(guide)
    angle = slot_angle(guide, slot)
    return SlotMark(
        outer * math.sin(angle),
        slot.position,
        slot.width * math.cos(angle),
        slot.length,
        outer * math.cos(angle) - inner,
    )


def unrolled_openings(record: Record) -> tuple[Outline, ...]:
    """Slots and the hole of a probe on the outer surface, (arc from the front line, z); what the wall is cut by."""
    guide, feed = record.guide, record.feed
    assert isinstance(guide, RoundGuide)
    found = [slot_outline(slot) for slot in record.slots]
    if isinstance(feed, Probe):
        arc = 0.0 if feed.wall == "front" else math.pi * guide.outer_radius_mm * MM
        found.append(circle(arc, feed.position, feed.coax_outer))
    return tuple(Outline.of(polygon) for polygon in found)
