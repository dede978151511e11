"""The metal of the guide."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.constants import MM
from simharness.records import Probe, Record
from simharness.scene import METAL, Feature, Prism, circle, rectangle
from simharness.slot_outlines import slot_outline, squared_outline, squared_slot


def walls(record: Record, near: float, far: float, feed: str) -> Iterator[Prism]:
    """Walls and ends; `near`, `far`: length of a guide port behind either end, m."""
    guide = record.guide
    a, b, length = guide.a_mm * MM, guide.b_mm * MM, guide.length_mm * MM
    front, other = guide.front_wall_mm * MM, guide.other_walls_mm * MM
    x = a / 2 + other
    z0, z1 = -near - other, length + far + other
    openings = {"front": [slot_outline(s) for s in record.slots], "back": []}
    if isinstance(record.feed, Probe) and feed == "coax":
        probe = record.feed
        openings[probe.wall].append(circle(probe.offset_mm * MM, probe.position_mm * MM, probe.coax_outer_mm * MM))
    squared = [squared_outline(s) for s in record.slots] + openings["front"][len(record.slots):]
    yield Prism(
        "front wall", METAL, 1, 0.0, front, rectangle(-x, x, z0, z1, tuple(openings["front"])),
        rectangle(-x, x, z0, z1, tuple(squared)),
        tuple(squared_slot(s) for s in record.slots if s.askew),
    )
    yield Prism("back wall", METAL, 1, -b - other, -b, rectangle(-x, x, z0, z1, tuple(openings["back"])))
    for side, low in (("left side wall", -x), ("right side wall", a / 2)):
        yield Prism(side, METAL, 0, low, low + other, rectangle(-b - other, front, z0, z1))
    for end, low in (("near end", z0), ("far end", z1 - other)):
        yield Prism(end, METAL, 2, low, low + other, rectangle(-x, x, -b - other, front))


def guide_features(record: Record, near: float, far: float) -> Iterator[Feature]:
    """What the mesh must honour of the walls."""
    guide = record.guide
    a, b, length = guide.a_mm * MM, guide.b_mm * MM, guide.length_mm * MM
    other = guide.other_walls_mm * MM
    yield Feature("guide width", 0, -a / 2, a / 2)
    yield Feature("guide height", 1, -b, 0.0)
    yield Feature("guide length", 2, -near, length + far)
    finest = min((s.width_mm for s in record.slots), default=0.0) * MM
    yield Feature("front wall", 1, 0.0, guide.front_wall_mm * MM, scale=finest)
    yield Feature("wall", 0, -a / 2 - other, -a / 2, soft=True)
    yield Feature("wall", 0, a / 2, a / 2 + other, soft=True)
    yield Feature("wall", 1, -b - other, -b, soft=True)
    yield Feature("wall", 2, -near - other, -near, soft=True)
    yield Feature("wall", 2, length + far, length + far + other, soft=True)
