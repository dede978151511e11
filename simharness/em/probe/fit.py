"""Lengths of a coax feed, and its distance from the back short, for the best match of a given load.

The probe is a source in shunt for TE10 (`simharness.em.probe.straight`, `simharness.em.probe.bent`). The
short behind it contributes a susceptance, its height sets resistance and reactance: two unknowns for the two
parts of the impedance, so that any load that is not extreme can be matched at one frequency. Of a bent probe
the run is the distance from the short; with a soldered tip the height of its hole is the other unknown, with
an open tip the rise is a third one. Over a band the sum of |S11|^2 is minimized.

Lengths are kept within what is easily made and well modelled, and exceed that only where it is needed for the
match.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from simharness.constants import C0
from simharness.em.guide.rectangular import guide_wavelength, phase_constant
from simharness.em.probe.bent import BentShape
from simharness.em.probe.network import CoaxLine
from simharness.em.probe.ranges import BACK, EASY_HEIGHT
from simharness.em.probe.straight import ProbeShape
from simharness.em.signals.impedance import normalized_admittance
from simharness.errors import InputError

_EASY_BACK = 0.085
"""Usual minimum of the back short in guide wavelengths: nearer to the short the probe couples weakly."""
_MAX_HEIGHT = 0.845
"""Maximum height of a straight probe over that of the guide: nearer to the wall any dent detunes it."""
_EASY_GAP, _MIN_GAP = 2.55, 1.0
"""Usual and absolute minimum distance of the run of a bent probe from a broad wall, in wire diameters."""
_EASY_LEG, _MIN_LEG = 3.05, 1.5
"""Usual and absolute minimum of run and rise of a bent probe, in wire diameters."""
_EASY_TIP, _MIN_TIP, _MAX_TIP = 0.155, 0.08, 0.45
"""Usual and absolute minimum, and maximum, distance of an open tip from the wall, over the height of the
guide.

