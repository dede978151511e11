"""The side view of a straight probe; m."""

from __future__ import annotations

from simharness.sheets.drawing.dimension_lines import APART, OFF, PAST, Stop, running
from simharness.sheets.drawing.feed_view import SIDE, WALL, beside_hole, diameters, wire_name, with_leaders
from simharness.sheets.flat.feed_straight import StraightProbePart
from simharness.sheets.flat.paths import Dimensions, Drawing, Text, rectangle_path, straight


def straight_drawing(part: StraightProbePart) -> Drawing:
    """Its side view with dimensions: v = 0 is the inner face of the wall, the guide above it."""
    half, reach, top, bottom = part.wire / 2, part.hole / 2 + WALL, part.height, -part.wall
    paths = [rectangle_path(-half, half, 0.0 if part.overlap else bottom, top)]
    if part.overlap:
        paths.append(rectangle_path(-part.pin / 2, part.pin / 2, bottom, part.pin_length - part.wall))
    paths += [rectangle_path(low, high, bottom, 0.0, "note") for low, high in beside_hole(part)]
    texts = (Text((-reach - 1.5e-3, -part.wall / 2), f"{part.wall_name} wall", anchor="end"),)
    stops = [Stop(0.0, reach + APART), Stop(bottom, reach + APART), Stop(top, half + APART)]
    if part.overlap:
        thicker = part.pin / 2 if part.wire < part.pin else half
        stops.append(Stop(part.pin_length - part.wall, thicker + APART))
    dimensions = running("v", stops, 0.0, reach + OFF, 1)
    axis = Dimensions((straight((0.0, bottom - PAST), (0.0, top + PAST), layer="dimension", chained=True),))
    spots = [((-half, 0.7 * top), part.wire), ((-part.hole / 2, bottom), part.hole)]
    if part.overlap:
        spots.append(((part.pin / 2, bottom), part.pin))
    drawing = Drawing(
        "probe", "Probe", part.instructions(), tuple(paths), texts=texts, sheet=wire_name(part), view=SIDE
    )
    return with_leaders(drawing, dimensions + axis, diameters(spots))
