"""What feed the builder wants, and with which connector or cable."""

from __future__ import annotations

from dataclasses import dataclass, replace

from simharness.design.stock import StockGuide
from simharness.em.probe.fit import BentFeed, StraightFeed
from simharness.errors import InputError

FEEDS = ("probe", "bent-probe")


@dataclass(frozen=True)
class FeedRequirements:
    """A coax feed before its lengths are found; SI units.

    Attributes
    ----------
    kind : str
        One of `FEEDS`: straight through the back wall, or bent, through the near end.
    tip : str
        "soldered" to a broad wall, the front unless that is a laminate, or "open": of a bent probe.
    connector : str
        "bare", "panel" or "stripped", as in a record.
    wire_diameter, coax_inner, coax_outer : float
        m.
    coax_permittivity : float
    flange : float or None
        Side of the square flange of a panel connector, m.
    flange_thickness : float
        m.
    dielectric : float
        How far the dielectric of the coax protrudes into the guide, m.
    """

    kind: str = "probe"
    tip: str = "soldered"
    connector: str = "bare"
    wire_diameter: float = 1.27e-3
    coax_inner: float = 1.27e-3
    coax_outer: float = 4.1e-3
    coax_permittivity: float = 2.03
    flange: float | None = None
    flange_thickness: float = 1.6e-3
    dielectric: float = 0.0

    @property
    def to_fit(self) -> StraightFeed | BentFeed:
        """The feed as its lengths are looked for."""
        if self.kind == "probe":
            return StraightFeed(self.wire_diameter, self.dielectric)
        return BentFeed(self.wire_diameter, self.tip == "soldered", self.dielectric)


CONNECTORS = {
    "bare": FeedRequirements(),
    "panel": FeedRequirements(connector="panel", flange=12.7e-3),
    "stripped": FeedRequirements(
        connector="stripped", wire_diameter=0.92e-3, coax_inner=0.92e-3, coax_outer=2.98e-3
    ),
}
"""What is taken where nothing else is said. The small threaded connector of 50 ohm with a pin of 1.27 mm in
PTFE, with or without the small square flange (common practice, from memory); semi-rigid cable of 3.58 mm,
conductor 0.92 mm in PTFE of 2.98 mm (MIL-DTL-17, M17/130, from memory)."""


def feed_requirements(connector: str = "bare", **given) -> FeedRequirements:
    """The feed with this connector; what is not given is that of `CONNECTORS`, and the wire is the centre
    conductor.

    Raises
    ------
    InputError
        No such connector.

    Examples
    --------
    >>> feed_requirements("stripped").wire_diameter, feed_requirements("bare", coax_inner=3e-3, coax_outer=10e-3).wire_diameter
    (0.00092, 0.003)
    """
    if connector not in CONNECTORS:
        raise InputError("connector", connector, f"must be one of {', '.join(CONNECTORS)}")
    if "coax_inner" in given:
        given.setdefault("wire_diameter", given["coax_inner"])
    return replace(CONNECTORS[connector], **given)


def feed_text(feed: FeedRequirements) -> str:
    """The kind of feed in words.

    Examples
    --------
    >>> feed_text(feed_requirements("panel"))
    'a straight probe on a panel connector with a flange of 12.7 mm'
    """
    on = {
        "bare": "on a bare connector",
        "panel": f"on a panel connector with a flange of {(feed.flange or 0.0) * 1e3:g} mm",
        "stripped": f"of stripped coax, {feed.coax_inner * 1e3:g} mm in {feed.coax_outer * 1e3:g} mm",
    }[feed.connector]
    return f"a {'straight' if feed.kind == 'probe' else 'bent'} probe {on}"


def require_feed(feed: FeedRequirements, guide: StockGuide) -> None:
    """Refuse a feed that contradicts itself or the guide.

    Raises
    ------
    InputError
    """
    if feed.kind not in FEEDS:
        raise InputError("feed", feed.kind, f"must be one of {', '.join(FEEDS)}")
    if feed.tip not in ("soldered", "open"):
        raise InputError("tip", feed.tip, "must be soldered or open")
    if not 0 < feed.coax_inner < feed.coax_outer:
        size = f"{feed.coax_inner * 1e3:g} x {feed.coax_outer * 1e3:g} mm"
        raise InputError("coax", size, "the second diameter must be the larger")
    if guide.diameter is not None:
        if feed.kind != "probe":
            raise InputError("feed", feed.kind, "not with a round tube: it is designed with a straight probe")
        if feed.connector == "panel":
            raise InputError(
                "connector",
                feed.connector,
                "not with a round tube, on which no flat flange lies: take bare or stripped",
            )
    if feed.dielectric and feed.wire_diameter >= feed.coax_outer:
        raise InputError(
            "dielectric",
            f"{feed.dielectric * 1e3:g} mm",
            "the wire is as thick as the dielectric: take a thinner wire",
        )
    _require_flange(feed)


def _require_flange(feed: FeedRequirements) -> None:
    if feed.connector != "panel":
        return
    if feed.flange is None:
        raise InputError("flange", "none", "a panel connector has a flange: give the side of its square")
    if feed.flange <= feed.coax_outer:
        raise InputError(
            "flange",
            f"{feed.flange * 1e3:g} mm",
            f"must be wider than the coax of {feed.coax_outer * 1e3:g} mm",
        )
