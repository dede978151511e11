"""The side view of the wire of a feed, by the kind of the feed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from simharness.records import Record
from simharness.sheets.drawing.feed_bent import bent_drawing
from simharness.sheets.drawing.feed_straight import straight_drawing
from simharness.sheets.flat.feeds import feed_part
from simharness.sheets.flat.paths import Drawing

DRAWINGS: dict[str, Callable[[Any], Drawing]] = {"probe": straight_drawing, "bent-probe": bent_drawing}
"""How the part of a feed is drawn; a feed that is not here has no part."""


def feed_drawing(record: Record) -> Drawing | None:
    """The wire of the feed from the side at true scale, with dimensions; None where there is no coax."""
    part = feed_part(record)
    return None if part is None else DRAWINGS[record.feed.kind](part)
