"""What the build list says of a feed: what to buy, how to make and mount it, what the model lacks, cautions.

`FeedMessages` holds the questions, with the answers of a feed that needs nothing; `CoaxMessages` what all
feeds by a coax have in common.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from simharness.advice.solder import BRASS_PLATE_MM
from simharness.constants import MM
from simharness.records import CoaxFeed
from simharness.sheets.flat.coax import ProbePart, mm, screw_pattern

if TYPE_CHECKING:
    from simharness.sheets.build.facts import Build

PLATE_SIDE = 12e-3
"""Least side of the brass plate that takes solder where a wall does not, m; a choice."""
COUNTERSUNK = 0.63
"""Height of a countersunk head over the clearance drill of its screw; 1.65 of 3.2 mm and 1.5 of 2.6 mm in
ISO 7046 (memory)."""


class FeedMessages:
    """The questions of the build list, answered for a feed that needs nothing.

    Attributes
    ----------
    part : the wire to be made, or None.
    mounted : whether a connector or cable is joined to the guide.
    stripped : whether that is a cable without connector.
    tip_wall : 'front' or 'back' where the tip of the wire is soldered to that wall, else empty.
    near_end_last : whether the near end is put on after the far end; until then the wire can be reached.
    """

    part: ProbePart | None = None
    mounted = False
    stripped = False
    tip_wall = ""
    near_end_last = False

    def to_buy(self, build: Build) -> tuple[str, ...]:
        """Connector or cable, wire, and what holds them."""
        return ()

    def joints(self, build: Build) -> tuple[str, ...]:
        """How connector or cable is joined to the wall, and a tip to its plate."""
        return ()

    def mounting_steps(self, build: Build) -> tuple[str, ...]:
        """How connector or cable are mounted and the wire is checked, before the box is closed."""
        return ()

    def lay_front(self, build: Build, front: str, seams: str) -> Iterator[str]:
        """How the front wall of metal is put on.

        Parameters
        ----------
        front, seams : beginning and end of the sentence that lays it on the sides and closes its seams.
        """
        yield f"{front}; {seams}."

    def put_near_end(self, build: Build) -> str:
        """The near end put on, the beginning of a sentence."""
        return f"Put the {build.end('near')} on"

    def near_end_under_laminate(self, build: Build) -> str:
        """The near end put on back and sides before a board closes the box, a sentence."""
        return f"Put the {build.end('near')} on back and sides{build.press}; {build.join} {UNDER_LAMINATE}."

    def before_laminate(self, build: Build) -> Iterator[str]:
        """What is soldered inside before the board closes the box."""
        yield from ()

    def after_laminate(self, build: Build) -> Iterator[str]:
        """What is closed when the board lies on the box."""
        yield from ()

    def into_tube(self, build: Build) -> Iterator[str]:
        """How the wire comes to its place in a stock tube."""
        yield from ()

    def unmodelled(self, build: Build) -> tuple[str, ...]:
        """What of the feed the field solver's model lacks."""
        return ()

    def cautions(self) -> tuple[str, ...]:
        """Care that this feed asks for."""
        return ()


UNDER_LAMINATE = "but for its edge under the board"


