"""What cannot be joined or put together, or in one order only, of the metal and the board that a record
names."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.advice.feeds import feed_advice
from simharness.advice.shapes import shape_advice
from simharness.advice.solder import contact_spacing, takes_solder
from simharness.records import Record


def joining_warnings(record: Record) -> Iterator[str]:
    """Sentences about what the workshop cannot do with this record, or can do in one order only."""
    guide, feed = record.guide, feed_advice(record)
    yield from shape_advice(record).joining_warnings()
    if guide.make == "tube":
        yield from feed.tube_warnings()
    if not takes_solder(guide.material):
        yield from _board_warnings(record)
        yield from feed.no_solder_warnings()
    yield from feed.order_warnings()


def _board_warnings(record: Record) -> Iterator[str]:
    """A laminate front on walls that take no solder."""
    if record.guide.laminate is not None:
        yield (
            f"the copper of the board cannot be soldered to {record.guide.material}: brass, copper or tin "
            "plate for the other walls can; screws need a contact every "
            f"{contact_spacing(record) * 1e3:.1f} mm (a twentieth of a wavelength, common practice)"
        )
