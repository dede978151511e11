"""What the side views of all wires share: the wall beside the hole, and diameters on leaders; m."""

from __future__ import annotations

from dataclasses import replace

from simharness.sheets.drawing.dimension_lines import number
from simharness.sheets.drawing.labels import moved
from simharness.sheets.drawing.leaders import pointing
from simharness.sheets.drawing.placing import Room
from simharness.sheets.flat.coax import ProbePart
from simharness.sheets.flat.paths import Dimensions, Drawing, Pair

WALL = 6e-3
"""Width of the wall that is drawn on either side of its hole, m."""
SIDE = "from the side"


def wire_name(part: ProbePart) -> str:
    """What it is made of, for the title block."""
    return f"Wire of {number(part.wire)} mm"


def beside_hole(part: ProbePart) -> tuple[Pair, Pair]:
    """From where to where across the wall is drawn, on either side of its hole, m."""
    return (-part.hole / 2 - WALL, -part.hole / 2), (part.hole / 2, part.hole / 2 + WALL)


def diameters(spots: list[tuple[Pair, float]]) -> dict[Pair, str]:
    """Diameters (m) as they stand on leaders to points."""
    return {at: f"\u2300{number(diameter)}" for at, diameter in spots}


def with_leaders(drawing: Drawing, dimensions: Dimensions, spots: dict[Pair, str]) -> Drawing:
    """The drawing with its dimensions, and with text on leaders to points (m)."""
    room = Room(drawing.paths)
    found = room.add(dimensions)
    for tip, words in spots.items():
        found += room.first(pointing(tip, words))
    texts = tuple(room.first(moved(text, drawing.paths[0].polygon())).texts[0] for text in drawing.texts)
    return replace(drawing, texts=texts, dimensions=found)
