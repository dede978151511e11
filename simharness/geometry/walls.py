"""The metal of the guide."""

from __future__ import annotations

from collections.abc import Iterator

from shapely.geometry import Polygon

from simharness.constants import MM
from simharness.geometry.coax import passage
from simharness.geometry.scene import METAL, Feature, Prism, circle, rectangle
from simharness.records import BentProbe, CoaxFeed, Feed, Guide, Record
from simharness.records.outlines import slot_outline, squared_outline, squared_slot


def walls(record: Record, near: float, far: float, feed: str) -> Iterator[Prism]:
    """Walls and ends; `near`, `far`: length of a guide port behind either end, m."""
    guide = record.guide
    a, b, length = guide.a, guide.b, guide.length
    front, other = guide.front_metal, guide.other_walls
    x = a / 2 + other
    z0, z1 = -near - other, length + far + other
    for face, low, high in (("front", 0.0, front), ("back", -b - other, -b)):
        slots = [slot for slot in record.slots if slot.face == face]
        hole = _feed_hole(guide, record.feed, face) if feed == "coax" else ()
        cut, squared = ([outline(slot) for slot in slots] for outline in (slot_outline, squared_outline))
        meshed = rectangle(-x, x, z0, z1, (*squared, *hole)) if slots else None
        off_grid = tuple(squared_slot(slot) for slot in slots if slot.off_grid)
        yield Prism(
            f"{face} wall", METAL, 1, low, high, rectangle(-x, x, z0, z1, (*cut, *hole)), meshed, off_grid
        )
    for side, low in (("left side wall", -x), ("right side wall", a / 2)):
        yield Prism(side, METAL, 0, low, low + other, rectangle(-b - other, front, z0, z1))
    for end, low in (("near", z0), ("far", z1 - other)):
        hole = _feed_hole(guide, record.feed, end) if feed == "coax" else ()
        yield Prism(f"{end} end", METAL, 2, low, low + other, rectangle(-x, x, -b - other, front, hole))


def _feed_hole(guide: Guide, feed: Feed, wall: str) -> tuple[Polygon, ...]:
    """The hole for the coax, if it comes through this wall: 'front', 'back', or the 'near' or 'far' end."""
    if not isinstance(feed, CoaxFeed) or wall != ("near" if isinstance(feed, BentProbe) else feed.wall):
        return ()
    (_, u), (_, v) = passage(guide, feed).across
    return (circle(u, v, feed.coax_outer),)


def finest_slot(record: Record) -> float:
    """Width of the narrowest slot, m; 0 without slots."""
    return min((s.width_mm for s in record.slots), default=0.0) * MM


def guide_features(record: Record, near: float, far: float) -> Iterator[Feature]:
    """What the mesh must honour of the walls."""
    guide = record.guide
    a, b, length = guide.a, guide.b, guide.length
    other = guide.other_walls
    yield Feature("guide width", 0, -a / 2, a / 2)
    yield Feature("guide height", 1, -b, 0.0)
    yield Feature("guide length", 2, -near, length + far)
    finest = finest_slot(record)
    if guide.substrate is None:
        yield Feature("front wall", 1, 0.0, guide.front_wall, scale=finest)
    if any(slot.face == "back" for slot in record.slots):
        yield Feature("back wall", 1, -b - other, -b, scale=finest)
    yield Feature("wall", 0, -a / 2 - other, -a / 2, soft=True)
    yield Feature("wall", 0, a / 2, a / 2 + other, soft=True)
    yield Feature("wall", 1, -b - other, -b, soft=True)
    yield Feature("wall", 2, -near - other, -near, soft=True)
    yield Feature("wall", 2, length + far, length + far + other, soft=True)
