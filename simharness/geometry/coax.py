"""The coax of a feed: its line behind the wall, its port, its flange, its dielectric inside the guide."""

from __future__ import annotations

from dataclasses import dataclass

from simharness.constants import MM
from simharness.em.guide.coax import coax_impedance
from simharness.geometry.scene import CoaxPort, Feature
from simharness.geometry.solids import (
    METAL,
    Bounds,
    Material,
    Prism,
    block,
    equivalent_square_bore,
    equivalent_square_side,
)
from simharness.records import CoaxFeed
from simharness.records.feeds import COAX_LINE


@dataclass(frozen=True)
class Passage:
    """Where a coax comes through a wall.

    `axis` (1, 2) of the coax, `into` the sign of 'into the guide' on it, `inner` and `outer` the faces of
    the wall on it, `across` the two other axes with the place of the coax on each; m.
    """

    axis: int
    into: int
    inner: float
    outer: float
    across: tuple[tuple[int, float], tuple[int, float]]

    def column(self, part: str, material: Material, side: float, start: float, end: float) -> Prism:
        """A square column about the axis of the coax, between two places along it."""
        bounds = [0.0] * 6
        bounds[2 * self.axis : 2 * self.axis + 2] = min(start, end), max(start, end)
        for axis, centre in self.across:
            bounds[2 * axis : 2 * axis + 2] = centre - side / 2, centre + side / 2
        return block(part, material, _bounds(bounds))

    def width(self, kind: str, side: float, soft: bool = False) -> tuple[Feature, Feature]:
        """What the mesh must honour of a column, on both axes across it."""
        first, second = (
            Feature(kind, axis, centre - side / 2, centre + side / 2, soft=soft)
            for axis, centre in self.across
        )
        return first, second


def _bounds(values: list[float]) -> Bounds:
    return tuple(values)  # type: ignore[return-value]


def coax_line(feed: CoaxFeed, at: Passage) -> tuple[tuple[Prism, ...], tuple[Feature, ...], CoaxPort]:
    """Flange, line, pin and protruding dielectric; their features along the line; the port."""
    pin = equivalent_square_side(feed.coax_inner)
    bore = equivalent_square_bore(feed.coax_outer)
    length = COAX_LINE * feed.coax_outer_mm * MM
    end = at.outer - at.into * length
    gap = length / 11
    filling = Material("coax filling", permittivity=feed.coax_permittivity)
    flange, flange_features = _flange(feed, at)
    prisms = [
        *flange,
        at.column("coax sleeve", METAL, _sleeve(feed), end - at.into * gap, at.inner),
        at.column("coax bore", filling, bore, end, at.inner),
        at.column("coax pin", METAL, pin, end + at.into * gap, at.inner),
    ]
    features = [
        Feature("coax line", at.axis, min(end, at.outer), max(end, at.outer)),
        Feature("coax gap", at.axis, min(end, end + at.into * gap), max(end, end + at.into * gap)),
        *flange_features,
    ]
    if feed.dielectric_mm:
        tip = at.inner + at.into * feed.dielectric_mm * MM
        dielectric = Material("coax dielectric", permittivity=feed.coax_permittivity)
        prisms.append(at.column("coax dielectric", dielectric, bore, at.inner, tip))
        features.append(Feature("dielectric", at.axis, tip, tip))
    impedance = coax_impedance(feed.coax_inner, feed.coax_outer, feed.coax_permittivity)
    place = dict(at.across)
    port = CoaxPort(
        place[0],
        place.get(2, 0.0),
        at.outer,
        at.into,
        length,
        pin,
        bore,
        feed.coax_permittivity,
        impedance,
        place.get(1, 0.0),
        at.axis,
    )
    return tuple(prisms), tuple(features), port


def coax_widths(feed: CoaxFeed, at: Passage) -> tuple[tuple[Feature, ...], tuple[Feature, ...]]:
    """What the mesh must honour of the line across it, on either axis."""
    rows = (
        at.width("pin", equivalent_square_side(feed.coax_inner), soft=True),
        at.width("bore", equivalent_square_bore(feed.coax_outer), soft=True),
        at.width("sleeve", _sleeve(feed), soft=True),
    )
    first, second = zip(*rows)
    return first, second


def _sleeve(feed: CoaxFeed) -> float:
    """Side of the square tube outside, m."""
    return equivalent_square_bore(feed.coax_outer) + 0.5 * feed.coax_outer_mm * MM


def _flange(feed: CoaxFeed, at: Passage) -> tuple[tuple[Prism, ...], tuple[Feature, ...]]:
    """The plate outside on the wall, if there is one."""
    if feed.flange_mm is None:
        return (), ()
    side, face = feed.flange_mm * MM, at.outer - at.into * feed.flange_thickness_mm * MM
    along = Feature("flange", at.axis, min(face, at.outer), max(face, at.outer), soft=True)
    return (at.column("flange", METAL, side, at.outer, face),), (along, *at.width("flange", side, soft=True))
