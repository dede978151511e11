"""The bent probe as a part: what to cut off, where to bend, so that its legs stand as in the solver's model."""

from __future__ import annotations

import math
from dataclasses import dataclass

from simharness.advice.joining import takes_solder, tip_through_mm
from simharness.constants import MM
from simharness.records import BentProbe, Record
from simharness.sheets.flat.probe import JoinedWire, joint_length, mm

BEND = 1.0
"""Inside radius of the bend, in diameters of the wire; common practice, no source."""
TIPS = {
    "open": "its tip stands free, {rise} from the axis of the run",
    "outside": "its tip comes through the {towards} wall, is soldered there all round from outside and filed flush",
    "inside": "its tip goes through a hole in the board and is soldered all round to the copper inside, before the board closes the box; "
    "outside, where the board is bare, it is filed flush",
    "both": "its tip goes through a hole in the board, is soldered all round to the copper inside before the board closes the box, then to the "
    "copper outside, and filed flush",
    "plate": "its tip comes through the {towards} wall and through a small brass plate screwed on outside, is soldered to that and filed flush",
}
"""What becomes of the tip: where it is soldered."""


@dataclass(frozen=True)
class BentPart(JoinedWire):
    """Lengths and diameters of a bent probe, m.

    Attributes
    ----------
    run, rise : from the inner face of the end to the axis of the riser, and from the axis of the run to the tip or the inner
        face that it is soldered to.
    through : thickness of what a soldered tip comes through; 0 for an open tip.
    height : axis of the run above the inner face of the back wall.
    wall : thickness of the end.
    wire, pin, hole : diameters of wire, pin in the wall and hole in the wall.
    overlap : length of the soldered joint of pin and wire; 0 where they are of one diameter.
    towards : 'front' or 'back'.
    tip : a key of `TIPS`.
    stripped, dielectric : as `ProbePart` has them.
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
    tip: str
    stripped: bool = False
    dielectric: float = 0.0

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
        tip = TIPS[self.tip].format(rise=mm(self.rise), towards=self.towards)
        trim = f"trim to {mm(self.rise + self.through)} from the axis of the run to the tip"
        return tuple(
            words
            for words in (
                f"Run {mm(self.run)} from the inner face of the end to the axis of the riser, {mm(self.height)} above the back wall; then "
                f"a right angle towards the {self.towards} wall; {tip}.",
                self.end_words(),
                self.joint_words(),
                f"Straight, {mm(self.inside)} of the wire reach into the guide. The bend saves {mm(self.saved)} against a sharp "
                f"corner: inside radius {mm(BEND * self.wire)}, one diameter (common practice).",
                f"Mark the middle of the bend {mm(self.run - self.saved / 2)} from the inner face of the end; bend over a rod of "
                f"{mm(2 * BEND * self.wire)}. Bend first, leave a millimetre, measure both legs to the axis, then {trim}.",
            )
            if words
        )


def tip_kind(record: Record, feed: BentProbe) -> str:
    """What becomes of the tip, a key of `TIPS`."""
    guide = record.guide
    if feed.tip == "open":
        return "open"
    if feed.towards == "front" and guide.laminate is not None:
        return "both" if guide.laminate.copper == "both" else "inside"
    return "outside" if takes_solder(guide.material) else "plate"


def bent_part(record: Record, feed: BentProbe) -> BentPart:
    """The bent probe of a record."""
    guide = record.guide
    wire, pin = feed.wire_diameter, feed.coax_inner
    kind = tip_kind(record, feed)
    through = tip_through_mm(record, feed) * MM
    joint = joint_length(wire, pin, feed.run / 2)
    return BentPart(
        feed.run,
        feed.riser_mm(guide.b_mm) * MM,
        through if kind != "open" else 0.0,
        feed.hole_height,
        guide.other_walls,
        wire,
        pin,
        feed.coax_outer,
        joint,
        feed.towards,
        kind,
        feed.connector == "stripped",
        feed.dielectric,
    )
