"""What is built, as facts: the build list asks here what applies to a record and what parts are called."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from simharness.advice.solder import takes_solder
from simharness.geometry.scene import Scene
from simharness.records import Guide, Laminate, Record
from simharness.sheets.build.feed_messages import FeedMessages
from simharness.sheets.build.feeds import feed_messages
from simharness.sheets.build.shapes import ShapeMessages, shape_messages
from simharness.sheets.flat.coax import ProbePart, has_screws
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.part import Opening, Part
from simharness.sheets.flat.walls import absorber_room, closed_ends


def sheet_material(record: Record) -> str:
    """Name of the metal to buy."""
    return "sheet" if record.guide.material == "perfect" else record.guide.material


@dataclass(frozen=True)
class Build:
    """A record with its geometry, how it is made, and its parts.

    Attributes
    ----------
    cutter : diameter of the cutter whose path the files hold, m; 0: hand tools.
    """

    record: Record
    scene: Scene
    fabrication: Fabrication
    parts: tuple[Part, ...]
    cutter: float = 0.0

    @functools.cached_property
    def feed(self) -> FeedMessages:
        """What is to be said of the feed."""
        return feed_messages(self.record)

    @property
    def shape(self) -> ShapeMessages:
        """What is to be said of the shape of the guide."""
        return shape_messages(self.record)

    @property
    def probe(self) -> ProbePart | None:
        """The wire of the feed, or None where the guide is fed by a guide."""
        return self.feed.part

    @property
    def guide(self) -> Guide:
        """The guide of the record."""
        return self.record.guide

    @property
    def screwed(self) -> bool:
        """Whether a flange has its screw holes."""
        return has_screws(self.parts)

    @property
    def tip_wall(self) -> str:
        """'front' or 'back' where the tip of the wire is soldered to that wall, else empty."""
        return self.feed.tip_wall

    @property
    def laminate(self) -> Laminate | None:
        """The front wall of laminate."""
        return self.guide.laminate

    @property
    def etched(self) -> bool:
        """Whether the slots are in the copper alone."""
        return self.laminate is not None and self.laminate.slots == "etched"

    @property
    def lined(self) -> bool:
        """Whether the board has copper on both faces, and round the edges of its slots."""
        return self.laminate is not None and self.laminate.copper == "both"

    @property
    def tip_on_board(self) -> bool:
        """Whether the tip is soldered to the copper of the board, inside."""
        return self.laminate is not None and self.tip_wall == "front"

    @property
    def folded(self) -> bool:
        """Whether the guide is folded from sheet."""
        return self.shape.folded(self.fabrication.make)

    @property
    def metal(self) -> str:
        """Name of the metal to buy."""
        return sheet_material(self.record)

    @property
    def solders(self) -> bool:
        """Whether the walls take solder."""
        return takes_solder(self.guide.material)

    @property
    def joined(self) -> bool:
        """Whether anything is joined to the walls: not in a tube between two guides."""
        return self.folded or bool(self.ends) or self.feed.mounted

    @property
    def flux(self) -> bool:
        """Whether anything is soldered."""
        wire = self.feed.part is not None and self.feed.part.wire_length > 0
        soldered = self.feed.stripped or bool(self.tip_wall) or wire
        return (self.solders and self.joined) or self.lined or soldered

    @property
    def absorber(self) -> bool:
        """Whether an absorber lies at the far end."""
        return absorber_room(self.scene) is not None

    @property
    def ends(self) -> tuple[str, ...]:
        """The ends that have a plate: 'near', 'far'."""
        return closed_ends(self.scene)

    @property
    def tabbed(self) -> bool:
        """Whether end caps have tabs."""
        return any(part.bends for part in self.parts if part.place in ("near", "far"))

    @property
    def lips(self) -> bool:
        """Whether the front wall has lips over the sides."""
        return self.folded and self.laminate is None and self.fabrication.lip > 0

    @property
    def under_laminate(self) -> tuple[str, ...]:
        """The ends that stand on back and sides when the board is laid on.

        Not one that is soldered to the board, nor one that waits for an absorber.
        """
        waiting = {"near"} if self.tip_on_board else set()
        return tuple(end for end in self.ends if end not in waiting | ({"far"} if self.absorber else set()))

    @property
    def sealed(self) -> bool:
        """Whether the finished box has no opening at all."""
        return len(self.ends) == 2 and all(slot.path.layer == "etch" for slot in self.slots)

    @property
    def slots(self) -> tuple[Opening, ...]:
        """The slots of all parts, in the order of their numbers."""
        found = (o for part in self.parts for o in part.openings if o.kind == "slot")
        return tuple(sorted(found, key=lambda o: o.number))

    def end(self, end: str) -> str:
        """What the near or far end is called where it is closed."""
        part = next(part for part in self.parts if part.place == end)
        return part.title[0].lower() + part.title[1:]

    def wall(self, wall: str) -> str:
        """What 'front' or 'back' is called."""
        return self.shape.wall(self, wall)

    @property
    def how(self) -> str:
        """How it is made, the end of a sentence."""
        return self.shape.how(self)

    @property
    def join(self) -> str:
        """What is done with a joint, a piece of a sentence."""
        return "solder all round" if self.solders else "join all round as under Joints"

    @property
    def press(self) -> str:
        """How an end cap sits on the box, a piece of a sentence; empty without tabs."""
        if not self.tabbed:
            return ""
        return ", its tabs bent a little past square so that they press on the outside of the box"
