"""How a coax feed is designed and described; one class for each kind, found by `feed_design`."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from simharness.design.feed_requirements import FeedRequirements
from simharness.design.stock_guide import StockGuide, in_mm
from simharness.em.probe.bent import BentShape
from simharness.em.probe.fit import BentFeed, StraightFeed
from simharness.em.probe.straight import ProbeShape
from simharness.errors import InputError


@dataclass(frozen=True)
class FeedDesign(ABC):
    """A kind of feed.

    Attributes
    ----------
    required : FeedRequirements
        What is asked of it.
    """

    required: FeedRequirements

    name = ""
    """The kind in a sentence."""
    centring = ""
    """Options with which a tuning moves the best match to the centre of the band."""

    @property
    @abstractmethod
    def to_fit(self) -> StraightFeed | BentFeed:
        """The feed as its lengths are looked for."""

    @abstractmethod
    def rounded(self, wire: Any, near: Callable[[float], float]) -> Any:
        """Its wire with lengths that can be marked; `near` rounds a length, m."""

    @abstractmethod
    def record_fields(self, wire: Any, place: float, laminate: bool) -> dict[str, Any]:
        """Fields of a record for its wire, `place` (m) from the near end, behind a front of laminate or of
        metal."""

    @abstractmethod
    def lengths_text(self, wire: Any, place: float, fields: Any) -> str:
        """The lengths that were fitted; `fields` is the feed of the record, `place` as above."""

    def alternatives(self) -> Iterator[tuple[str, FeedRequirements]]:
        """Feeds that may match better, with the options that ask for them."""
        return iter(())


class StraightDesign(FeedDesign):
    """A straight probe through the back wall."""

    name = "straight"
    centring = " --also back-short"

    @property
    def to_fit(self) -> StraightFeed:
        """By its height and its place."""
        return StraightFeed(self.required.wire_diameter, self.required.dielectric)

    def rounded(self, wire: ProbeShape, near: Callable[[float], float]) -> ProbeShape:
        """Its height."""
        return replace(wire, height=near(wire.height))

    def record_fields(self, wire: ProbeShape, place: float, laminate: bool) -> dict[str, Any]:
        """In the back wall."""
        return {
            "kind": "probe",
            "wall": "back",
            "position_mm": in_mm(place),
            "height_mm": in_mm(wire.height),
        }

    def lengths_text(self, wire: ProbeShape, place: float, fields: Any) -> str:
        """Height and place."""
        return f"{wire.height * 1e3:.1f} mm high, {place * 1e3:.1f} mm from the near end"


class BentDesign(FeedDesign):
    """A bent probe through the near end."""

    name = "bent"

    @property
    def to_fit(self) -> BentFeed:
        """By its run and its hole, and by its rise where the tip is open."""
        return BentFeed(
            self.required.wire_diameter, self.required.tip == "soldered", self.required.dielectric
        )

    def rounded(self, wire: BentShape, near: Callable[[float], float]) -> BentShape:
        """Its hole, its run and its rise; a soldered tip ends on its wall."""
        height = near(wire.height)
        rise = wire.rise + wire.height - height if wire.soldered else near(wire.rise)
        return replace(wire, height=height, run=near(wire.run), rise=rise)

    def record_fields(self, wire: BentShape, place: float, laminate: bool) -> dict[str, Any]:
        """Towards the front, but with a soldered tip behind a laminate towards the back.

        A tip on the inner copper of a board cannot be soldered from outside. TE10 is even over the height:
        the mirrored wire does the same.
        """
        mirrored = wire.soldered and laminate
        return {
            "kind": "bent-probe",
            "hole_height_mm": in_mm(wire.rise if mirrored else wire.height),
            "run_mm": in_mm(wire.run),
            "towards": "back" if mirrored else "front",
            "tip": "soldered" if wire.soldered else "open",
        } | ({} if wire.soldered else {"rise_mm": in_mm(wire.rise)})

    def lengths_text(self, wire: BentShape, place: float, fields: Any) -> str:
        """Hole, run and tip."""
        tip = (
            f"its tip soldered to the {fields.towards} wall"
            if wire.soldered
            else f"rise {fields.rise_mm:.1f} mm to its open tip"
        )
        hole = f"its hole {fields.hole_height_mm:.1f} mm above the back wall"
        return f"{hole}, run {place * 1e3:.1f} mm, {tip}"

    def alternatives(self) -> Iterator[tuple[str, FeedRequirements]]:
        """A soldered tip, a straight probe."""
        if self.required.tip == "open":
            yield "--tip soldered", replace(self.required, tip="soldered")
        yield "--feed probe", replace(self.required, kind="probe")


_FEEDS: dict[str, Callable[[FeedRequirements], FeedDesign]] = {
    "probe": StraightDesign,
    "bent-probe": BentDesign,
}
FEEDS = tuple(_FEEDS)
"""Kinds of feed that are designed."""


def feed_design(feed: FeedRequirements) -> FeedDesign:
    """The kind of a feed.

    Raises
    ------
    InputError
        No such kind.
    """
    if feed.kind not in _FEEDS:
        raise InputError("feed", feed.kind, f"must be one of {', '.join(FEEDS)}")
    return _FEEDS[feed.kind](feed)


def feed_text(feed: FeedRequirements) -> str:
    """The kind of feed and what it sits on.

    Examples
    --------
    >>> from simharness.design.feed_requirements import feed_requirements
    >>> feed_text(feed_requirements("panel"))
    'a straight probe on a panel connector with a flange of 12.7 mm'
    """
    on = {
        "bare": "on a bare connector",
        "panel": f"on a panel connector with a flange of {(feed.flange or 0.0) * 1e3:g} mm",
        "stripped": f"of stripped coax, {feed.coax_inner * 1e3:g} mm in {feed.coax_outer * 1e3:g} mm",
    }[feed.connector]
    return f"a {feed_design(feed).name} probe {on}"


def require_feed(feed: FeedRequirements) -> None:
    """Refuse a feed that contradicts itself.

    Raises
    ------
    InputError
    """
    feed_design(feed)
    if feed.tip not in ("soldered", "open"):
        raise InputError("tip", feed.tip, "must be soldered or open")
    if not 0 < feed.coax_inner < feed.coax_outer:
        size = f"{feed.coax_inner * 1e3:g} x {feed.coax_outer * 1e3:g} mm"
        raise InputError("coax", size, "the second diameter must be the larger")
    if feed.dielectric and feed.wire_diameter >= feed.coax_outer:
        thick = "the wire is as thick as the dielectric: take a thinner wire"
        raise InputError("dielectric", f"{feed.dielectric * 1e3:g} mm", thick)
    if feed.connector != "panel":
        return
    if feed.flange is None:
        raise InputError("flange", "none", "a panel connector has a flange: give the side of its square")
    if feed.flange <= feed.coax_outer:
        wide = f"must be wider than the coax of {feed.coax_outer * 1e3:g} mm"
        raise InputError("flange", f"{feed.flange * 1e3:g} mm", wide)


def allowed_feeds(guide: StockGuide) -> tuple[str, ...]:
    """Kinds of feed that a guide is designed with."""
    return guide.feeds or FEEDS
