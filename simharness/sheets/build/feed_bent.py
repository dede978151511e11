"""What the build list says of a bent probe, and where its tip comes in the order of work."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from simharness.advice.solder import lifting_room
from simharness.records import BentProbe, Record
from simharness.sheets.build.feed_messages import UNDER_LAMINATE, CoaxMessages
from simharness.sheets.flat.coax import mm
from simharness.sheets.flat.feed_bent import BentFeed, BentProbePart

if TYPE_CHECKING:
    from simharness.sheets.build.facts import Build


class BentMessages(CoaxMessages):
    """A probe through the near end, bent towards a broad wall."""

    part: BentProbePart

    def __init__(self, record: Record, feed: BentProbe):
        super().__init__(feed, BentFeed(record, feed).probe())
        self.record, self.feed = record, feed
        self.tip_wall = feed.towards if feed.soldered_tip else ""

    def wall_name(self, build: Build) -> str:
        """The near end: the coax comes through it."""
        return build.end("near")

    def check(self, build: Build) -> str:
        """What of the wire is measured, a sentence."""
        rise = f", rise of {mm(self.part.rise)}" if self.part.tip == "open" else ""
        legs = f"run of {mm(self.part.run)}{rise} and right angle"
        return f"Bend the wire as under Probe; check {legs} with caliper and square."

    def plates(self, build: Build) -> list[str]:
        """Brass plates for cable and tip."""
        found = super().plates(build)
        if self.part.tip == "plate":
            found.append(f"one with a hole of {mm(self.part.wire)} for the tip of the wire")
        return found

    def joints(self, build: Build) -> tuple[str, ...]:
        """How connector or cable is joined to the end, and its tip where that is soldered to a plate."""
        found = super().joints(build)
        if self.part.tip != "plate":
            return found
        return (
            *found,
            f"Tip: screw or rivet its brass plate over the hole in the {self.tip_wall} wall, bright metal on "
            "bright metal, and solder the tip into it.",
        )

    def _solder_tip(self, build: Build) -> str:
        """Soldering the tip from outside, the end of a sentence."""
        into = "all round from outside" if build.solders else "into its brass plate"
        return f"solder the tip {into} and file it flush"

    def _wire_through_back(self, build: Build) -> str:
        """The near end put on, its wire through the back wall; the beginning of a sentence."""
        put = f"Put the {build.end('near')} on back and sides"
        if not build.tabbed:
            return f"{put}, the wire through its hole in the back wall"
        return (
            f"{put}, its tab over the back wall still unbent, until the wire is through its hole in that "
            "wall; then bend the tab onto it"
        )

    def lay_front(self, build: Build, front: str, seams: str) -> Iterator[str]:
        """How the front wall of metal is put on: a soldered tip goes through its wall on the way."""
        if self.tip_wall == "":
            yield from super().lay_front(build, front, seams)
        elif self.tip_wall == "back":
            through = self._wire_through_back(build)
            yield f"{through}; {build.join} but along the front; {self._solder_tip(build)}."
            yield f"{front}; {seams}, and the near end along the front."
        else:
            unbent = ", its tab over the front wall still unbent" if build.tabbed else ""
            bend = "bend that tab down; " if build.tabbed else ""
            hold = "tack" if build.solders else "hold"
            yield f"Put the {build.end('near')} on back and sides{unbent}, and {hold} it."
            yield f"{front}, the wire through its hole; {seams}."
            yield f"At the near end, {bend}{build.join}; {self._solder_tip(build)}."

    def put_near_end(self, build: Build) -> str:
        """The near end put on, the beginning of a sentence."""
        return f"{super().put_near_end(build)}, with its wire"

    def near_end_under_laminate(self, build: Build) -> str:
        """The near end put on back and sides before a board closes the box, a sentence."""
        if self.tip_wall == "back":
            through = self._wire_through_back(build)
            return f"{through}; {build.join} {UNDER_LAMINATE}; {self._solder_tip(build)}."
        put = f"Put the {build.end('near')} on back and sides, with its wire"
        return f"{put}{build.press}; {build.join} {UNDER_LAMINATE}."

    def before_laminate(self, build: Build) -> Iterator[str]:
        """A tip on the board: the near end is joined to the board before either is joined to the box."""
        if not build.tip_on_board:
            return
        yield (
            f"Stand the {build.end('near')} upright on the copper of the board, at its near end, the wire "
            f"through its hole; check the right angle and the run of {mm(self.part.run)}; solder the tip to "
            "the copper inside all round."
        )
        if build.solders:
            yield (
                f"Solder the {build.end('near')} to the copper from inside, along its whole edge; look at "
                "both joints now, since nobody sees them later."
            )

    def after_laminate(self, build: Build) -> Iterator[str]:
        """Joining the near end, which was put on with the board."""
        if not build.tip_on_board:
            return
        join = "Solder" if build.solders else "Join as under Joints"
        yield f"{join} the {build.end('near')} all round to back and sides."
        if build.lined:
            yield "Solder the tip to the copper outside and file it flush."
        else:
            yield "File the tip flush outside with the bare board."

    def into_tube(self, build: Build) -> Iterator[str]:
        """How a soldered tip comes into its hole in a stock tube."""
        if not self.tip_wall:
            return
        away = "nearer to the back" if self.tip_wall == "front" else "nearer to the front"
        lack = lifting_room(self.record, self.feed)
        room = ""
        if lack > 0:
            room = (
                f" There is no room for this, {lack:.1f} mm too little: move the run, as 'simharness check' "
                "says."
            )
        yield (
            f"Bring the {build.end('near')} up with its wire {mm(self.part.through)} {away} than its place, "
            f"until the wire is under its hole in the {build.wall(self.tip_wall)}; then move it into "
            f"place.{room}"
        )
        yield f"At the near end, {build.join}; {self._solder_tip(build)}."

    def unmodelled(self, build: Build) -> tuple[str, ...]:
        """What of the feed the field solver's model lacks."""
        bend = "Not in its model: the radius of the probe's bend, which has a sharp corner there."
        return bend, *super().unmodelled(build)
