"""The feed of a record as a part to be made, of whichever kind."""

from __future__ import annotations

from simharness.records import BentProbe, Record
from simharness.sheets.bent_probe import BentPart, bent_drawing, bent_part
from simharness.sheets.probe import ProbePart, probe_drawing, probe_part
from simharness.sheets.shapes import Drawing

FeedPart = ProbePart | BentPart


def feed_part(record: Record) -> FeedPart | None:
    """The wire of the feed, or None where there is no coax."""
    return bent_part(record, record.feed) if isinstance(record.feed, BentProbe) else probe_part(record)


def feed_drawing(part: FeedPart) -> Drawing:
    """Its side view at true scale."""
    return bent_drawing(part) if isinstance(part, BentPart) else probe_drawing(part)
