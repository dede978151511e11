"""The table of the feed in the report, by its kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from simharness.records import BentProbe, CoaxFeed, GuidePort, Record
from simharness.report.rows import Row, Special, in_mm, left_out, plain, rows
from simharness.sheets.build.section import Section

_CONNECTORS = {
    "bare": "connector on the wall",
    "panel": "panel connector with a square flange",
    "stripped": "cable, stripped and soldered in",
}


class FeedTable(Protocol):
    """What the report asks of a feed."""

    def section(self) -> Section:
        """Its dimensions."""


class _CoaxTable:
    """What the tables of all coax feeds have in common."""

    def __init__(self, record: Record, feed: CoaxFeed):
        self.record, self.coax = record, feed

    def first_rows(self) -> tuple[Row, ...]:
        """How the probe runs, and what follows from the record."""
        raise NotImplementedError

    def special(self) -> Special:
        """Rows that are not those of the field's own description."""
        feed = self.coax
        stripped = feed.stripped
        core = "inner conductor of the cable" if stripped else "pin of the connector"
        dielectric = "dielectric of the cable" if stripped else "insulator of the connector"
        depth = in_mm(f"how far the {dielectric} stands into the guide")
        return {
            "kind": left_out,
            "connector": lambda value: ("coax", _CONNECTORS[value]),
            "coax_inner_mm": in_mm(f"diameter of the {core}"),
            "coax_outer_mm": in_mm(f"diameter of the {dielectric}, and of the hole in the wall"),
            "coax_permittivity": lambda value: (f"relative permittivity of the {dielectric}", plain(value)),
            "dielectric_mm": lambda value: depth(value) if value else None,
            "flange_mm": in_mm("side of the flange"),
            "flange_thickness_mm": left_out if feed.flange_mm is None else in_mm("thickness of the flange"),
        }

    def section(self) -> Section:
        """Its dimensions."""
        head = ("dimension", "value")
        return Section("Feed", (), (head, *self.first_rows(), *rows(self.coax, self.special())))


class StraightTable(_CoaxTable):
    """A straight probe."""

    def first_rows(self) -> tuple[Row, ...]:
        """How the probe runs."""
        return (("probe", "straight"),)

    def special(self) -> Special:
        """Rows that are not those of the field's own description."""
        return {**super().special(), "wall": lambda value: ("wall that the probe comes through", value)}


class BentTable(_CoaxTable):
    """A bent probe."""

    def __init__(self, record: Record, feed: BentProbe):
        super().__init__(record, feed)
        self.feed = feed

    def first_rows(self) -> tuple[Row, ...]:
        """How the probe runs, and its rise, which follows from the guide where the tip is soldered."""
        where = "to the wall" if self.feed.soldered_tip else "to the tip"
        height = in_mm(f"from the axis of the run {where}")
        return ("probe", "through the near end, bent"), height(
            self.feed.riser_mm(self.record.guide.height_mm)
        )

    def special(self) -> Special:
        """Rows that are not those of the field's own description."""
        return {
            **super().special(),
            "towards": lambda value: ("wall that the riser goes towards", value),
            "tip": self._tip,
            "rise_mm": left_out,
        }

    def _tip(self, value: str) -> Row:
        if value == "open":
            return "tip", "open"
        wall = f"the {self.feed.towards} wall"
        if self.feed.towards == "front" and self.record.guide.laminate is not None:
            wall = "the copper of the board, inside"
        return "tip", f"soldered to {wall}"


class PortTable:
    """The guide itself."""

    def __init__(self, record: Record, feed: GuidePort):
        self.record = record

    def section(self) -> Section:
        """The mode; there are no dimensions."""
        return Section("Feed", (f"The {self.record.guide.mode} mode at the near end.",))


FEEDS: dict[str, Callable[[Record, Any], FeedTable]] = {
    "probe": StraightTable,
    "bent-probe": BentTable,
    "guide-port": PortTable,
}


def feed_section(record: Record) -> Section:
    """The dimensions of the feed of a record."""
    return FEEDS[record.feed.kind](record, record.feed).section()
