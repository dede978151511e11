"""What is built, as facts: every sentence of the build list asks here whether it applies."""

from __future__ import annotations

from dataclasses import dataclass

from simharness.advice.solder import takes_solder
from simharness.geometry.scene import Scene
from simharness.records import BentProbe, CoaxFeed, Guide, Laminate, Probe, Record
from simharness.sheets.drawing.feed import FeedPart
from simharness.sheets.flat.connector import has_screws
from simharness.sheets.flat.interior import absorber_room
from simharness.sheets.flat.parts import Fabrication, Part, closed_ends
from simharness.sheets.flat.shapes import Opening


@dataclass(frozen=True)
class Build:
    """A record with its geometry, the way it is made, and the parts that come of it.

    Attributes
    ----------
    probe : the wire of the feed; None where the guide is fed by a guide.
    cutter : diameter of the cutter whose path the files hold, m; 0: hand tools.
    """

    record: Record
    scene: Scene
    fabrication: Fabrication
    parts: tuple[Part, ...]
    probe: FeedPart | None
    cutter: float = 0.0

    @property
    def guide(self) -> Guide:
        """The guide of the record."""
        return self.record.guide

    @property
    def coax(self) -> CoaxFeed | None:
        """The feed, where it is a coax."""
        return self.record.feed if isinstance(self.record.feed, CoaxFeed) else None

    @property
    def bent(self) -> BentProbe | None:
        """The feed, where its wire is bent."""
        return self.record.feed if isinstance(self.record.feed, BentProbe) else None

    @property
    def straight(self) -> Probe | None:
        """The feed, where its wire is straight."""
        return self.record.feed if isinstance(self.record.feed, Probe) else None

    @property
    def stripped(self) -> bool:
        """Whether a cable without connector is soldered in."""
        return self.coax is not None and self.coax.connector == "stripped"

    @property
    def screwed(self) -> bool:
        """Whether a flange has its screw holes."""
        return has_screws(self.parts)

    @property
    def tip_wall(self) -> str:
        """'front' or 'back' where the tip of the wire ends on that wall, else empty."""
        return self.bent.towards if self.bent is not None and self.bent.tip == "soldered" else ""

    @property
    def board(self) -> Laminate | None:
        """The front wall of laminate."""
        return self.guide.laminate

    @property
    def etched(self) -> bool:
        """Whether the slots are in the copper alone."""
        return self.board is not None and self.board.slots == "etched"

    @property
    def lined(self) -> bool:
        """Whether the board has copper on both faces, and round the edges of its slots."""
        return self.board is not None and self.board.copper == "both"

    @property
    def tip_on_board(self) -> bool:
        """Whether the tip is soldered to the copper of the board, inside."""
        return self.board is not None and self.tip_wall == "front"

    @property
    def round(self) -> bool:
        """Whether the guide is a round tube."""
        return bool(self.scene.bore)

    @property
    def folded(self) -> bool:
        """Whether the guide is folded from sheet."""
        return self.fabrication.make == "folded" and not self.round

    @property
    def solders(self) -> bool:
        """Whether the walls take solder."""
        return takes_solder(self.guide.material)

    @property
    def joined(self) -> bool:
        """Whether anything is joined to the walls: not in a tube between two guides."""
        return self.folded or bool(self.ends) or self.coax is not None

    @property
    def flux(self) -> bool:
        """Whether anything is soldered."""
        wire = self.probe is not None and self.probe.wire_length > 0
        return (self.solders and self.joined) or self.stripped or self.lined or bool(self.tip_wall) or wire

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
        return any(part.bends for part in self.parts if part.name.endswith("end"))

    @property
    def lips(self) -> bool:
        """Whether the front wall has lips over the sides."""
        return self.folded and self.board is None and self.fabrication.lip > 0

    @property
    def under_board(self) -> tuple[str, ...]:
        """The ends that stand on back and sides when the board is laid on: not one that is soldered to it, nor one that waits for an absorber."""
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
        part = next(p for p in self.parts if p.name == f"{end}-end")
        return part.title[0].lower() + part.title[1:]

    def wall(self, wall: str) -> str:
        """What 'front' or 'back' is called."""
        if self.round:
            return f"{wall} line of the tube"
        return f"{wall} wall" if self.folded else f"{wall} face of the tube"

    @property
    def feed_wall(self) -> str:
        """What the part is called that the coax comes through."""
        assert self.coax is not None
        if self.round:
            return f"{self.straight.wall} of the tube"  # type: ignore[union-attr]
        return self.end("near") if self.bent is not None else self.wall(self.straight.wall)  # type: ignore[union-attr]

    @property
    def how(self) -> str:
        """How it is made, the end of a sentence."""
        if self.round:
            return "made from round tube"
        if not self.folded:
            return "made from stock tube"
        return (
            "folded from sheet" if self.board is None else "folded from sheet, with a front wall of laminate"
        )
