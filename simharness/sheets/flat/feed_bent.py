"""The bent probe as a part: what to cut and where to bend so that its legs stand as in the solver's model."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from simharness.advice.solder import takes_solder, tip_through_mm
from simharness.constants import MM
from simharness.records import BentProbe, Record
from simharness.sheets.flat.coax import ProbePart, joint_length, mm, round_hole, with_screws
from simharness.sheets.flat.part import Part

BEND = 1.0
"""Inside radius of the bend, in diameters of the wire; common practice, no source."""
TIPS = {
    "open": "its tip stands free, {rise} from the axis of the run",
    "outside": (
        "its tip comes through the {towards} wall, is soldered there all round from outside and filed flush"
    ),
    "inside": (
        "its tip goes through a hole in the board and is soldered all round to the copper inside, before the "
        "board closes the box; outside, where the board is bare, it is filed flush"
    ),
    "both": (
        "its tip goes through a hole in the board, is soldered all round to the copper inside before the "
        "board closes the box, then to the copper outside, and filed flush"
    ),
    "plate": (
        "its tip comes through the {towards} wall and through a small brass plate screwed on outside, is "
        "soldered to that and filed flush"
    ),
}
"""What becomes of the tip: where it is soldered."""


@dataclass(frozen=True, kw_only=True)
class BentProbePart(ProbePart):
    """Lengths and diameters of a bent probe, m; `wall` is the end that it comes through.

    Attributes
    ----------
    run : from the inner face of the end to the axis of the riser.
    rise : from the axis of the run to the tip, or to the inner face that the tip is soldered to.
    through : thickness of what a soldered tip comes through; 0 for an open tip.
    height : axis of the run above the inner face of the back wall.
    towards : 'front' or 'back'.
    tip : a key of `TIPS`.
    """

    run: float
    rise: float
    through: float
    height: float
    towards: str
    tip: str

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

    def instructions(self) -> tuple[str, ...]:
        """How it is made, a sentence each."""
        tip = TIPS[self.tip].format(rise=mm(self.rise), towards=self.towards)
        trim = f"trim to {mm(self.rise + self.through)} from the axis of the run to the tip"
        return tuple(
            sentence
            for sentence in (
                f"Run {mm(self.run)} from the inner face of the end to the axis of the riser, "
                f"{mm(self.height)} above the back wall; then a right angle towards the {self.towards} "
                f"wall; {tip}.",
                self.end_message(),
                self.joint_message(),
                f"Straight, {mm(self.inside)} of the wire reach into the guide. The bend saves "
                f"{mm(self.saved)} against a sharp corner: inside radius {mm(BEND * self.wire)}, one "
                "diameter (common practice).",
                f"Mark the middle of the bend {mm(self.run - self.saved / 2)} from the inner face of the "
                f"end; bend over a rod of {mm(2 * BEND * self.wire)}. Bend first, leave a millimetre, "
                f"measure both legs to the axis, then {trim}.",
            )
            if sentence
        )


class BentFeed:
    """Answers `feeds.FlatFeed` for a bent probe."""

    def __init__(self, record: Record, feed: BentProbe):
        self.record, self.feed = record, feed

    def tip(self) -> str:
        """What becomes of the tip, a key of `TIPS`."""
        guide, feed = self.record.guide, self.feed
        if not feed.soldered_tip:
            return "open"
        if feed.towards == "front" and guide.laminate is not None:
            return "both" if guide.laminate.copper == "both" else "inside"
        return "outside" if takes_solder(guide.material) else "plate"

    def probe(self) -> BentProbePart:
        """The probe."""
        record, feed = self.record, self.feed
        wire, pin, tip = feed.wire_diameter, feed.coax_inner, self.tip()
        return BentProbePart(
            run=feed.run,
            rise=feed.riser_mm(record.guide.height_mm) * MM,
            through=0.0 if tip == "open" else tip_through_mm(record, feed) * MM,
            height=feed.hole_height,
            wall=record.guide.thickness("near"),
            wire=wire,
            pin=pin,
            hole=feed.coax_outer,
            overlap=joint_length(wire, pin, feed.run / 2),
            towards=feed.towards,
            tip=tip,
            stripped=feed.stripped,
            dielectric=feed.dielectric,
        )

    def with_holes(self, part: Part) -> Part:
        """A part with the screw holes of the flange, and the hole that a soldered tip comes through."""
        part = with_screws(part, self.feed)
        if not self.feed.soldered_tip or part.place != self.feed.towards:
            return part
        across = (-1 if part.reversed else 1) * self.feed.offset
        tip = round_hole("tip", (self.feed.run, across), self.feed.wire_diameter)
        return replace(part, openings=(*part.openings, tip))
