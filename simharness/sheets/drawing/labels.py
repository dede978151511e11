"""Labels on a part: moved to where nothing crosses them, and what stands at its bends; m."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

from shapely.geometry import Polygon

from simharness.sheets.drawing.dimension_lines import number
from simharness.sheets.drawing.placing import Room, text_box
from simharness.sheets.flat.part import Part
from simharness.sheets.flat.paths import LETTERS, Dimensions, Pair, Text

_STEPS_ASIDE = sorted(
    itertools.product(range(-60, 61, 2), range(-24, 25, 2)),
    key=lambda step: abs(step[0]) + 2.5 * abs(step[1]),
)
"""Steps aside that are tried for a label, mm."""


def moved(text: Text, area: Polygon) -> Iterator[Dimensions]:
    """A text where it was meant, then farther and farther from there.

    On the area if it was on it; beside it where nothing on it is left.
    """
    on_it = area.contains(text_box(text))
    beside = []
    for i, j in _STEPS_ASIDE:
        there = replace(text, at=(text.at[0] + i * 1e-3, text.at[1] + j * 1e-3))
        if not on_it or area.contains(text_box(there)):
            yield Dimensions(texts=(there,))
        else:
            beside.append(there)
    yield from (Dimensions(texts=(there,)) for there in beside)


def bend_labels(room: Room, part: Part) -> Dimensions:
    """Which way and how far each bend goes, along its line where there is room; the caption says it too."""
    found = Dimensions()
    for bend in part.bends:
        free = (c for c in _along_bend(bend.start, bend.end, bend_label(part)) if room.has_room(c))
        found += room.add(next(free, Dimensions()))
    return found


def bend_label(part: Part) -> str:
    """What stands at the bends of a part, as sheet-metal shops write it."""
    fold = part.bends[0].fold
    how = "scored" if fold.scored else f"R{number(fold.radius)}"
    return f"{'down' if part.away else 'up'} {fold.angle:g}\u00b0 {how}"


def _along_bend(start: Pair, end: Pair, words: str) -> Iterator[Dimensions]:
    upright, aside = start[0] == end[0], LETTERS / 2 + 1.2e-3
    for share, side in itertools.product((0.5, 0.35, 0.65, 0.2, 0.8), (-1, 1)):
        u, v = (a + share * (b - a) for a, b in zip(start, end))
        side = side if (u if upright else v) > 0 else -side
        at = (u + side * aside, v) if upright else (u, v + side * aside)
        yield Dimensions(texts=(Text(at, words, upward=upright),))
