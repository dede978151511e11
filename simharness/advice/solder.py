"""What solder and screws ask of the metal that a record names."""

from __future__ import annotations

from simharness.constants import C0
from simharness.records import BentProbe, Record

CONTACTS = 20
"""Contacts of a joint without solder lie no farther apart than the wavelength over this; common practice, no
source."""
BRASS_PLATE_MM = 1.0
"""Thickness of the plate that takes the solder where a wall does not; a choice."""


def takes_solder(material: str) -> bool:
    """Whether soft solder with a usual flux joins this metal; for walls without loss the builder chooses one
    that does."""
    return material != "aluminium"


def contact_spacing(record: Record) -> float:
    """Between screws or rivets of a joint without solder, at the upper edge of the band, m."""
    return C0 / record.band.high / CONTACTS


def lifting_room(record: Record, feed: BentProbe) -> float:
    """By how much a soldered tip lacks room in a tube, mm; not above 0: there is room.

    The plate with its bent wire goes in beside its place, away from the wall that the tip comes through, by
    as much as the tip comes through; the wire, or the dielectric around it, must stay clear of the opposite
    wall.
    """
    b = record.guide.height_mm
    below = b - feed.riser_room_mm(b)
    thick = max(feed.wire_diameter_mm, feed.coax_outer_mm if feed.dielectric_mm else 0.0)
    return tip_through_mm(record, feed) - (below - thick / 2)


def tip_through_mm(record: Record, feed: BentProbe) -> float:
    """What a soldered tip comes through, mm: its wall, and the brass plate where the wall takes no solder."""
    wall = record.guide.thickness_mm(feed.towards)
    board = feed.towards == "front" and record.guide.laminate is not None
    return wall if board or takes_solder(record.guide.material) else wall + BRASS_PLATE_MM
