"""What the builder wants and has, and how many slots of which voltages that takes."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass, field

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0
from simharness.design.feed_requirements import FeedRequirements
from simharness.design.feeds import require_feed
from simharness.design.stock_guide import StockGuide
from simharness.em.guide.rectangular import guide_wavelength
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.pattern.round_tube import RoundTube
from simharness.em.pattern.row_beam import MAX_SLOTS, minimum_slots, row_beamwidth, row_directivity
from simharness.em.row.taper import dolph_chebyshev_weights, taylor_nbar_weights
from simharness.em.slot.superstrate import Layer, Superstrate, under_cover
from simharness.errors import InputError
from simharness.numerics.decibels import decibels
from simharness.records import Cover

TAPERS = ("uniform", "dolph", "taylor")
_WIDEST = 0.5
"""Width of a band over its centre frequency beyond which no guide carries one wave alone."""


@dataclass(frozen=True)
class Requirements:
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
    feed : FeedRequirements
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
    residual_power : float
        Share of the power that a matched end takes.
    opposite : int
        Offset of slots in the back wall over that of the slots opposite in the front: 1 or -1; 0 for slots in
        the front alone.
    superstrate : Superstrate or None
        Substrate of a laminate front, its slots etched in copper on the inner face; None for a front of
        metal.
    cover : Cover or None
        Sheet on the slots, of both walls where both have slots.
    """

    frequency: float
    guide: StockGuide
    _: KW_ONLY
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
    feed: FeedRequirements = field(default_factory=FeedRequirements)
    load: float | None = None
    step: float = 1e-4
    name: str = ""
    axis: str = "vertical"
    far_end: str = "short"
    residual_power: float = 0.1
    opposite: int = 0
    superstrate: Superstrate | None = None
    cover: Cover | None = None

    @property
    def front_wall(self) -> float:
        """Thickness of the slotted metal, m: none for foil on a substrate."""
        return self.guide.wall if self.superstrate is None else 0.0

    @property
    def outside(self) -> Superstrate | None:
        """All dielectric on the slots."""
        layers = () if self.cover is None else tuple(Layer(*layer) for layer in self.cover.layers)
        return under_cover(self.superstrate, layers, bool(self.opposite))

    @property
    def band(self) -> NDArray:
        """Lower edge, centre and upper edge, Hz; edges made of a width in whole 0.1 MHz."""
        if self.edges is not None:
            low, high = self.edges
        else:
            low, high = (
                np.round(self.frequency * (1 + 0.5 * self.bandwidth * np.array([-1.0, 1.0])) / 1e5) * 1e5
            )
        return np.array([low, self.frequency, high])

    @property
    def tube(self) -> RectangularTube | RoundTube:
        """The outline of the guide with its walls."""
        board = self.superstrate
        return self.guide.outline(self.guide.wall if board is None else board.thickness)

    @property
    def guide_wavelength(self) -> float:
        """At the centre, m."""
        return float(guide_wavelength(self.guide.a, self.frequency))


def require_consistent(requirements: Requirements) -> None:
    """Refuse requirements that contradict themselves or the metal.

    Raises
    ------
    InputError
    """
    given = [v is not None for v in (requirements.slots, requirements.beamwidth, requirements.gain)]
    if sum(given) != 1:
        raise InputError("slots, beamwidth, gain", sum(given), "give exactly one of the three")
    if requirements.slots is not None and not 1 <= requirements.slots <= MAX_SLOTS:
        raise InputError("slots", requirements.slots, f"must be 1 to {MAX_SLOTS}")
    if requirements.opposite and requirements.far_end == "load":
        raise InputError(
            "faces",
            "both",
            "not with a far end that is a load: travelling waves are designed for the front alone",
        )
    if requirements.taper not in TAPERS:
        raise InputError("taper", requirements.taper, f"must be one of {', '.join(TAPERS)}")
    _require_some_band(requirements)
    if not 0 < requirements.residual_power < 1:
        raise InputError(
            "residual power", f"{100 * requirements.residual_power:g} %", "must lie between 0 and 100 %"
        )
    if requirements.far_end == "load" and requirements.load is not None:
        raise InputError(
            "load", f"{requirements.load:g}", "a travelling wave loads the guide by itself: leave it out"
        )
    if requirements.step <= 0:
        raise InputError("step", f"{requirements.step * 1e3:g} mm", "must be positive")
    if not -40 <= requirements.target_db <= -3:
        raise InputError("target", f"{requirements.target_db:g} dB", "must be -40 to -3 dB")
    if not 0 < requirements.slot_width < 0.1 * C0 / requirements.frequency:
        raise InputError(
            "slot width",
            f"{requirements.slot_width * 1e3:g} mm",
            f"must be less than a tenth of a wavelength, {C0 / requirements.frequency * 100:.1f} mm",
        )
    if requirements.superstrate is not None and requirements.far_end != "short":
        raise InputError(
            "laminate",
            f"far end {requirements.far_end}",
            "a laminate front is designed with a short at the far end only",
        )
    if requirements.cover is not None and requirements.far_end != "short":
        raise InputError(
            "cover",
            f"far end {requirements.far_end}",
            "a row under a cover is designed with a short at the far end only",
        )
    for name, value, allowed in requirements.guide.conflicts(requirements):
        raise InputError(name, value, allowed)
    if requirements.superstrate is not None and requirements.guide.make == "tube":
        raise InputError(
            "laminate",
            "front",
            (
                f"goes on a folded back, not on {requirements.guide.name}: give the sheet, or the inner "
                "size of a guide"
            ),
        )
    require_feed(requirements.feed)
    requirements.guide.require_single_wave(requirements.frequency)
    requirements.guide.require_band(*requirements.band[[0, 2]])


