"""What the build list says of a straight probe."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simharness.records import Probe, Record
from simharness.sheets.build.feed_messages import CoaxMessages
from simharness.sheets.flat.coax import mm
from simharness.sheets.flat.feed_straight import StraightFeed, StraightProbePart

if TYPE_CHECKING:
    from simharness.sheets.build.facts import Build


class StraightMessages(CoaxMessages):
    """A straight probe through a broad wall."""

    part: StraightProbePart

    def __init__(self, record: Record, feed: Probe):
        super().__init__(feed, StraightFeed(record, feed).probe())
        # The last end to be put on is the one that hides the tip, unless an absorber comes after it.
        self.near_end_last = record.guide.far_end != "load"

    def wall_name(self, build: Build) -> str:
        """What the part is called that the coax comes through."""
        return build.shape.feed_wall(build, self.part.wall_name)

    def check(self, build: Build) -> str:
        """What of the probe is measured, and when, a sentence."""
        part = self.part
        if build.folded:
            return (
                "Check with the depth rod of a caliper, while you can reach it: the tip stands "
                f"{mm(part.inside)} over the inner face of the {part.wall_name} wall."
            )
        return (
            f"Check through the open end: the tip stands {mm(part.inside)} over the inner face. Where no "
            f"caliper reaches, measure it before it goes in: {mm(part.inside + part.wall)} from the face "
            "that sits on the tube."
        )

    def put_near_end(self, build: Build) -> str:
        """The near end put on, the beginning of a sentence."""
        return f"Look once more at the height of the tip; put the {build.end('near')} on"
