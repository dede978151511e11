"""The bent probe as a part: what to cut off, where to bend, so that its legs stand as in the solver's model."""

from __future__ import annotations

import math
from dataclasses import dataclass

from simharness.constants import MM
from simharness.records import BentProbe, Record, rise
from simharness.sheets.probe import OVERLAP, SAME, JoinedWire

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
