"""Dimensions of slots: lengths outside the part, offsets from the centre line, widths; m."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

from simharness.sheets.drawing.dimension_lines import APART, BEYOND, OFF, PAST, between, number
from simharness.sheets.drawing.leaders import ANGLES, pointing
from simharness.sheets.drawing.lettering import width
from simharness.sheets.drawing.placing import Room
from simharness.sheets.flat.part import Opening, Part
from simharness.sheets.flat.paths import LETTERS, Dimensions, Text

WIDE = 80e-3
"""Slots farther from the edge than this have their lengths beside them, and longer dimensions their number at
an end, m; a choice."""
_STEPS = (2.5e-3, 4e-3, 6e-3, 8.5e-3, 11e-3, 15e-3, 20e-3)
"""Distances from the end of a slot that are tried, m."""
_SHARES = (0.3, -0.3, 0.2, -0.2, 0.38, -0.38, 0.12, -0.12)
"""Places along the straight edges of a slot that are tried, from its middle, as shares of their length."""


def slot_lengths(part: Part, slot: Opening, side: int) -> Iterator[Dimensions]:
    """The length of a slot outside the part, in the first free row; beside the slot where the edge is far."""
    _, v0, _, v1 = part.outline.polygon().bounds
    (u, v), half = slot.centre, slot.length / 2
    low, high = u - half, u + half
    edge = v1 if side > 0 else v0
    starts = (v + side * APART, v + side * APART)
    if abs(edge - v) > WIDE:
        for away, step in itertools.product((side, -side), (7e-3, 9e-3, 12e-3, 16e-3)):
            yield between(
                "u", low, high, v + away * (slot.width / 2 + step), (v + away * APART, v + away * APART)
            )
    long = width(number(slot.length), LETTERS)
    for row in range(6):
        level = edge + side * (OFF + row * 2 * LETTERS)
        lying = between("u", low, high, level, starts)
        if long < slot.length - 0.4e-3:
            yield lying
        yield replace(
            lying, texts=(Text((u, level + side * (long / 2 + BEYOND)), number(slot.length), upward=True),)
        )


def offsets(o: Opening) -> Iterator[Dimensions]:
    """From the centre line to the middle of an opening, beside one of its ends."""
    (u, v), half, away = o.centre, o.length / 2, 1 if o.centre[1] > 0 else -1
    low, high = min(v, 0.0), max(v, 0.0)
    modes = [(away, True), (-away, True), (away, False), (-away, False)]
    if width(number(v), LETTERS) < abs(v) - 1e-3 < WIDE:
        modes.insert(0, (0, False))
    for (tail, turned), step, end in itertools.product(modes, _STEPS, (1, -1)):
        start = u + end * (half + APART)
        starts = (None, start) if v > 0 else (start, None)
        yield between("v", low, high, u + end * (half + step), starts, tail, turned=turned)
    for end in (1, -1):
        yield from pointing((u + end * (half + PAST), v), f"{number(v)} from centre line")


def slot_widths(room: Room, slots: list[Opening]) -> Dimensions:
    """Widths: once for all slots that have it, or at each of them where that finds no room."""
    found = Dimensions()
    for _, alike in itertools.groupby(
        sorted(slots, key=lambda s: (number(s.width), s.ends)), key=lambda s: (number(s.width), s.ends)
    ):
        group = list(alike)
        once = itertools.chain(
            (candidate for slot in group for candidate in _width(slot, f"{len(group)}\u00d7 ")),
            (candidate for slot in group for candidate in _width_leaders(slot, len(group))),
        )
        free = (
            next((candidate for candidate in once if room.has_room(candidate)), None)
            if len(group) > 1 and group[0].ends
            else None
        )
        if free is not None:
            found += room.add(free)
        else:
            found += sum((room.first(_width(slot)) for slot in group), Dimensions())
    return found


def _width(slot: Opening, prefix: str = "") -> Iterator[Dimensions]:
    """The width of a slot across its straight edges; of a free outline, over all beside one of its ends."""
    (u, v), half = slot.centre, slot.width / 2
    sides = ((1, True), (-1, True), (1, False), (-1, False))
    if slot.ends:
        for (tail, turned), share in itertools.product(sides, _SHARES):
            yield between(
                "v",
                v - half,
                v + half,
                u + share * (slot.length - slot.width),
                (None, None),
                tail,
                prefix,
                turned,
            )
        return
    points = slot.path.vertices()
    lowest, highest = min(points, key=lambda p: p[1])[0], max(points, key=lambda p: p[1])[0]
    for (tail, turned), step, end in itertools.product(sides, _STEPS, (1, -1)):
        level = u + end * (slot.length / 2 + step)
        yield between(
            "v",
            v - half,
            v + half,
            level,
            (lowest + end * APART, highest + end * APART),
            tail,
            prefix,
            turned,
        )
    yield from pointing((highest, v + half), f"{number(slot.width)} over all")


def _width_leaders(slot: Opening, count: int) -> Iterator[Dimensions]:
    """The width on a leader to an edge of the slot, where there is no room at the slot itself."""
    (u, v), half = slot.centre, slot.width / 2
    for share, side in itertools.product(_SHARES, (-1, 1)):
        tip, angles = (
            (u + share * (slot.length - slot.width), v + side * half),
            [angle for angle in ANGLES if angle * side > 0],
        )
        yield from pointing(tip, f"{count}\u00d7 {number(slot.width)} wide", angles)
