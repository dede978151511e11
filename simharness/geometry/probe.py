"""Probes: the wire inside the guide with its coax, and what the mesh must honour of it."""

from __future__ import annotations

from simharness.constants import MM
from simharness.geometry.coax import Passage, coax_line, coax_widths, passage
from simharness.geometry.pieces import Pieces
from simharness.geometry.scene import METAL, Bounds, Feature, GapPort, Prism, block, equivalent_square_side
from simharness.records import BentProbe, CoaxFeed, Guide, Probe


def coax_feed(guide: Guide, feed: CoaxFeed) -> Pieces:
    """Wire, and the coax line that feeds it through its wall."""
    at = passage(guide, feed)
    solids, along, port = coax_line(feed, at)
    wire, ends, posts = _wire(guide, feed, at, at.inner)
    features = [*ends]
    for (post, *more), widths in zip(posts, coax_widths(feed, at)):
        features += [post, *widths, *more]
    return Pieces((*solids, *wire), (*features, *along), port)


def gap_feed(guide: Guide, feed: CoaxFeed) -> Pieces:
    """Wire with a lumped source in a cut at its foot."""
    at = passage(guide, feed)
    side = equivalent_square_side(feed.wire_diameter)
    cut = at.inner + at.into * min(side, 0.1 * _first_leg(feed) * MM)
    wire, ends, posts = _wire(guide, feed, at, cut)
    place = {axis: centre for axis, centre in at.across} | {at.axis: at.inner}
    port = GapPort(place[0], place[1], place[2], at.axis, side, min(at.inner, cut), max(at.inner, cut))
    gap = Feature("gap", at.axis, port.low, port.high)
    return Pieces(wire, (*ends, gap, *(post for row in posts for post in row)), port)


def _first_leg(feed: CoaxFeed) -> float:
    """Length of the wire up to its tip or its bend, mm."""
    return feed.run_mm if isinstance(feed, BentProbe) else feed.height_mm  # type: ignore[attr-defined]


Posts = tuple[tuple[Feature, ...], tuple[Feature, ...]]
"""Sides of the wire, in the order of the axes across its coax; first the side at the wall."""


def _wire(
    guide: Guide, feed: CoaxFeed, at: Passage, foot: float
) -> tuple[tuple[Prism, ...], tuple[Feature, ...], Posts]:
    """Solids of the wire from `foot` on, its tip and its sides."""
    side = equivalent_square_side(feed.wire_diameter)
    across = tuple((post,) for post in at.width("post", side))
    if isinstance(feed, Probe):
        tip = at.inner + at.into * feed.height_mm * MM
        return (at.column("probe", METAL, side, foot, tip),), (_tip(tip, side, at.into),), across  # type: ignore[return-value]
    assert isinstance(feed, BentProbe)
    riser = feed.run
    (_, x), (_, base) = at.across
    up = 1 if feed.towards == "front" else -1
    tip = base + up * feed.riser_mm(guide.height_mm) * MM
    y0, y1 = sorted((base - up * side / 2, tip))
    solids = (
        at.column("probe", METAL, side, foot, riser + side / 2),
        block("probe riser", METAL, _box(x, y0, y1, riser, side)),
    )
    ends = () if feed.tip == "soldered" else (_tip(tip, side, up),)
    return solids, ends, (across[0], (*across[1], Feature("post", 2, riser - side / 2, riser + side / 2)))


def _box(x: float, y0: float, y1: float, z: float, side: float) -> Bounds:
    return x - side / 2, x + side / 2, y0, y1, z - side / 2, z + side / 2


def _tip(place: float, side: float, outward: int) -> Feature:
    return Feature("tip", 1, place, place, scale=side, outward=outward)