The maximum also holds for the height of the hole of such a probe."""
_HOLE = 1.2
"""Distance of the axis of the feed hole from the next wall, in its radii."""

_COARSE = {"xtol": 1e-3, "ftol": 1e-2, "max_nfev": 12}
_FINE = {"xtol": 1e-5, "ftol": 1e-4, "max_nfev": 20}
"""End criteria of a fit: a thousandth of a wavelength is finer than can be made by hand."""
_GOOD = 0.01
"""Mean |S11|^2 below which no other start is tried."""

Wire = ProbeShape | BentShape


@dataclass(frozen=True)
class FeedPlace:
    """A guide with its load, at the place of the probe; SI units.

    Attributes
    ----------
    a, b : float
        Inner size, m.
    coax : CoaxLine
        Its length is the thickness of the wall.
    frequency : (f,) array
        Hz.
    load : (f,) complex array
        Reflection of TE10 at the first slot.
    gap : float
        Distance from the coupling wire to the first slot, m.
    reference : float
        Reference impedance, ohm.
    diameter : float or None
        Inner diameter of the round guide that this one stands for, m.
    """

    a: float
    b: float
    coax: CoaxLine
    frequency: NDArray
    load: NDArray
    gap: float
    reference: float
    diameter: float | None = None

    @property
    def height(self) -> float:
        """Height of the guide at the probe, m."""
        return self.b if self.diameter is None else self.diameter

    @property
    def waves(self) -> tuple[float, float]:
        """Wavelengths in free space and in the guide at the mean frequency, m."""
        centre = float(np.mean(self.frequency))
        return C0 / centre, float(guide_wavelength(self.a, centre))

    def reflection(self, wire: Wire, back_short: float) -> NDArray:
        """S11 (f,) at the outer face of the wall for a wire at this distance from the short, m."""
        beta = phase_constant(self.a, self.frequency)
        turned = self.load * np.exp(-2j * beta * self.gap)
        admittance = normalized_admittance(turned) - 1j / np.tan(beta * back_short)
        network = wire.network_in(self.a, self.b, self.coax, self.frequency, back_short, self.diameter)
        return network.reflection(1 / admittance, self.reference)


@dataclass(frozen=True)
class StraightFeed:
    """A straight probe on the centre line whose height and back short are to be found; m.

    Attributes
    ----------
    diameter : of the wire.
    dielectric : length of the wire that is covered by the dielectric of the coax.
    """

    diameter: float
    dielectric: float = 0.0

    starts = ((0.19, 0.20), (0.22, 0.15), (0.17, 0.25))
    """Height in free-space wavelengths (common practice: 3/16), back short in guide wavelengths."""

    def limits(self, place: FeedPlace, easy: bool) -> NDArray:
        """Smallest and largest (2, n) height and back short, m; within the usual ranges if `easy`."""
        free, wave = place.waves
        least, most = EASY_HEIGHT if easy else (0.0, np.inf)
        hole = 0.5 * max(place.coax.outer, self.diameter)
        low = (
            max(least * free, 0.5 * self.diameter, self.dielectric),
            max((_EASY_BACK if easy else BACK[0]) * wave, _HOLE * hole),
        )
        return np.array([low, (min(most * free, _MAX_HEIGHT * place.height), BACK[1] * wave)])

    def start(self, place: FeedPlace, shares: tuple[float, ...]) -> NDArray:
        """One of `starts`, m."""
        return np.array(shares) * place.waves

    def made(self, place: FeedPlace, lengths: NDArray) -> tuple[Wire, float]:
        """Wire of these lengths (m) and its distance from the short, m."""
        height, back = map(float, lengths)
        return ProbeShape(0.0, height, self.diameter, self.dielectric), back


@dataclass(frozen=True)
class BentFeed:
    """A bent probe on the centre line, towards the front wall, whose lengths are to be found; m.

    Attributes
    ----------
    diameter : of the wire.
    soldered : whether its tip ends on the front wall.
    dielectric : length of the run that is covered by the dielectric of the coax.
    """

    diameter: float
    soldered: bool
    dielectric: float = 0.0

    @property
    def starts(self) -> tuple[tuple[float, ...], ...]:
        """Run in guide wavelengths; height of the hole and distance of an open tip over the guide height."""
        if self.soldered:
            return (0.175, 0.34), (0.13, 0.5), (0.22, 0.25)
        return (0.17, 0.25, 0.2), (0.22, 0.35, 0.16), (0.12, 0.2, 0.35)

    def limits(self, place: FeedPlace, easy: bool) -> NDArray:
        """Smallest and largest (2, n) run, height of the hole, distance of an open tip from the wall, m."""
        wave = place.waves[1]
        leg = (_EASY_LEG if easy else _MIN_LEG) * self.diameter
        hole = max(
            (_EASY_GAP if easy else _MIN_GAP) * self.diameter,
            _HOLE * 0.5 * max(place.coax.outer, self.diameter),
        )
        run = max((_EASY_BACK if easy else BACK[0]) * wave, leg, self.dielectric + self.diameter)
        if self.soldered:
            return np.array([(run, hole), (BACK[1] * wave, place.b - max(hole, leg))])
        tip, most = (_EASY_TIP if easy else _MIN_TIP) * place.b, _MAX_TIP * place.b
        return np.array([(run, hole, tip), (BACK[1] * wave, min(most, place.b - leg - tip), most)])

    def start(self, place: FeedPlace, shares: tuple[float, ...]) -> NDArray:
        """One of `starts`, m."""
        return np.array(shares) * (place.waves[1], place.b, place.b)[: len(shares)]

    def made(self, place: FeedPlace, lengths: NDArray) -> tuple[Wire, float]:
        """Wire of these lengths (m) and its distance from the short, m."""
        run, height, *left = map(float, lengths)
        rise = max(place.b - height - sum(left), _MIN_LEG * self.diameter)
        return BentShape(0.0, height, run, rise, 1, self.soldered, self.diameter, self.dielectric), run


def best_feed(
    place: FeedPlace, feed: StraightFeed | BentFeed, enough_db: float = -10.0
) -> tuple[Wire, float]:
    """Wire and its distance from the back short, m, with the smallest mean |S11|^2.

    Parameters
    ----------
    place : FeedPlace
    feed : StraightFeed or BentFeed
    enough_db : float
        Sufficient match at every frequency, dB: lengths beyond the usual ranges are taken only where they
        reach it and the usual ones do not.

    Raises
    ------
    InputError
        The guide leaves no room for a probe.
    """
    best, enough = None, 10 ** (enough_db / 10)
    for easy in (True, False):
        low, high = feed.limits(place, easy)
        if np.any(low >= high):
            continue
        found = _fitted(place, feed, low, high)
        if best is None or found.worst <= enough:
            best = found
        if best.worst <= enough:
            break
    if best is None:
        raise InputError(
            "coax",
            f"{place.coax.outer * 1e3:g} mm",
            "the feed hole is too large for this guide, or the wire too thick",
        )
    return feed.made(place, best.lengths)


@dataclass(frozen=True)
class _Fit:
    """Lengths of a feed, m, with the sum and the largest of |S11|^2."""

    lengths: NDArray
    total: float
    worst: float


def _fitted(place: FeedPlace, feed: StraightFeed | BentFeed, low: NDArray, high: NDArray) -> _Fit:
    """Best match at the centre frequency from each start, then refined over all frequencies."""
    inset, middle = 1e-3 * (high - low), place.frequency.size // 2
    centre = replace(
        place, frequency=place.frequency[middle : middle + 1], load=place.load[middle : middle + 1]
    )
    fits: list[_Fit] = []
    for shares in feed.starts:
        start = np.clip(feed.start(place, shares), low + inset, high - inset)
        fits.append(_fit(place, feed, _least_squares(centre, feed, start, (low, high), _COARSE)))
        if fits[-1].total < place.frequency.size * _GOOD:
            break
    best = min(fits, key=lambda fit: fit.total)
    start = np.clip(best.lengths, low + inset, high - inset)
    return min(
        best,
        _fit(place, feed, _least_squares(place, feed, start, (low, high), _FINE)),
        key=lambda fit: fit.total,
    )


def _fit(place: FeedPlace, feed: StraightFeed | BentFeed, lengths: NDArray) -> _Fit:
    power = np.abs(place.reflection(*feed.made(place, lengths))) ** 2
    return _Fit(lengths, float(power.sum()), float(power.max()))


def _least_squares(
    place: FeedPlace,
    feed: StraightFeed | BentFeed,
    start: NDArray,
    limits: tuple[NDArray, NDArray],
    ends: dict,
) -> NDArray:
    scale = feed.start(place, tuple(np.ones(start.size)))

    def misfit(x: NDArray) -> NDArray:
        s11 = place.reflection(*feed.made(place, x * scale))
        return np.concatenate([s11.real, s11.imag])

    bounds = tuple(limit / scale for limit in limits)
    return least_squares(misfit, start / scale, bounds=bounds, diff_step=1e-3, **ends).x * scale