def _require_some_band(requirements: Requirements) -> None:
    low, centre, high = (f"{frequency / 1e9:g}" for frequency in requirements.band)
    if requirements.edges is None and not 0 < requirements.bandwidth < _WIDEST:
        raise InputError("bandwidth", f"{requirements.bandwidth * 100:g} %", "must be above 0 and below 50 %")
    if not requirements.band[0] < requirements.band[1] < requirements.band[2]:
        raise InputError(
            "low, high",
            f"{low} to {high} GHz",
            f"the lower edge comes first, and {centre} GHz must lie between the two",
        )
    if requirements.band[2] - requirements.band[0] >= _WIDEST * requirements.frequency:
        raise InputError(
            "low, high", f"{low} to {high} GHz", "a band must be narrower than 50 % of its centre"
        )


def wanted_voltages(requirements: Requirements) -> NDArray:
    """Slot voltages, the largest 1, of as many slots as were asked for or as the requirements take at least.

    Raises
    ------
    InputError
        `MAX_SLOTS` are not enough.
    """
    if requirements.slots is not None:
        return taper_weights(requirements, requirements.slots)
    if requirements.beamwidth is not None:
        count = _slots_for_beamwidth(requirements, requirements.beamwidth)
    elif requirements.gain is not None:
        count = _slots_for_gain(requirements, requirements.gain)
    else:
        raise InputError("slots", "none", "give slots, beamwidth or gain")
    if requirements.guide.even_rows and count > 1:
        count += count % 2
    return taper_weights(requirements, count)


def _places(requirements: Requirements, count: int) -> NDArray:
    """Of the slots (count,), half a guide wavelength apart, m."""
    return requirements.guide_wavelength / 2 * np.arange(count)


def _slots_for_beamwidth(requirements: Requirements, beamwidth: float) -> int:
    """The fewest with a half-power beamwidth along the guide of at most this, rad."""

    def narrow(count: int) -> bool:
        weights, places = taper_weights(requirements, count), _places(requirements, count)
        return row_beamwidth(weights, places, requirements.frequency) <= beamwidth

    return minimum_slots(narrow, "beamwidth", f"{math.degrees(beamwidth):g} deg")


def _slots_for_gain(requirements: Requirements, gain: float) -> int:
    """The fewest with at least this directivity, dBi."""

    def strong(count: int) -> bool:
        weights, places = taper_weights(requirements, count), _places(requirements, count)
        tube, opposite = requirements.tube, requirements.opposite
        return decibels(row_directivity(weights, places, requirements.frequency, tube, opposite)) >= gain

    return minimum_slots(strong, "gain", f"{gain:g} dBi")


def taper_weights(requirements: Requirements, count: int) -> NDArray:
    """Wanted voltages of a row of this many slots, the largest 1."""
    if requirements.taper == "uniform" or count == 1:
        return np.ones(count)
    if requirements.taper == "dolph":
        return dolph_chebyshev_weights(count, requirements.side_lobe_db)
    return taylor_nbar_weights(count, requirements.side_lobe_db, requirements.nbar)
