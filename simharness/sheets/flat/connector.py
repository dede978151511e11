"""What a feed asks of the metal beside its hole: screw holes of a flange, and the hole that a soldered tip comes through."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from simharness.constants import MM
from simharness.records import BentProbe, CoaxFeed, Record
from simharness.sheets.flat.parts import Part
from simharness.sheets.flat.shapes import Opening, Pair, circle_path, rectangle_path


@dataclass(frozen=True)
class ScrewPattern:
    """Four holes at the corners of a square; m. `known`: whether it is that of a common flange."""

    spacing: float
    diameter: float
    known: bool


_FLANGES = {12.7: (8.64, 2.6), 17.5: (12.7, 3.2), 25.4: (18.26, 3.3)}
"""Side of a square flange, spacing of its four holes, clearance drill; mm. Common practice (memory): the small, the middle and
the large kind of panel connector. Makers differ: the list says to measure."""
_ALIKE = 0.4
"""Flanges whose sides differ by less are of one kind, mm."""
_USUAL = 0.70, 0.18
"""Spacing and drill in sides of a flange of no common kind: a guess between those above."""


def screw_pattern(side_mm: float) -> ScrewPattern:
    """Holes of a square flange of four screws.

    Examples
    --------
    >>> screw_pattern(12.7)
    ScrewPattern(spacing=0.00864, diameter=0.0026, known=True)
    """
    nearest = min(_FLANGES, key=lambda side: abs(side - side_mm))
    known = abs(nearest - side_mm) < _ALIKE
    spacing, drill = _FLANGES[nearest] if known else (share * side_mm for share in _USUAL)
    return ScrewPattern(round(spacing * MM, 9), round(drill * MM, 9), known)


def with_feed_holes(parts: tuple[Part, ...], record: Record) -> tuple[Part, ...]:
    """The parts with the screw holes of a panel connector and the hole of a soldered tip.

    Screw holes that do not fit on their part are left out: such a flange is soldered.
    """
    feed = record.feed
    if not isinstance(feed, CoaxFeed):
        return parts
    return tuple(_with_tip(_with_screws(part, feed), feed) for part in parts)


def has_screws(parts: tuple[Part, ...]) -> bool:
    """Whether a part has screw holes."""
    return any(o.kind == "screw" for part in parts for o in part.openings)


def _round(kind: Literal["screw", "tip"], centre: Pair, diameter: float) -> Opening:
    return Opening(kind, 0, circle_path(centre, diameter), centre, diameter, diameter, "round")


def _with_screws(part: Part, feed: CoaxFeed) -> Part:
    hole = next((o for o in part.openings if o.kind == "hole"), None)
    if hole is None or feed.connector != "panel" or feed.flange_mm is None:
        return part
    pattern, (u, v), metal = screw_pattern(feed.flange_mm), hole.centre, part.metal()
    half = pattern.spacing / 2
    screws = tuple(
        _round("screw", (u + i * half, v + j * half), pattern.diameter) for i in (-1, 1) for j in (-1, 1)
    )
    if not all(metal.contains(screw.path.polygon()) for screw in screws):
        return part
    side = feed.flange_mm * MM / 2
    flange = replace(rectangle_path(u - side, u + side, v - side, v + side, "note"), dashed=True)
    return replace(part, openings=(*part.openings, *screws), lands=(flange,))


def _with_tip(part: Part, feed: CoaxFeed) -> Part:
    """The wall that a soldered tip comes through; the back face of a tube and an etched board are seen from the other side."""
    if not isinstance(feed, BentProbe) or feed.tip != "soldered":
        return part
    if (
        part.name
        not in {"front": ("front-wall", "tube-front"), "back": ("back-and-sides", "tube-back")}[feed.towards]
    ):
        return part
    side = -1 if part.mirrored or part.name == "tube-back" else 1
    at = feed.run, side * feed.offset_mm * MM
    return replace(part, openings=(*part.openings, _round("tip", at, feed.wire_diameter)))
