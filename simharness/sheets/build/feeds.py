"""What the build list says of a feed, by its kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from simharness.records import GuidePort, Record
from simharness.sheets.build.feed_bent import BentMessages
from simharness.sheets.build.feed_messages import FeedMessages
from simharness.sheets.build.feed_straight import StraightMessages


class PortMessages(FeedMessages):
    """The guide itself: there is nothing to make and nothing to say."""

    def __init__(self, record: Record, feed: GuidePort):
        pass


FEEDS: dict[str, Callable[[Record, Any], FeedMessages]] = {
    "probe": StraightMessages,
    "bent-probe": BentMessages,
    "guide-port": PortMessages,
}


def feed_messages(record: Record) -> FeedMessages:
    """What the build list says of the feed of a record."""
    return FEEDS[record.feed.kind](record, record.feed)
