"""What is dimensioned on a flat part, and where: every number comes from the outline, openings and bends that are cut.

Places along and across are running dimensions outside the part, from one edge or from the inner face of the near end; lengths of
slots stand on the other side; offsets from the centre line, widths and diameters go where there is room (`placing.Room`).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from shapely.geometry import LineString, Polygon

from simharness.sheets.drawing.dimension_lines import (
    APART,
    BEYOND,
    Axis,
    Stop,
    between,
    leader,
    number,
    running,
)
from simharness.sheets.drawing.lettering import width
from simharness.sheets.drawing.placing import Room, word_box
from simharness.sheets.flat.parts import Part
from simharness.sheets.flat.shapes import LETTERS, Dimensions, Drawing, Opening, Pair, Path, Text, straight

OFF = 6e-3
"""From a part to its dimension lines, m; a choice."""
WIDE = 80e-3
"""Slots further from the edge than this have their lengths beside them, and longer dimensions their number at an end, m; a choice."""
_PAST = 2.5e-3
"""Centre lines run past what they halve by this, m."""
_REACHES = (5e-3, 8e-3, 12e-3, 17e-3, 23e-3, 30e-3, 40e-3, 55e-3)
_ANGLES = (45, 135, -45, -135, 30, 150, -30, -150, 60, 120, -60, -120, 75, 105, -75, -105, 15, 165, -15, -165)
_STEPS = (2.5e-3, 4e-3, 6e-3, 8.5e-3, 11e-3, 15e-3, 20e-3)
_SHARES = (0.3, -0.3, 0.2, -0.2, 0.38, -0.38, 0.12, -0.12)
_AROUND = sorted(
    itertools.product(range(-60, 61, 2), range(-24, 25, 2)),
    key=lambda step: abs(step[0]) + 2.5 * abs(step[1]),
)
"""Steps aside that are tried for words, mm."""
_LARGE = 1.0
"""Longer than any part, m."""


def with_dimensions(drawing: Drawing, part: Part) -> Drawing:
    """The drawing of a part with its dimensions, and its words moved to where nothing crosses them."""
    room = Room(drawing.paths)
    side = _run_side(part)
    found = room.add(_runs(part, side))
    found += room.add(Dimensions(tuple(_axes(part))))
    slots = [o for o in part.openings if o.kind == "slot"]
    for candidates in itertools.chain(
        (_lengths(part, slot, -side) for slot in slots), _leaders(part), map(_offsets, _measured_across(part))
    ):
        found += room.first(candidates)
    found += _widths(room, slots)
    area = part.outline.polygon()
    texts = [room.first(moved(text, area)).texts[0] for text in drawing.texts]
    found += _bend_words(room, part)
    return replace(drawing, texts=tuple(texts), dimensions=found)


def _run_side(part: Part) -> int:
    """+1 where places along are written over the part, -1 below it: the side to which openings are nearer."""
    _, v0, _, v1 = part.outline.polygon().bounds
    centres = [o.centre[1] for o in part.openings]
    return (
        1
        if sum(v1 - v for v in centres) <= sum(v - v0 for v in centres) + 1e-6 or not part.centre_line
        else -1
    )


def _runs(part: Part, side: int) -> Dimensions:
    """Places along u over or below the part, and across on its left."""
    u0, v0, _, v1 = part.outline.polygon().bounds
    round_part = part.outline.circle() is not None
    level = v1 + OFF if side > 0 else v0 - OFF
    origin = 0.0 if part.centre_line or round_part else u0
    along = [*_corner_stops(part, "u", side), *_opening_stops(part, "u", side)]
    across = [*_corner_stops(part, "v", -1), *_opening_stops(part, "v", -1)]
    if part.centre_line:
        across.append(Stop(0.0, u0 - APART, chained=True))
        along.append(Stop(0.0, _edge(part, "u", 0.0, side) + side * APART))
    elif not round_part:
        along.append(Stop(0.0, v1 + _PAST, chained=True))
    found = Dimensions()
    if len(along) > 1:
        found += running("u", along, origin, level, side)
    if len(across) > 1:
        found += running("v", across, 0.0 if round_part else v0, u0 - OFF, -1)
    return found


def _corner_stops(part: Part, axis: Axis, side: int) -> Iterator[Stop]:
    """Corners of the outline, bends, and lines that are drawn on the part; of a round one its middle, where something is beside it."""
    outline = part.outline.polygon()
    if part.outline.circle() is not None:
        if any(o.centre["uv".index(axis)] for o in part.openings):
            yield Stop(0.0, side * outline.bounds[2], chained=True)
        return
    i = "uv".index(axis)
    corners = [*part.outline.points, *(point for path in part.guides for point in path.points)]
    corners += [bend.start for bend in part.bends if bend.start[i] == bend.end[i]]
    for at in {round(corner[i], 9) for corner in corners}:
        yield Stop(at, _edge(part, axis, at, side) + side * APART)


def _edge(part: Part, axis: Axis, at: float, side: int) -> float:
    """Where the outline, or a line drawn on the part, is outermost at a place on an axis, m."""
    lines = [part.outline.line(), *(path.line() for path in part.guides)]
    probe = LineString(
        [(at, -_LARGE), (at, _LARGE)] if axis == "u" else [(-_LARGE, at), (_LARGE, at)]
    ).buffer(1e-7)
    bounds = [met.bounds for line in lines if not (met := line.intersection(probe)).is_empty]
    low, high = (1, 3) if axis == "u" else (0, 2)
    return max(b[high] for b in bounds) if side > 0 else min(b[low] for b in bounds)


def _opening_stops(part: Part, axis: Axis, side: int) -> Iterator[Stop]:
    """Middles of slots, feed hole and tip along; on an end, of its holes both ways."""
    i = "uv".index(axis)
    for o in part.openings:
        if o.kind != "screw" and (i == 0 or not part.centre_line):
            half = (o.width if axis == "u" else o.length) / 2
            yield Stop(o.centre[i], o.centre[1 - i] - side * (half + _PAST), chained=True)


def _measured_across(part: Part) -> list[Opening]:
    """Openings that stand beside the centre line of a wall."""
    return [o for o in part.openings if part.centre_line and o.kind != "screw" and abs(o.centre[1]) > 5e-6]


def _axes(part: Part) -> Iterator[Path]:
    """Centre lines of openings along the part, and of ends."""
    for o in part.openings:
        (u, v), reach = o.centre, o.length / 2 + _PAST
        if o.kind == "screw":
            yield straight(
                (u, v - o.width / 2 - 1e-3), (u, v + o.width / 2 + 1e-3), layer="dimension", chained=True
            )
            reach = o.length / 2 + 1e-3
        if not part.centre_line or abs(v) > 5e-6:
            yield straight((u - reach, v), (u + reach, v), layer="dimension", chained=True)
    if not part.centre_line:
        u0, v0, u1, v1 = part.outline.polygon().bounds
        yield straight((0.0, v0 - _PAST), (0.0, v1 + _PAST), layer="dimension", chained=True)
        if part.outline.circle() is not None:
            yield straight((u0 - _PAST, 0.0), (u1 + _PAST, 0.0), layer="dimension", chained=True)


def _leaders(part: Part) -> Iterator[Iterator[Dimensions]]:
    """Diameters of holes, lands and discs, and sides of flanges, each with the places where it may stand."""
    screws = [o for o in part.openings if o.kind == "screw"]
    for o in part.openings:
        if o.kind in ("hole", "tip"):
            yield around(o.centre, o.width / 2, f"\u2300{number(o.width)}")
    if screws:
        (u, v), spacing = screws[0].centre, screws[1].centre[1] - screws[0].centre[1]
        yield around(
            (u, v),
            screws[0].width / 2,
            f"{len(screws)}\u00d7 \u2300{number(screws[0].width)} on \u25a1{number(spacing)}",
        )
    for land in part.lands:
        whole, (u0, v0, u1, v1) = land.circle(), land.polygon().bounds
        if whole is not None:
            yield around(whole.centre, whole.radius, f"\u2300{number(2 * whole.radius)}")
        else:
            yield around(
                ((u0 + u1) / 2, (v0 + v1) / 2), (u1 - u0) / 2, f"\u25a1{number(u1 - u0)}", square=True
            )
    disc = part.outline.circle()
    if disc is not None:
        words = f"\u2300{number(2 * disc.radius)}"
        yield itertools.chain(
            around(disc.centre, disc.radius, words, inwards=True), around(disc.centre, disc.radius, words)
        )


def around(
    centre: Pair, radius: float, words: str, square: bool = False, inwards: bool = False
) -> Iterator[Dimensions]:
    """Leaders to an edge from all sides, the short ones first."""
    for reach, angle in itertools.product(_REACHES, _ANGLES):
        turn = math.radians(angle)
        u, v = math.cos(turn), math.sin(turn)
        edge = radius / max(abs(u), abs(v)) if square else radius
        far = edge - reach if inwards else edge + reach
        yield leader(
            (centre[0] + edge * u, centre[1] + edge * v), (centre[0] + far * u, centre[1] + far * v), words
        )


def pointing(tip: Pair, words: str, angles: Sequence[float] = _ANGLES) -> Iterator[Dimensions]:
    """Leaders to one point from all sides, the short ones first."""
    for reach, angle in itertools.product(_REACHES, angles):
        turn = math.radians(angle)
        yield leader(tip, (tip[0] + reach * math.cos(turn), tip[1] + reach * math.sin(turn)), words)


def _lengths(part: Part, slot: Opening, side: int) -> Iterator[Dimensions]:
    """The length of a slot outside the part, in the first row that is free; beside the slot where the edge is far."""
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


def _offsets(o: Opening) -> Iterator[Dimensions]:
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
        yield from pointing((u + end * (half + _PAST), v), f"{number(v)} from centre line")


def _widths(room: Room, slots: list[Opening]) -> Dimensions:
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
    """The width of a slot across its straight edges; over all beside one of its ends where its outline is free."""
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
    """The width in words on a leader to an edge of the slot, where there is no room at the slot itself."""
    (u, v), half = slot.centre, slot.width / 2
    for share, side in itertools.product(_SHARES, (-1, 1)):
        tip, angles = (
            (u + share * (slot.length - slot.width), v + side * half),
            [angle for angle in _ANGLES if angle * side > 0],
        )
        yield from pointing(tip, f"{count}\u00d7 {number(slot.width)} wide", angles)


def moved(text: Text, area: Polygon) -> Iterator[Dimensions]:
    """Words where they were meant, and then further and further from there: on the area if they were on it, beside it at last."""
    on_it = area.contains(word_box(text))
    beside = []
    for i, j in _AROUND:
        there = replace(text, at=(text.at[0] + i * 1e-3, text.at[1] + j * 1e-3))
        if not on_it or area.contains(word_box(there)):
            yield Dimensions(texts=(there,))
        else:
            beside.append(there)
    yield from (Dimensions(texts=(there,)) for there in beside)


def _bend_words(room: Room, part: Part) -> Dimensions:
    """Which way and how far each bend goes, along its line where there is room; the caption says it too."""
    found = Dimensions()
    for bend in part.bends:
        free = (c for c in _along(bend.start, bend.end, bend_words(part)) if room.has_room(c))
        found += room.add(next(free, Dimensions()))
    return found


def bend_words(part: Part) -> str:
    """What stands at the bends of a part, after the habit of sheet-metal shops."""
    fold = part.bends[0].fold
    how = "scored" if fold.scored else f"R{number(fold.radius)}"
    return f"{'down' if part.away else 'up'} 90\u00b0 {how}"


def _along(start: Pair, end: Pair, words: str) -> Iterator[Dimensions]:
    upright, aside = start[0] == end[0], LETTERS / 2 + 1.2e-3
    for share, side in itertools.product((0.5, 0.35, 0.65, 0.2, 0.8), (-1, 1)):
        u, v = (a + share * (b - a) for a, b in zip(start, end))
        side = side if (u if upright else v) > 0 else -side
        at = (u + side * aside, v) if upright else (u, v + side * aside)
        yield Dimensions(texts=(Text(at, words, upward=upright),))
