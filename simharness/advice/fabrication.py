"""What no one can make with tools at hand, however well the numbers fit."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.records import CoaxFeed, Record, RoundGuide

SAWN_MM = 0.3
ETCHED_MM = 0.15
"""Narrowest slot of a fine saw blade or cutter, and of a home-made etching (common practice)."""

THINNEST_WIRE_MM = 0.2
"""Of a probe that stands by itself (common practice)."""

THINNEST_WALL_MM = 0.1
THICKEST_FOLD_MM = 2.0
"""Of sheet that keeps its shape as a wall, and of sheet that is folded by hand (common practice)."""


def fabrication_warnings(record: Record) -> Iterator[str]:
    """Sentences about dimensions that cannot be made or do not hold."""
    guide, feed = record.guide, record.feed
    etched = guide.substrate is not None and guide.substrate.slots == "etched"
    least = ETCHED_MM if etched else SAWN_MM
    narrow = [index for index, slot in enumerate(record.slots, 1) if slot.width_mm < least]
    if narrow:
        width = min(record.slots[index - 1].width_mm for index in narrow)
        which = (
            f"slot {narrow[0]} is"
            if len(narrow) == 1
            else f"{len(narrow)} slots are"
            if len(narrow) < len(record.slots)
            else "the slots are"
        )
        yield f"{which} {width:g} mm wide: {'etching keeps' if etched else 'a fine saw or cutter makes'} {least:g} mm at the narrowest (common practice)"
    if isinstance(feed, CoaxFeed) and feed.wire_diameter_mm < THINNEST_WIRE_MM:
        yield f"a wire of {feed.wire_diameter_mm:g} mm does not stand by itself; take {THINNEST_WIRE_MM:g} mm or more (common practice)"
    walls = {"front": guide.thickness_mm("front"), "back": guide.thickness_mm("back")}
    for wall, thickness in walls.items():
        if thickness < THINNEST_WALL_MM and not (wall == "front" and guide.substrate is not None):
            yield f"a {wall} wall of {thickness:g} mm is foil and does not keep its shape; take {THINNEST_WALL_MM:g} mm or more, or a laminate"
    if not isinstance(guide, RoundGuide) and guide.make == "folded" and walls["back"] > THICKEST_FOLD_MM:
        yield f"sheet of {walls['back']:g} mm is not folded by hand; take thinner sheet, or a tube (make = 'tube')"
