"""The side view of a bent probe; m."""

from __future__ import annotations

import math

from simharness.sheets.drawing.dimension_lines import APART, OFF, PAST, Stop, number, running
from simharness.sheets.drawing.feed_view import SIDE, WALL, beside_hole, diameters, wire_name, with_leaders
from simharness.sheets.flat.feed_bent import BEND, BentProbePart
from simharness.sheets.flat.paths import Drawing, Path, Text, rectangle_path, straight


def bent_drawing(part: BentProbePart) -> Drawing:
    """Its side view with dimensions: u from the inner face of the end, v from the axis of the run."""
    half, radius, reach, top = (
        part.wire / 2,
        part.axis_radius,
        part.hole / 2 + WALL,
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
    paths += [rectangle_path(-part.wall, 0.0, low, high, "note") for low, high in beside_hole(part)]
    if part.through:
        paths += [straight((part.run - 8e-3, v), (part.run + 8e-3, v)) for v in (part.rise, top)]
    texts = (Text((-part.wall, reach + 4e-3), "near end", anchor="start"),)
    along = [
        Stop(0.0, -reach - APART),
        Stop(-part.wall, -reach - APART),
        Stop(part.run, top + PAST, chained=True),
    ]
    edge = part.run + (8e-3 if part.through else half) + APART
    upward = [Stop(0.0, -PAST, chained=True), Stop(part.rise, edge), Stop(top, edge)]
    dimensions = running("u", along, 0.0, -reach - OFF, -1) + running(
        "v", upward, 0.0, part.run + OFF + 8e-3, 1
    )
    turn, slant = BEND * part.wire, math.sqrt(0.5)
    bend = (part.run - radius + turn * slant, radius - turn * slant)
    spots = [((part.run - half, 0.6 * part.rise), part.wire), ((-part.wall, -part.hole / 2), part.hole)]
    if part.overlap:
        spots.append(((-part.wall, part.pin / 2), part.pin))
    drawing = Drawing(
        "probe",
        "Bent probe",
        part.instructions(),
        tuple(paths),
        texts=texts,
        sheet=wire_name(part),
        view=SIDE,
    )
    return with_leaders(drawing, dimensions, {bend: f"R{number(turn)}"} | diameters(spots))
