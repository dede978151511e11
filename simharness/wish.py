"""What the builder wants and has, and how many slots of which voltages that takes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0
from simharness.em.cover import Cover
from simharness.em.guide import guide_wavelength
from simharness.em.round_tube import RoundTube
from simharness.em.row_beam import MOST_SLOTS, least_slots, row_beamwidth, row_directivity
from simharness.em.taper import dolph_chebyshev_weights, taylor_nbar_weights
from simharness.em.tube import Tube
from simharness.errors import InputError
from simharness.feed_wish import FeedWish, require_feed
from simharness.stock import StockGuide
from simharness.stock_choice import require_band, require_single_wave

TAPERS = ("uniform", "dolph", "taylor")
_WIDEST = 0.5
"""Of a band over its centre frequency: beyond it no guide carries one wave alone."""


@dataclass(frozen=True)
class Wish:
    """What the builder wants and has; SI units.

    Attributes
    ----------
    frequency : float
        Centre of the band, Hz.
    guide : StockGuide
    slots : int or None
        Number of slots; exactly one of slots, beamwidth and gain is given.
    beamwidth : float or None
        Half-power beamwidth along the guide, at most, rad.
    gain : float or None
        Directivity, at least, dBi.
    taper : str
        One of `TAPERS`.
    side_lobe_db : float
        Main lobe over side lobes of a taper, dB.
    nbar : int
        Side lobes of even height on each side of a Taylor taper, plus one.
    bandwidth : float
        Width of the wanted band over the centre frequency, where the edges are not given.
    edges : tuple of 2 floats or None
        Lower and upper edge of the wanted band, Hz.
    target_db : float
        Largest |S11| wanted in the band, dB.
    slot_width : float
        Diameter of the cutter, m.
    ends : str
        "round" or "square".
    feed : FeedWish
    load : float or None
        Of the whole row on the guide, normalised; None lets the design choose.
    step : float
        What can be marked by hand, m.
    name : str
        Of the record; empty for one made of slots and frequency.
    axis : str
        "vertical" or "horizontal".
    far_end : str
        "short": a standing wave, all slots in phase; "load": a travelling wave into a matched end.
    left_over : float
        Share of the power that a matched end takes.
    mate : int
        Offset of slots in the back wall over that of their mates in the front: 1 or -1; 0 for slots in the front alone.
    cover : Cover or None
        Substrate of a laminate front, its slots etched in copper on the inner face; None for a front of metal.
    """

    frequency: float
    guide: StockGuide
    slots: int | None = None
    beamwidth: float | None = None
    gain: float | None = None
    taper: str = "uniform"
    side_lobe_db: float = 20.0
    nbar: int = 4
    bandwidth: float = 0.01
    edges: tuple[float, float] | None = None
    target_db: float = -10.0
    slot_width: float = 2e-3
    ends: str = "round"
    feed: FeedWish = FeedWish()
    load: float | None = None
    step: float = 1e-4
    name: str = ""
    axis: str = "vertical"
    far_end: str = "short"
    left_over: float = 0.1
    mate: int = 0
    cover: Cover | None = None

    @property
    def front_wall(self) -> float:
        """Thickness of the slotted metal, m: none for foil on a substrate."""
        return self.guide.wall if self.cover is None else 0.0

    @property
    def band(self) -> NDArray:
        """Lower edge, centre and upper edge, Hz; edges made of a width in whole 0.1 MHz."""
        if self.edges is not None:
            low, high = self.edges
        else:
            low, high = np.round(self.frequency * (1 + 0.5 * self.bandwidth * np.array([-1.0, 1.0])) / 1e5) * 1e5
        return np.array([low, self.frequency, high])

    @property
    def tube(self) -> Tube | RoundTube:
        """The outline of the guide with its walls."""
        outline = self.guide.outline
        return outline if self.cover is None else replace(outline, height=outline.height - self.guide.wall + self.cover.thickness)

    @property
    def guide_wavelength(self) -> float:
        """At the centre, m."""
        return float(guide_wavelength(self.guide.a, self.frequency))


def require_consistent(wish: Wish) -> None:
    """Refuse a wish that contradicts itself or the metal.

    Raises
    ------
    InputError
    """
    given = [v is not None for v in (wish.slots, wish.beamwidth, wish.gain)]
    if sum(given) != 1:
        raise InputError("slots, beamwidth, gain", sum(given), "give exactly one of the three")
    if wish.slots is not None and not 1 <= wish.slots <= MOST_SLOTS:
        raise InputError("slots", wish.slots, f"must be 1 to {MOST_SLOTS}")
    if wish.mate and wish.far_end == "load":
        raise InputError("faces", "both", "not with a far end that is a load: travelling waves are designed for the front alone")
    if wish.taper not in TAPERS:
        raise InputError("taper", wish.taper, f"must be one of {', '.join(TAPERS)}")
    _require_some_band(wish)
    if not 0 < wish.left_over < 1:
        raise InputError("left over", f"{100 * wish.left_over:g} %", "must lie between 0 and 100 %")
    if wish.far_end == "load" and wish.load is not None:
        raise InputError("load", f"{wish.load:g}", "a travelling wave loads the guide by itself: leave it out")
    if wish.step <= 0:
        raise InputError("step", f"{wish.step * 1e3:g} mm", "must be positive")
    if not -40 <= wish.target_db <= -3:
        raise InputError("target", f"{wish.target_db:g} dB", "must be -40 to -3 dB")
    if not 0 < wish.slot_width < 0.1 * C0 / wish.frequency:
        raise InputError("slot width", f"{wish.slot_width * 1e3:g} mm",
                         f"must be less than a tenth of a wavelength, {C0 / wish.frequency * 100:.1f} mm")
    if wish.cover is not None and wish.far_end != "short":
        raise InputError("laminate", f"far end {wish.far_end}", "a laminate front is designed with a short at the far end only")
    if wish.guide.diameter is not None:
        for field, value, other in (("faces", "both", wish.mate), ("far end", "load", wish.far_end == "load"), ("laminate", "front", wish.cover)):
            if other:
                raise InputError(field, value, "not with a round tube: its slots are designed in the front of the metal, before a short")
    if wish.cover is not None and wish.guide.make == "tube":
        raise InputError("laminate", "front", f"goes on a folded back, not on {wish.guide.name}: give the sheet, or the inner size of a guide")
    require_feed(wish.feed, wish.guide)
    require_single_wave(wish.guide, wish.frequency)
    require_band(wish.guide, *wish.band[[0, 2]])


def _require_some_band(wish: Wish) -> None:
    low, centre, high = (f"{frequency / 1e9:g}" for frequency in wish.band)
    if wish.edges is None and not 0 < wish.bandwidth < _WIDEST:
        raise InputError("bandwidth", f"{wish.bandwidth * 100:g} %", "must be above 0 and below 50 %")
    if not wish.band[0] < wish.band[1] < wish.band[2]:
        raise InputError("low, high", f"{low} to {high} GHz", f"the lower edge comes first, and {centre} GHz must lie between the two")
    if wish.band[2] - wish.band[0] >= _WIDEST * wish.frequency:
        raise InputError("low, high", f"{low} to {high} GHz", "a band must be narrower than 50 % of its centre")


def wanted_voltages(wish: Wish) -> NDArray:
    """Slot voltages, the largest 1, of as many slots as were asked for or as the wish takes at least.

    Raises
    ------
    InputError
        `MOST_SLOTS` are not enough.
    """
    if wish.slots is not None:
        return taper_weights(wish, wish.slots)
    spacing = wish.guide_wavelength / 2

    def narrow(count: int) -> bool:
        return row_beamwidth(taper_weights(wish, count), spacing * np.arange(count), wish.frequency) <= wish.beamwidth

    def strong(count: int) -> bool:
        found = row_directivity(taper_weights(wish, count), spacing * np.arange(count), wish.frequency, wish.tube, wish.mate)
        return 10 * math.log10(found) >= wish.gain

    if wish.beamwidth is not None:
        count = least_slots(narrow, "beamwidth", f"{math.degrees(wish.beamwidth):g} deg")
    else:
        count = least_slots(strong, "gain", f"{wish.gain:g} dBi")
    if wish.guide.diameter is not None and count > 1:
        count += count % 2  # an odd row drives the wave turned by 90 degrees
    return taper_weights(wish, count)


def taper_weights(wish: Wish, count: int) -> NDArray:
    """Wanted voltages of a row of this many slots, the largest 1."""
    if wish.taper == "uniform" or count == 1:
        return np.ones(count)
    if wish.taper == "dolph":
        return dolph_chebyshev_weights(count, wish.side_lobe_db)
    return taylor_nbar_weights(count, wish.side_lobe_db, wish.nbar)
