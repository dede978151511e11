"""What contradicts a tuning screw: (field, value, what would be allowed)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from shapely.geometry import Point

from simharness.records.feeds import BentProbe, Feed, Probe
from simharness.records.guide import Guide
from simharness.records.mending.parts import Screw
from simharness.records.outlines import slot_outline
from simharness.records.problems import Problem, rounded_down
from simharness.records.slots import Slot

DEEPEST = 0.9
"""Of the height of the guide: nearer to the front wall nobody can set the gap before the tip."""
WIDEST = 0.25
"""Of the width of the guide: thicker ones are no posts to the estimate."""


def screw_problems(
    guide: Guide, feed: Feed, slots: Sequence[Slot], screws: Sequence[Screw]
) -> Iterator[Problem]:
    """Screws against the guide, the feed, slots in their wall and each other."""
    if screws and guide.shape != "rectangular":
        yield "screw", len(screws), "a screw in a round tube is not modelled; leave it out"
        return
    for i, screw in enumerate(screws, 1):
        alone = list(_in_guide(guide, i, screw))
        yield from alone
        if alone:
            continue
        where, at = f"screw {i} position_mm", screw.position_mm
        meets = [
            *(f"screw {j}" for j, other in enumerate(screws[: i - 1], 1) if _overlap(screw, other)),
            *(f"slot {j}" for j, slot in enumerate(slots, 1) if _cuts(screw, slot)),
            *(["the probe"] if _meets_feed(guide, feed, screw) else []),
        ]
        if meets:
            yield where, at, f"it would run into {meets[0]}; move it along or across"


def _in_guide(guide: Guide, number: int, screw: Screw) -> Iterator[Problem]:
    radius, name = screw.diameter_mm / 2, f"screw {number}"
    if screw.diameter_mm > WIDEST * guide.width_mm:
        most = rounded_down(WIDEST * guide.width_mm)
        yield f"{name} diameter_mm", screw.diameter_mm, f"at most a quarter of the inner width, {most:g}"
        return
    low, high = (guide.near_plate_mm or 0.0) + radius, guide.length_mm - (guide.far_plate_mm or 0.0) - radius
    if not low < screw.position_mm < high:
        allowed = f"must lie inside the guide, between {low:g} and {high:g}"
        yield f"{name} position_mm", screw.position_mm, allowed
    room = guide.width_mm / 2 - radius
    if abs(screw.offset_mm) >= room:
        yield f"{name} offset_mm", screw.offset_mm, f"must stay off the side walls: less than {room:g}"
    if screw.depth_mm > DEEPEST * guide.height_mm:
        most = rounded_down(DEEPEST * guide.height_mm)
        allowed = f"its tip must stay off the front wall by a tenth of the height; at most {most:g}"
        yield f"{name} depth_mm", screw.depth_mm, allowed


def _overlap(one: Screw, two: Screw) -> bool:
    apart = math.hypot(one.position_mm - two.position_mm, one.offset_mm - two.offset_mm)
    return apart <= (one.diameter_mm + two.diameter_mm) / 2


def _cuts(screw: Screw, slot: Slot) -> bool:
    if slot.face != "back":
        return False
    return bool(slot_outline(slot).distance(Point(screw.offset, screw.position)) <= screw.diameter * 0.5)


def _meets_feed(guide: Guide, feed: Feed, screw: Screw) -> bool:
    radius = screw.diameter_mm / 2
    if isinstance(feed, Probe):
        apart = math.hypot(screw.position_mm - feed.position_mm, screw.offset_mm - feed.offset_mm)
        hole = feed.coax_outer_mm if feed.wall == "back" else 0.0
        flange = (feed.flange_mm or 0.0) if feed.wall == "back" else 0.0
        aside = max(abs(screw.position_mm - feed.position_mm), abs(screw.offset_mm - feed.offset_mm))
        return apart <= radius + max(feed.wire_diameter_mm, hole) / 2 or aside <= radius + flange / 2
    if isinstance(feed, BentProbe):
        wire = feed.wire_diameter_mm / 2
        return abs(screw.offset_mm - feed.offset_mm) <= radius + wire and (
            screw.position_mm <= feed.run_mm + wire + radius
        )
    return False
