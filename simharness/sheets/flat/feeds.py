"""What a feed asks of the metal, by its kind: the wire to be made, and holes beside that of the coax."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from simharness.records import GuidePort, Record
from simharness.sheets.flat.coax import ProbePart
from simharness.sheets.flat.feed_bent import BentFeed
from simharness.sheets.flat.feed_straight import StraightFeed
from simharness.sheets.flat.part import Part


class FlatFeed(Protocol):
    """What is asked of a feed when parts are cut."""

    def probe(self) -> ProbePart | None:
        """The wire to be made, or None without one."""

    def with_holes(self, part: Part) -> Part:
        """A part with the holes that the feed needs beside that of the coax."""


class PortFeed:
    """The guide itself: nothing is made for it."""

    def __init__(self, record: Record, feed: GuidePort):
        pass

    def probe(self) -> None:
        """There is no wire."""

    def with_holes(self, part: Part) -> Part:
        """The part as it is."""
        return part


FEEDS: dict[str, Callable[[Record, Any], FlatFeed]] = {
    "probe": StraightFeed,
    "bent-probe": BentFeed,
    "guide-port": PortFeed,
}


def _feed_of(record: Record) -> FlatFeed:
    return FEEDS[record.feed.kind](record, record.feed)


def feed_part(record: Record) -> ProbePart | None:
    """The wire of the feed as a part to be made, or None where there is no coax."""
    return _feed_of(record).probe()


def with_feed_holes(parts: tuple[Part, ...], record: Record) -> tuple[Part, ...]:
    """The parts with the screw holes of a panel connector and the hole of a soldered tip.

    Screw holes that do not fit on their part are left out: such a flange is soldered.
    """
    feed = _feed_of(record)
    return tuple(map(feed.with_holes, parts))
