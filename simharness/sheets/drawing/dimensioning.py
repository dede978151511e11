"""What is dimensioned on a flat part, and where: every number comes from what is cut.

Places along and across are running dimensions outside the part, from one edge or from the inner face of the
near end; lengths of slots stand on the other side; offsets from the centre line, widths and diameters go
where there is room (`placing.Room`).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

from shapely.geometry import LineString

from simharness.sheets.drawing.dimension_lines import APART, OFF, PAST, Axis, Stop, running
from simharness.sheets.drawing.labels import bend_labels, moved
from simharness.sheets.drawing.leaders import part_leaders
from simharness.sheets.drawing.placing import Room
from simharness.sheets.drawing.slot_dimensions import offsets, slot_lengths, slot_widths
from simharness.sheets.flat.part import Opening, Part
from simharness.sheets.flat.paths import Dimensions, Drawing, Path, straight

_LARGE = 1.0
"""A length greater than that of any part, m."""


def with_dimensions(drawing: Drawing, part: Part) -> Drawing:
    """The drawing of a part with its dimensions, and its texts moved to where nothing crosses them."""
    room = Room(drawing.paths)
    side = _run_side(part)
    found = room.add(_runs(part, side))
    found += room.add(Dimensions(tuple(_axes(part))))
    slots = [o for o in part.openings if o.kind == "slot"]
    for candidates in itertools.chain(
        (slot_lengths(part, slot, -side) for slot in slots),
        part_leaders(part),
        map(offsets, _measured_across(part)),
    ):
        found += room.first(candidates)
    found += slot_widths(room, slots)
    area = part.outline.polygon()
    texts = [room.first(moved(text, area)).texts[0] for text in drawing.texts]
    found += bend_labels(room, part)
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
        along.append(Stop(0.0, v1 + PAST, chained=True))
    found = Dimensions()
    if len(along) > 1:
        found += running("u", along, origin, level, side)
    if len(across) > 1:
        found += running("v", across, 0.0 if round_part else v0, u0 - OFF, -1)
    return found


def _corner_stops(part: Part, axis: Axis, side: int) -> Iterator[Stop]:
    """Corners of the outline, bends, lines on the part; of a disc its middle, if an opening is beside it."""
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
    """Middles of slots, feed hole and tip along; on an end, of its holes both ways; ends of a window."""
    i = "uv".index(axis)
    for o in part.openings:
        half = (o.width if axis == "u" else o.length) / 2
        if o.kind == "window":
            reach = (o.length if axis == "u" else o.width) / 2
            for at in (o.centre[i] - reach, o.centre[i] + reach):
                yield Stop(at, _edge(part, axis, at, side) + side * APART)
        elif o.kind != "screw" and (i == 0 or not part.centre_line):
            yield Stop(o.centre[i], o.centre[1 - i] - side * (half + PAST), chained=True)


def _measured_across(part: Part) -> list[Opening]:
    """Openings that stand beside the centre line of a wall."""
    kinds = ("slot", "hole", "tip", "tuning")
    return [o for o in part.openings if part.centre_line and o.kind in kinds and abs(o.centre[1]) > 5e-6]


def _axes(part: Part) -> Iterator[Path]:
    """Centre lines of openings along the part, and of ends."""
    for o in part.openings:
        if o.kind == "window":
            continue
        (u, v), reach = o.centre, o.length / 2 + PAST
        if o.kind == "screw":
            yield straight(
                (u, v - o.width / 2 - 1e-3), (u, v + o.width / 2 + 1e-3), layer="dimension", chained=True
            )
            reach = o.length / 2 + 1e-3
        if not part.centre_line or abs(v) > 5e-6:
            yield straight((u - reach, v), (u + reach, v), layer="dimension", chained=True)
    if not part.centre_line:
        u0, v0, u1, v1 = part.outline.polygon().bounds
        yield straight((0.0, v0 - PAST), (0.0, v1 + PAST), layer="dimension", chained=True)
        if part.outline.circle() is not None:
            yield straight((u0 - PAST, 0.0), (u1 + PAST, 0.0), layer="dimension", chained=True)
