"""The feed of a record as a part to be made, of whichever kind, and its side view."""

from __future__ import annotations

import math
from dataclasses import replace

from simharness.records import BentProbe, Record
from simharness.sheets.drawing.dimension_lines import APART, Stop, number, running
from simharness.sheets.drawing.dimensioning import OFF, moved, pointing
from simharness.sheets.drawing.placing import Room
from simharness.sheets.flat.bent_probe import BEND, BentPart, bent_part
from simharness.sheets.flat.probe import ProbePart, probe_part
from simharness.sheets.flat.shapes import Dimensions, Drawing, Pair, Path, Text, rectangle_path, straight

FeedPart = ProbePart | BentPart
_WALL = 6e-3
"""Of the wall that is drawn beside its hole, m."""
_SIDE = "from the side"


def feed_part(record: Record) -> FeedPart | None:
    """The wire of the feed, or None where there is no coax."""
    return bent_part(record, record.feed) if isinstance(record.feed, BentProbe) else probe_part(record)


def feed_drawing(part: FeedPart) -> Drawing:
    """Its side view at true scale, with dimensions."""
    return _bent_drawing(part) if isinstance(part, BentPart) else _probe_drawing(part)


def _probe_drawing(part: ProbePart) -> Drawing:
    """v = 0 is the inner face of the wall, the guide above it."""
    half, reach, top, bottom = part.wire / 2, part.hole / 2 + _WALL, part.height, -part.wall
    paths = [rectangle_path(-half, half, 0.0 if part.overlap else bottom, top)]
    if part.overlap:
        paths.append(rectangle_path(-part.pin / 2, part.pin / 2, bottom, part.pin_length - part.wall))
    paths += [
        rectangle_path(*sorted((sign * part.hole / 2, sign * reach)), bottom, 0.0, "note") for sign in (-1, 1)
    ]
    texts = (Text((-reach - 1.5e-3, -part.wall / 2), f"{part.wall_name} wall", anchor="end"),)
    stops = [Stop(0.0, reach + APART), Stop(bottom, reach + APART), Stop(top, half + APART)]
    if part.overlap:
        stops.append(
            Stop(part.pin_length - part.wall, part.pin / 2 + APART)
            if part.wire < part.pin
            else Stop(part.pin_length - part.wall, half + APART)
        )
    dimensions = running("v", stops, 0.0, reach + OFF, 1)
    axis = Dimensions(
        (straight((0.0, bottom - 2.5e-3), (0.0, top + 2.5e-3), layer="dimension", chained=True),)
    )
    spots = [((-half, 0.7 * top), part.wire), ((-part.hole / 2, bottom), part.hole)]
    if part.overlap:
        spots.append(((part.pin / 2, bottom), part.pin))
    return _with_leaders(
        Drawing("probe", "Probe", part.words(), tuple(paths), texts=texts, sheet=_wire(part), view=_SIDE),
        dimensions + axis,
        _diameters(spots),
    )


def _bent_drawing(part: BentPart) -> Drawing:
    """u along the guide from the inner face of the end, v from the axis of the run to the tip."""
    half, radius, reach, top = (
        part.wire / 2,
        part.axis_radius,
        part.hole / 2 + _WALL,
        part.rise + part.through,
    )
    quarter = math.tan(math.pi / 8)
    outline = Path(
        (
            (0.0, -half),
            (part.run - radius, -half),
            (part.run + half, radius),
            (part.run + half, top),
            (part.run - half, top),
            (part.run - half, radius),
            (part.run - radius, half),
            (0.0, half),
        ),
        "cut",
        (0.0, quarter, 0.0, 0.0, 0.0, -quarter, 0.0, 0.0),
    )
    paths = [outline, rectangle_path(-part.wall, 0.0, -part.pin / 2, part.pin / 2)]
    paths += [
        rectangle_path(-part.wall, 0.0, *sorted((sign * part.hole / 2, sign * reach)), "note")
        for sign in (-1, 1)
    ]
    if part.through:
        paths += [straight((part.run - 8e-3, v), (part.run + 8e-3, v)) for v in (part.rise, top)]
    texts = (Text((-part.wall, reach + 4e-3), "near end", anchor="start"),)
    along = [
        Stop(0.0, -reach - APART),
        Stop(-part.wall, -reach - APART),
        Stop(part.run, top + 2.5e-3, chained=True),
    ]
    edge = part.run + (8e-3 if part.through else half) + APART
    upward = [Stop(0.0, -2.5e-3, chained=True), Stop(part.rise, edge), Stop(top, edge)]
    dimensions = running("u", along, 0.0, -reach - OFF, -1) + running(
        "v", upward, 0.0, part.run + OFF + 8e-3, 1
    )
    turn, slant = BEND * part.wire, math.sqrt(0.5)
    bend = (part.run - radius + turn * slant, radius - turn * slant)
    spots = [((part.run - half, 0.6 * part.rise), part.wire), ((-part.wall, -part.hole / 2), part.hole)]
    if part.overlap:
        spots.append(((-part.wall, part.pin / 2), part.pin))
    drawing = Drawing(
        "probe", "Bent probe", part.words(), tuple(paths), texts=texts, sheet=_wire(part), view=_SIDE
    )
    return _with_leaders(drawing, dimensions, {bend: f"R{number(turn)}"} | _diameters(spots))


def _wire(part: FeedPart) -> str:
    return f"Wire of {number(part.wire)} mm"


def _diameters(spots: list[tuple[Pair, float]]) -> dict[Pair, str]:
    return {at: f"\u2300{number(diameter)}" for at, diameter in spots}


def _with_leaders(drawing: Drawing, dimensions: Dimensions, spots: dict[Pair, str]) -> Drawing:
    """The drawing with its dimensions, and words on leaders to points, m."""
    room = Room(drawing.paths)
    found = room.add(dimensions)
    for tip, words in spots.items():
        found += room.first(pointing(tip, words))
    texts = tuple(room.first(moved(text, drawing.paths[0].polygon())).texts[0] for text in drawing.texts)
    return replace(drawing, texts=texts, dimensions=found)