class CoaxMessages(FeedMessages):
    """What the build list says of every feed by a coax."""

    mounted = True
    part: ProbePart

    def __init__(self, feed: CoaxFeed, part: ProbePart):
        self.coax, self.part = feed, part
        self.stripped = feed.stripped

    def wall_name(self, build: Build) -> str:
        """What the part is called that the coax comes through."""
        raise NotImplementedError

    def check(self, build: Build) -> str:
        """What of the wire is measured, and when, a sentence."""
        raise NotImplementedError

    def plates(self, build: Build) -> list[str]:
        """Brass plates for what cannot be soldered to the walls, each the end of a sentence."""
        if self.stripped and not build.solders:
            return [f"one with a hole of {mm(self.part.hole)} for the cable"]
        return []

    def to_buy(self, build: Build) -> tuple[str, ...]:
        """Connector or cable, wire, and what holds them."""
        return self._coax_to_buy(), *self._wire_to_buy(), *self._screws(build), *self._plates_to_buy(build)

    def _coax_to_buy(self) -> str:
        coax, part = self.coax, self.part
        if self.stripped:
            return (
                "Coax cable, 50 ohm, with solid dielectric: inner conductor "
                f"{mm(part.pin)}, dielectric {mm(part.hole)}."
            )
        size = (
            f"insulator {mm(part.hole)}, at least {mm(part.insulator_length)} long from the face that sits "
            f"on the wall; pin {mm(part.pin)} thick and at least {mm(part.pin_length)} long from there."
        )
        if coax.connector == "panel":
            return f"Coax panel connector, 50 ohm, square flange of {coax.flange_mm:g} mm: {size}"
        flange = "" if coax.flange_mm is None else f" with a square flange of {coax.flange_mm:g} mm"
        return f"Coax connector, 50 ohm, for a panel{flange}: {size}"

    def _wire_to_buy(self) -> tuple[str, ...]:
        part = self.part
        if not part.wire_length:
            return ()
        return (f"Wire for the probe: {mm(part.wire)} thick, {mm(part.wire_length)} of it.",)

    def _screws(self, build: Build) -> tuple[str, ...]:
        if not build.screwed or self.coax.flange_mm is None:
            return ()
        drill = screw_pattern(self.coax.flange_mm).diameter
        head = "countersunk" if self._sunk(self.coax.flange_mm) else "low-headed"
        return (f"Four {head} screws for holes of {mm(drill)}, with nuts.",)

    def _sunk(self, flange_mm: float) -> bool:
        """Whether the wall is thick enough for countersunk heads."""
        return self.part.wall >= COUNTERSUNK * screw_pattern(flange_mm).diameter

    def _plates_to_buy(self, build: Build) -> tuple[str, ...]:
        found = self.plates(build)
        if not found:
            return ()
        side = PLATE_SIDE / MM
        return (
            f"Brass plate, {BRASS_PLATE_MM:g} mm thick, at least {side:.0f} mm square: "
            f"{' and '.join(found)}.",
        )

    def _insulator(self) -> str:
        """How far the dielectric goes."""
        name = self.part.insulator
        if not self.coax.dielectric_mm:
            return f"its {name} ends flush with the inner face"
        return f"its {name} stands {self.coax.dielectric_mm:g} mm over the inner face, cut square"

    def joints(self, build: Build) -> tuple[str, ...]:
        """How connector or cable is joined to the wall, and its seat on a round tube."""
        mounting = self._cable(build) if self.stripped else self._connector(build)
        return mounting, *build.shape.seat(build, self.stripped)

    def _cable(self, build: Build) -> str:
        end = "fan out the braid, or square off the tube of the outer conductor"
        soft = (
            "Heat the metal, not the cable: soft dielectrics creep, so be quick and let it cool before you "
            "move it."
        )
        if build.solders:
            return (
                f"Cable: {end}, tin it and the land on the outside, and solder it all round the hole in the "
                f"{self.wall_name(build)}; {self._insulator()}. {soft}"
            )
        return (
            f"Cable: {build.guide.material} takes no solder, so {end}, solder it all round into its brass "
            f"plate, and screw that over the hole in the {self.wall_name(build)}, bright metal on bright "
            f"metal; {self._insulator()}, so take the outer conductor off over {BRASS_PLATE_MM:g} mm more "
            f"than under Probe, and leave as much more of the dielectric. {soft}"
        )

    def _connector(self, build: Build) -> str:
        if self.coax.connector == "panel" and self.coax.flange_mm is not None:
            if build.screwed:
                return self._flange(self.coax.flange_mm)
            fix = "rivet it to an angle, bright metal on bright metal"
            if build.solders:
                fix = "tin flange and land, and solder it down all round"
            return f"Connector: the screws of its flange find no metal here; {fix}; {self._insulator()}."
        fix = (
            "bare the land on the outside, centre the pin in its hole, and hold the connector down by its "
            "nut or its screws, bright metal on bright metal"
        )
        if build.solders:
            fix = (
                "bare and tin the land on the outside, centre the pin in its hole, and solder the connector "
                "down all round"
            )
        return f"Connector: {fix}; {self._insulator()}."

    def _flange(self, flange_mm: float) -> str:
        pattern = screw_pattern(flange_mm)
        kind = (
            "a common kind of flange" if pattern.known else "a guess, since the flange is of no common kind"
        )
        heads = "heads inside, as low as can be had, since the wall is too thin to sink them"
        if self._sunk(flange_mm):
            heads = "heads countersunk from inside, flush with the inner face"
        return (
            f"Connector: four screw holes of {pattern.diameter * 1e3:g} mm, {pattern.spacing * 1e3:g} mm "
            f"apart, by common practice ({kind}): measure your connector before you drill. Bright metal "
            f"under the flange; {self._insulator()}; {heads}, nuts outside."
        )

    def mounting_steps(self, build: Build) -> tuple[str, ...]:
        """How connector or cable are mounted and the wire is checked, before the box is closed."""
        part, coax = self.part, "cable" if self.stripped else "connector"
        how = "solder" if build.solders and not build.screwed else "screw"
        thick = bool(part.wire_length) and part.wire > part.hole
        wire = " and its wire" if part.wire_length and not thick else ""
        what = f"the {coax}" if build.solders or not self.stripped else "its brass plate"
        found = [
            f"Prepare the {coax}{wire} as under Probe; {how} {what} to the {self.wall_name(build)} from "
            "outside, as under Joints."
        ]
        if thick:
            found.append(f"The wire is thicker than its hole: join it to the {part.core} from inside.")
        return (*found, self.check(build))

    def unmodelled(self, build: Build) -> tuple[str, ...]:
        """What of the feed the field solver's model lacks."""
        found = []
        if build.screwed:
            found.append("Not in its model: the screws of the flange.")
        if self.plates(build):
            found.append("Not in its model: brass plates, which lie on the outside.")
        return tuple(found)

    def cautions(self) -> tuple[str, ...]:
        """Care that hot cable asks for."""
        if not self.stripped:
            return ()
        return (
            "Hot dielectric gives off fumes, fluoropolymers above all: do not overheat the cable, and work "
            "with extraction.",
        )
