"""The straight probe as a part: what to cut where, so that wire and pin stand as in the solver's model."""

from __future__ import annotations

from dataclasses import dataclass

from simharness.records import Probe, Record
from simharness.sheets.flat.coax import ProbePart, joint_length, mm, with_screws
from simharness.sheets.flat.part import Part


@dataclass(frozen=True, kw_only=True)
class StraightProbePart(ProbePart):
    """Lengths and diameters of a straight probe, m.

    Attributes
    ----------
    height : tip over the inner face of the wall.
    wall_name : 'back' or 'front'.
    """

    height: float
    wall_name: str

    @property
    def inside(self) -> float:
        """Length of the probe inside the guide, m."""
        return self.height

    def instructions(self) -> tuple[str, ...]:
        """How it is made, a sentence each."""
        first = (
            f"Tip {mm(self.height)} over the inner face of the {self.wall_name} wall, "
            f"{mm(self.height + self.wall)} over its outer face."
        )
        return tuple(sentence for sentence in (first, self.end_message(), self.joint_message()) if sentence)


class StraightFeed:
    """Answers `feeds.FlatFeed` for a straight probe."""

    def __init__(self, record: Record, feed: Probe):
        self.record, self.feed = record, feed

    def probe(self) -> StraightProbePart:
        """The probe."""
        feed = self.feed
        wire, pin = feed.wire_diameter, feed.coax_inner
        return StraightProbePart(
            height=feed.height,
            wall=self.record.guide.thickness(feed.wall),
            wire=wire,
            pin=pin,
            hole=feed.coax_outer,
            # A bored wire must keep metal over its bore.
            overlap=joint_length(wire, pin, feed.height / 2),
            wall_name=feed.wall,
            stripped=feed.stripped,
            dielectric=feed.dielectric,
        )

    def with_holes(self, part: Part) -> Part:
        """A part with the screw holes of the flange."""
        return with_screws(part, self.feed)
