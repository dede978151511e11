"""What cannot be joined or put together, or in one order only, of the metal and the board that a record names."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.constants import C0
from simharness.records import BentProbe, CoaxFeed, Record, RoundGuide

CONTACTS = 20
"""Contacts of a joint without solder lie no farther apart than the wavelength over this; common practice, no source."""
BRASS_PLATE_MM = 1.0
"""Thickness of the plate that takes the solder where a wall does not; a choice."""


def takes_solder(material: str) -> bool:
    """Whether soft solder with a usual flux joins this metal; for walls without loss the builder chooses one that does."""
    return material != "aluminium"


def contact_spacing(record: Record) -> float:
    """Between screws or rivets of a joint without solder, at the upper edge of the band, m."""
    return C0 / record.band.high / CONTACTS


def lifting_room(record: Record, feed: BentProbe) -> float:
    """By how much a soldered tip lacks room in a tube, mm; not above 0: there is room.

    The plate with its bent wire goes in beside its place, away from the wall that the tip comes through, by as much as the tip
    comes through; the wire, or the dielectric around it, must stay clear of the opposite wall.
    """
    b = record.guide.height_mm
    below = feed.hole_height_mm if feed.towards == "front" else b - feed.hole_height_mm
    thick = max(feed.wire_diameter_mm, feed.coax_outer_mm if feed.dielectric_mm else 0.0)
    return tip_through_mm(record, feed) - (below - thick / 2)


def tip_through_mm(record: Record, feed: BentProbe) -> float:
    """What a soldered tip comes through, mm: its wall, and the brass plate where the wall takes no solder."""
    wall = record.guide.thickness_mm(feed.towards)
    board = feed.towards == "front" and record.guide.laminate is not None
    return wall if board or takes_solder(record.guide.material) else wall + BRASS_PLATE_MM


def joining_warnings(record: Record) -> Iterator[str]:
    """Sentences about what the workshop cannot do with this record, or can do in one order only."""
    yield from _tube_warnings(record)
    if not takes_solder(record.guide.material):
        yield from _no_solder_warnings(record)
    if _tip_on_inner_copper(record):
        yield (
            "the tip of the wire is soldered to copper that faces into the guide: it must be soldered before the board closes the box "
            "('simharness sheets' gives the order of work), and nobody can mend it afterwards; towards = 'back' can be soldered from outside"
        )


def _tip_on_inner_copper(record: Record) -> bool:
    feed = record.feed
    return (
        isinstance(feed, BentProbe)
        and feed.tip == "soldered"
        and feed.towards == "front"
        and record.guide.substrate is not None
    )


def _tube_warnings(record: Record) -> Iterator[str]:
    guide, feed = record.guide, record.feed
    if guide.make != "tube" or isinstance(guide, RoundGuide):
        return
    if guide.laminate is not None:
        yield "guide.make is 'tube', but a stock tube has a front wall of its own: a laminate front needs make = 'folded'"
    elif abs(guide.front_wall_mm - guide.other_walls_mm) > 1e-6:
        yield (
            f"guide.make is 'tube', but a stock tube has walls of one thickness, not {guide.front_wall_mm:g} and {guide.other_walls_mm:g} mm: "
            f"make them equal, or the box 'folded'"
        )
    if isinstance(feed, BentProbe) and feed.tip == "soldered" and (lack := lifting_room(record, feed)) > 0:
        away = "above" if feed.towards == "front" else "below"
        yield (
            f"the tip comes through the {feed.towards} wall of a tube, but the run lies too near the other wall to be lifted into its hole: "
            f"move the run (hole_height_mm) {lack:.1f} mm {away} where it is, or make the box 'folded'"
        )


def _no_solder_warnings(record: Record) -> Iterator[str]:
    feed, material = record.feed, record.guide.material
    if record.guide.laminate is not None:
        yield (
            f"the copper of the board cannot be soldered to {material}: brass, copper or tin plate for the other walls can; screws hold "
            f"it only with contacts every {contact_spacing(record) * 1e3:.1f} mm (a twentieth of a wavelength, common practice)"
        )
    if isinstance(feed, CoaxFeed) and feed.connector == "stripped":
        yield (
            f"a stripped coax cannot be soldered to {material}: solder it into a brass plate that is screwed on, or use "
            f"connector = 'panel', or brass, copper or tin plate for the walls"
        )
    if (
        isinstance(feed, BentProbe)
        and feed.tip == "soldered"
        and (feed.towards == "back" or record.guide.laminate is None)
    ):
        yield (
            f"the tip of the probe cannot be soldered to {material}: solder it into a brass plate that is screwed on outside, or leave "
            f"it open (tip = 'open'), or take brass, copper or tin plate for the walls"
        )
