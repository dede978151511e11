"""What cannot be made with the tools at hand, however well the numbers fit."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.advice.feeds import feed_advice
from simharness.advice.shapes import shape_advice
from simharness.records import Record, slot_clearance
from simharness.records.outlines import slot_outline
from simharness.records.problems import ROUNDING_MM

MIN_SAWN_MM = 0.3
MIN_ETCHED_MM = 0.15
"""Narrowest slot of a fine saw blade or cutter, and of a home-made etching (common practice)."""
MIN_WALL_MM = 0.1
"""Thinnest sheet that keeps its shape as a wall (common practice)."""
_MIN_BRIDGE_MM = 1.0
"""Common practice for sheet cut by hand."""


def fabrication_warnings(record: Record) -> Iterator[str]:
    """Sentences about dimensions that cannot be made or do not hold."""
    yield from _narrow_slots(record)
    yield from feed_advice(record).fabrication_warnings()
    for wall in ("front", "back"):
        thickness = record.guide.thickness_mm(wall)
        if thickness < MIN_WALL_MM and not (wall == "front" and record.guide.substrate is not None):
            yield (
                f"a {wall} wall of {thickness:g} mm is foil and does not keep its shape; take "
                f"{MIN_WALL_MM:g} mm or more, or a laminate"
            )
    yield from shape_advice(record).fabrication_warnings()


def _narrow_slots(record: Record) -> Iterator[str]:
    board, count = record.guide.substrate, len(record.slots)
    etched = board is not None and board.slots == "etched"
    least = MIN_ETCHED_MM if etched else MIN_SAWN_MM
    narrow = [index for index, slot in enumerate(record.slots, 1) if slot.width_mm < least]
    if not narrow:
        return
    width = min(record.slots[index - 1].width_mm for index in narrow)
    many = f"{len(narrow)} slots are" if len(narrow) < count else "the slots are"
    which = f"slot {narrow[0]} is" if len(narrow) == 1 else many
    tool = "etching keeps" if etched else "a fine saw or cutter makes"
    yield f"{which} {width:g} mm wide: {tool} {least:g} mm at the narrowest (common practice)"


def bridge_warnings(record: Record) -> Iterator[str]:
    """Sentences about metal that is too narrow between slots, and between a slot and a wall; there must be a
    slot."""
    bridge = slot_clearance(record.slots)
    least = max(_MIN_BRIDGE_MM, *(record.guide.thickness_mm(slot.face) for slot in record.slots))
    if bridge < least:
        yield f"only {bridge:.2f} mm of metal between two slots; leave at least {least:g} mm, or it tears"
    for number, slot in enumerate(record.slots, 1):
        left, first, right, last = slot_outline(slot).bounds
        side = shape_advice(record).side_clearance(left, right)
        end = min(first * 1e3, record.guide.length_mm - last * 1e3)
        if min(side, end) < least - ROUNDING_MM:
            yield f"slot {number} leaves only {min(side, end):.2f} mm to a wall; leave at least {least:g} mm"
