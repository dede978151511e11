"""The bent probe as a part: what to cut off, where to bend, so that its legs stand as in the solver's model."""

from __future__ import annotations

import math
from dataclasses import dataclass

from simharness.constants import MM
from simharness.records import BentProbe, Record, rise
from simharness.sheets.probe import OVERLAP, SAME, JoinedWire
from simharness.sheets.shapes import Drawing, Path, Text, rectangle_path, straight

BEND = 1.0
"""Inside radius of the bend, in diameters of the wire; common practice, no source."""


@dataclass(frozen=True)
class BentPart(JoinedWire):
    """Lengths and diameters of a bent probe, m.

    Attributes
    ----------
    run, rise : from the inner face of the end to the axis of the riser, and from the axis of the run to the tip or the inner
        face that it is soldered to.
    through : thickness of the wall that a soldered tip comes through; 0 for an open tip.
    height : axis of the run above the inner face of the back wall.
    wall : thickness of the end.
    wire, pin, hole : diameters of wire, pin in the wall and hole in the wall.
    overlap : length of the soldered joint of pin and wire; 0 where they are of one diameter.
    towards : 'front' or 'back'.
    """

    run: float
    rise: float
    through: float
    height: float
    wall: float
    wire: float
    pin: float
    hole: float
    overlap: float
    towards: str

    @property
    def axis_radius(self) -> float:
        """Of the bend, in the middle of the wire, m: a round wire keeps the length of its middle."""
        return (BEND + 0.5) * self.wire

    @property
    def saved(self) -> float:
        """By how much the bend is shorter than the sharp corner, m."""
        return (2 - math.pi / 2) * self.axis_radius

    @property
    def inside(self) -> float:
        """Length of the wire inside the guide before it is bent, m."""
        return self.run + self.rise + self.through - self.saved

    def words(self) -> tuple[str, ...]:
        """How it is made, a sentence each."""
        mm = lambda length: f"{length * 1e3:.2f} mm"  # noqa: E731 - one number as it is written here
        source = "The connector's own pin" if not self.overlap else f"Wire, {mm(self.wire)} thick, joined to the pin over {mm(self.overlap)}"
        ends = (
            f"its tip comes through the {self.towards} wall, is soldered there all round from outside and filed flush"
            if self.through else f"its tip stands free, {mm(self.rise)} from the axis of the run"
        )
        return (
            f"Run {mm(self.run)} from the inner face of the end to the axis of the riser, {mm(self.height)} above the back wall; then "
            f"a right angle towards the {self.towards} wall; {ends}.",
            f"{source}: cut straight, {mm(self.inside)} of it inside the guide. The bend saves {mm(self.saved)} against a sharp "
            f"corner: inside radius {mm(BEND * self.wire)}, one diameter (common practice).",
            f"Mark the middle of the bend {mm(self.run - self.saved / 2)} from the inner face of the end; bend over a rod of "
            f"{mm(2 * BEND * self.wire)}. Bend first, leave a millimetre, then trim to the rise: measure both legs to the axis.",
        )


def bent_part(record: Record, feed: BentProbe) -> BentPart:
    """The bent probe of a record."""
    guide = record.guide
    wire, pin = feed.wire_diameter_mm * MM, feed.coax_inner_mm * MM
    through = guide.front_wall_mm if feed.towards == "front" else guide.other_walls_mm
    joint = 0.0 if abs(wire - pin) < SAME else min(OVERLAP * min(wire, pin), feed.run_mm * MM / 2)
    return BentPart(
        feed.run_mm * MM, rise(feed, guide.b_mm) * MM, through * MM if feed.tip == "soldered" else 0.0, feed.hole_height_mm * MM,
        guide.other_walls_mm * MM, wire, pin, feed.coax_outer_mm * MM, joint, feed.towards,
    )


def bent_drawing(part: BentPart) -> Drawing:
    """Side view at true scale: u along the guide from the inner face of the end, v from the axis of the run to the tip."""
    half, radius, reach = part.wire / 2, part.axis_radius, part.hole / 2 + 6e-3
    top = part.rise + part.through
    quarter = math.tan(math.pi / 8)
    outline = Path(
        (
            (0.0, -half), (part.run - radius, -half), (part.run + half, radius), (part.run + half, top), (part.run - half, top),
            (part.run - half, radius), (part.run - radius, half), (0.0, half),
        ),
        "cut", (0.0, quarter, 0.0, 0.0, 0.0, -quarter, 0.0, 0.0),
    )
    paths: list[Path] = [outline, rectangle_path(-part.wall, 0.0, -part.pin / 2, part.pin / 2)]
    for sign in (-1, 1):
        near, far = sorted((sign * part.hole / 2, sign * reach))
        paths.append(rectangle_path(-part.wall, 0.0, near, far, "note"))
    below, aside = -half - 4e-3, part.run + half + 4e-3
    paths += [
        straight((0.0, below), (part.run, below)), straight((part.run, below - 1e-3), (part.run, top), dashed=True),
        straight((aside, 0.0), (aside, part.rise)), straight((0.0, 0.0), (aside + 1e-3, 0.0), dashed=True),
    ]
    if part.through:
        paths += [
            straight((part.run - 8e-3, v), (part.run + 8e-3, v)) for v in (part.rise, top)
        ]
    texts = (
        Text((0.0, below - 2.6e-3), f"run {part.run * 1e3:.2f} mm", anchor="start"),
        Text((aside + 1.5e-3, part.rise / 2), f"rise {part.rise * 1e3:.2f} mm", anchor="start"),
        Text((-part.wall, reach + 2e-3), "near end", anchor="start"),
    )
    return Drawing("probe", "Bent probe", part.words(), tuple(paths), texts=texts)
