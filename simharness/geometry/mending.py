"""Tape over the ends of slots, plates inside the ends, and screws in the back wall of a rectangular guide."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.constants import MM
from simharness.geometry.pieces import Pieces
from simharness.geometry.scene import Feature
from simharness.geometry.solids import (
    METAL,
    SCREW_PART,
    TAPE_PART,
    Prism,
    block,
    equivalent_square_side,
    rectangle,
)
from simharness.records import Record, RectangularGuide

TAPE = 0.07 * MM
"""Thickness of copper tape with its adhesive, m (common practice): less than any cell."""

TAPE_OVERLAP = 4.0 * MM
"""How far tape is laid on the wall around what it covers, m."""


def plate_pieces(guide: RectangularGuide) -> Iterator[Pieces]:
    """Plates across the guide, as thick as the other walls or as there is room."""
    x, y = guide.a / 2, -guide.b
    for end, given, face, outward in (
        ("near", guide.near_plate_mm, guide.near_face, -1),
        ("far", guide.far_plate_mm, guide.far_face, 1),
    ):
        if given is None:
            continue
        low, high = sorted((face, face + outward * min(guide.other_walls, given * MM)))
        plate = block(f"{end} plate", METAL, (-x, x, y, 0.0, low, high))
        yield Pieces((plate,), (Feature("wall", 2, low, high, soft=True),))


def screw_pieces(record: Record) -> Iterator[Pieces]:
    """Square posts that stand for the round screws, from the inner face of the back wall to their tips."""
    for screw in record.screw:
        side, foot = equivalent_square_side(screw.diameter), -record.guide.height
        x, z, half, tip = screw.offset, screw.position, side / 2, foot + screw.depth
        post = block(SCREW_PART, METAL, (x - half, x + half, foot, tip, z - half, z + half))
        marks = (
            Feature("screw tip", 1, tip, tip, scale=side, outward=1),
            Feature("screw", 0, x - half, x + half),
            Feature("screw", 2, z - half, z + half),
        )
        yield Pieces((post,), marks)


def tape_pieces(record: Record) -> Iterator[Pieces]:
    """Tape on the outside of the wall of its slot, from its edge over the end of the slot and beyond."""
    if not record.tape:
        return
    guide = record.guide
    for tape in record.tape:
        slot, left = record.slots[tape.slot - 1], record.open_slots[tape.slot - 1]
        outward = 1 if tape.end == "far" else -1
        tip = slot.position + outward * slot.length / 2
        edge = tip - outward * tape.covers_mm * MM
        half = slot.width / 2 + TAPE_OVERLAP
        x0, x1 = max(slot.offset - half, -guide.width / 2), min(slot.offset + half, guide.width / 2)
        low = guide.thickness("front") if slot.face == "front" else -guide.height - guide.thickness("back")
        low -= TAPE if slot.face == "back" else 0.0
        counted = left.position + outward * left.length / 2
        last = tip + outward * TAPE_OVERLAP
        drawn, meshed = (rectangle(x0, x1, min(place, last), max(place, last)) for place in (edge, counted))
        sheet = Prism(TAPE_PART, METAL, 1, low, low + TAPE, drawn, meshed if counted != edge else None)
        mark = Feature("tape edge", 2, counted, counted, scale=slot.width, depth=0.0, outward=-outward)
        yield Pieces((sheet,), (mark,))
