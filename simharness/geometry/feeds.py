"""What the scene asks of each kind of feed: its wire, its coax, their features for the mesh, its port."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Protocol

from simharness.constants import MM
from simharness.geometry.coax import Passage, coax_line, coax_widths
from simharness.geometry.pieces import Hole, Pieces
from simharness.geometry.scene import Feature, GapPort
from simharness.geometry.solids import METAL, Prism, block, equivalent_square_side
from simharness.records import BentProbe, CoaxFeed, Feed, Guide, GuidePort, Probe

Posts = tuple[tuple[Feature, ...], tuple[Feature, ...]]
"""Sides of the wire, in the order of the axes across its coax; first the side at the wall."""


@dataclass(frozen=True)
class Wire:
    """The wire of a probe: its solids, its tip, its sides."""

    prisms: tuple[Prism, ...]
    tip: tuple[Feature, ...]
    posts: Posts


class FeedGeometry(Protocol):
    """Geometry of a feed of one kind."""

    def __init__(self, feed: Any, guide: Guide): ...

    def holes(self) -> dict[str, Hole]:
        """Holes for a coax by the wall they go through: 'front', 'back' or 'near'."""
        ...

    def pieces(self, lumped: bool) -> Iterator[Pieces]:
        """What stands in the guide, with its coax line or, `lumped`, with a source in a cut of its foot."""
        ...


class PortFeed:
    """The mode of the guide itself: its port comes with the end of the guide."""

    def __init__(self, feed: GuidePort, guide: Guide):
        self.feed = feed

    def holes(self) -> dict[str, Hole]:
        """None."""
        return {}

    def pieces(self, lumped: bool) -> Iterator[Pieces]:
        """Nothing."""
        yield from ()


class WireFeed:
    """A wire in the guide at the end of a coax."""

    def __init__(self, feed: CoaxFeed, guide: Guide):
        self.coax, self.guide = feed, guide
        self.side = equivalent_square_side(feed.wire_diameter)

    @property
    def passage(self) -> Passage:
        """Where the coax comes through its wall."""
        raise NotImplementedError

    @property
    def first_leg(self) -> float:
        """Length of the wire up to its tip or its bend, m."""
        raise NotImplementedError

    def wire(self, foot: float) -> Wire:
        """The wire from `foot` on, a place along its coax."""
        raise NotImplementedError

    def holes(self) -> dict[str, Hole]:
        """The hole for the coax."""
        (_, u), (_, v) = self.passage.across
        return {self.coax.coax_wall: Hole(u, v, self.coax.coax_outer)}

    def pieces(self, lumped: bool) -> Iterator[Pieces]:
        """Wire and coax line, or wire and lumped source."""
        yield self._on_a_gap() if lumped else self._on_a_line()

    def _on_a_line(self) -> Pieces:
        """Wire, and the coax line that feeds it through its wall."""
        at = self.passage
        solids, along, port = coax_line(self.coax, at)
        wire = self.wire(at.inner)
        features = [*wire.tip]
        for (post, *more), widths in zip(wire.posts, coax_widths(self.coax, at)):
            features += [post, *widths, *more]
        return Pieces((*solids, *wire.prisms), (*features, *along), port)

    def _on_a_gap(self) -> Pieces:
        """Wire with a lumped source in a cut at its foot."""
        at = self.passage
        cut = at.inner + at.into * min(self.side, 0.1 * self.first_leg)
        wire = self.wire(cut)
        place = dict(at.across) | {at.axis: at.inner}
        low, high = sorted((at.inner, cut))
        port = GapPort(place[0], place[1], place[2], at.axis, self.side, low, high)
        gap = Feature("gap", at.axis, port.low, port.high)
        return Pieces(wire.prisms, (*wire.tip, gap, *(post for row in wire.posts for post in row)), port)

    def _tip(self, place: float, outward: int) -> Feature:
        return Feature("tip", 1, place, place, scale=self.side, outward=outward)


class StraightFeed(WireFeed):
    """A straight probe through a broad wall."""

    def __init__(self, feed: Probe, guide: Guide):
        super().__init__(feed, guide)
        self.feed = feed

    @property
    def passage(self) -> Passage:
        """Through the broad wall."""
        wall, across = self.feed.wall, ((0, self.feed.offset), (2, self.feed.position))
        inner, into = (-self.guide.height, 1) if wall == "back" else (0.0, -1)
        return Passage(1, into, inner, inner - into * self.guide.thickness(wall), across)

    @property
    def first_leg(self) -> float:
        """Length up to the tip, m."""
        return self.feed.height

    def wire(self, foot: float) -> Wire:
        """One column."""
        at = self.passage
        tip = at.inner + at.into * self.feed.height
        first, second = at.width("post", self.side)
        return Wire(
            (at.column("probe", METAL, self.side, foot, tip),),
            (self._tip(tip, at.into),),
            ((first,), (second,)),
        )


class BentFeed(WireFeed):
    """A probe through the near end, bent towards a broad wall."""

    def __init__(self, feed: BentProbe, guide: Guide):
        super().__init__(feed, guide)
        self.feed = feed

    @property
    def passage(self) -> Passage:
        """Through the near end."""
        height = self.feed.hole_height - self.guide.height
        return Passage(2, 1, 0.0, -self.guide.thickness("near"), ((0, self.feed.offset), (1, height)))

    @property
    def first_leg(self) -> float:
        """Length of the run, m."""
        return self.feed.run

    def wire(self, foot: float) -> Wire:
        """A column along the guide and one across it."""
        at, side, riser = self.passage, self.side, self.feed.run
        (_, x), (_, base) = at.across
        up = 1 if self.feed.towards == "front" else -1
        tip = base + up * self.feed.riser_mm(self.guide.height_mm) * MM
        y0, y1 = sorted((base - up * side / 2, tip))
        bounds = x - side / 2, x + side / 2, y0, y1, riser - side / 2, riser + side / 2
        solids = (
            at.column("probe", METAL, side, foot, riser + side / 2),
            block("probe riser", METAL, bounds),
        )
        first, second = at.width("post", side)
        along = Feature("post", 2, riser - side / 2, riser + side / 2)
        ends = () if self.feed.soldered_tip else (self._tip(tip, up),)
        return Wire(solids, ends, ((first,), (second, along)))


_KINDS: dict[str, type[FeedGeometry]] = {
    "probe": StraightFeed,
    "bent-probe": BentFeed,
    "guide-port": PortFeed,
}


def feed_geometry(feed: Feed, guide: Guide) -> FeedGeometry:
    """The geometry of a feed by its kind."""
    return _KINDS[feed.kind](feed, guide)
