"""A finished antenna by the model, and how far what is not known of its dimensions moves its figures."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simharness.em.signals.match import match_band, worst_match
from simharness.estimate.response_surface import Figures, Quadratic, ResponseSurface
from simharness.numerics.decibels import decibels
from simharness.numerics.likelihood import INDEPENDENT_SAMPLES
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.tolerance.analysis import STEP_SHARE
from simharness.tolerance.model import response_surface
from simharness.workshop.base import BaseModel
from simharness.workshop.readings import Reading, changed_by

SAMPLES = 400
"""Antennas from which intervals are taken: the ends of one that holds 95 in 100 scatter by a tenth of it."""

WITHIN_95 = 2.448
"""Radius that 95 in 100 of a complex normal number stay within, in standard deviations of its parts:
(-2 ln 0.05)^0.5."""

_SHARES = (0.025, 0.975)


@dataclass(frozen=True)
class Interval:
    """A figure, and what 95 in 100 antennas with these readings lie within.

    Attributes
    ----------
    value, low, high : float
        nan where there is none; of an edge of the band, the end of the model's frequencies where it lies
        beyond.
    """

    value: float
    low: float
    high: float

    def holds(self, value: float) -> bool:
        """Whether a value lies within."""
        return self.low <= value <= self.high


class BuiltAntenna:
    """The model of a finished antenna near one state of its dimensions.

    Parameters
    ----------
    base : BaseModel
    rows : tuple of Reading
    amounts : (n,) array
        How far each dimension is from what is drawn, mm.
    covariance : (n, n) array
        What is not known of them, mm^2.
    changed : Record or None
        A state of `base.calibrated` that takes the place of the one by `amounts`: what was done to the metal
        since.
    remainder : (f,) complex array or None
        In the place of `base.remainder`, where a measured curve says more.
    progress : Progress or None

    Raises
    ------
    InputError
        No such antenna exists.
    """

    def __init__(
        self,
        base: BaseModel,
        rows: tuple[Reading, ...],
        amounts: NDArray,
        covariance: NDArray,
        *,
        changed: Record | None = None,
        remainder: NDArray | None = None,
        progress: Progress | None = None,
    ):
        self.base, self.rows, self.amounts, self.covariance = base, rows, amounts, covariance
        self.remainder = base.remainder if remainder is None else remainder
        self.calibrated = changed or changed_by(base.calibrated, rows, amounts)
        self.s11 = base.s11(self.calibrated) - base.remainder + self.remainder
        self.surface: ResponseSurface = response_surface(self.calibrated)
        self.surface.correct(base.frequency, self.s11)
        self._quadratic = self._surrogate(progress or Silent())

    def _surrogate(self, progress: Progress) -> Quadratic:
        """Parts of the model as quadratics of what each dimension may be off."""
        slopes, bends, begin = [], [], time.monotonic()
        spread = 2 * np.sqrt(np.diag(self.covariance))
        for number, row in enumerate(self.rows):
            left = (time.monotonic() - begin) / max(number, 1) * (len(self.rows) - number)
            progress.advance(number / len(self.rows), left, row.dimension.name)
            # A quadratic holds between its steps: from small ones, half a millimetre off would be no antenna.
            step = max(STEP_SHARE * row.dimension.deviation.limit, float(spread[number]))
            slope, bend = self.surface.slope_and_bend(row.dimension.deviation, step)
            slopes.append(slope)
            bends.append(bend)
        progress.done()
        return Quadratic(self.surface.drawn, np.array(slopes), np.array(bends))

    @property
    def frequency(self) -> NDArray:
        """Frequencies (g,) of `curves`, Hz."""
        return self.surface.grid

    def drawn_amounts(self, count: int = SAMPLES, seed: int = 1) -> NDArray:
        """Errors (count, n) of the dimensions around their state, mm: normal with their covariance."""
        root = _root(self.covariance)
        return np.random.default_rng(seed).standard_normal((count, root.shape[1])) @ root.T

    def parts(self, amounts: NDArray) -> NDArray:
        """Parts (s, m) of the model with errors (s, n) around the state, mm."""
        return self._quadratic(amounts)

    def curves(self, amounts: NDArray) -> NDArray:
        """S11 (s, g) at `frequency`."""
        return self.surface.s11(self.parts(amounts))[:, : self.frequency.size]

    def levels(self, error: float) -> tuple[NDArray, NDArray]:
        """Least and greatest |S11| (g,) at `frequency` that 95 in 100 such antennas have, the model being off
        by `error`, a distance in the complex plane."""
        sample = self.curves(self.drawn_amounts())
        sample = np.abs(sample + smooth_errors(sample.shape[1], SAMPLES, error, 2))
        low, high = np.quantile(sample, _SHARES, axis=0)
        return low, high

    def worst(self, curves: NDArray) -> NDArray:
        """Largest |S11| (s,) in the band of curves (s, g), as an amplitude."""
        band = self.base.record.band
        inside = np.linspace(band.low, band.high, 61)
        return np.abs(CubicSpline(self.frequency, curves, axis=-1)(inside)).max(axis=-1)

    def intervals(self, error: float, count: int = SAMPLES, seed: int = 1) -> dict[str, Interval]:
        """Figures of the antenna, and what 95 in 100 lie within.

        Parameters
        ----------
        error : float
            Of the model's S11, a distance in the complex plane; 0 for the readings alone.

        Returns
        -------
        dict
            'worst_s11' (dB), 'band_low' and 'band_high' (Hz), 'gain' (dBi), 'side_lobes' (dB).
        """
        amounts = self.drawn_amounts(count, seed)
        parts = self.parts(np.vstack([np.zeros(amounts.shape[1]), amounts]))
        curves = self.surface.s11(parts)[:, : self.frequency.size]
        curves[1:] += smooth_errors(self.frequency.size, count, error, seed + 1)
        other: Figures = self.surface.figures(parts)
        edges = np.array([_edges(self.frequency, curve) for curve in curves])
        columns = {
            "worst_s11": decibels(self.worst(curves) ** 2),
            "band_low": edges[:, 0],
            "band_high": edges[:, 1],
            "gain": other.gain,
            "side_lobes": other.side_lobes,
        }
        return {name: _interval(values) for name, values in columns.items()}

    def likely(self, target_db: float, error: float, count: int = SAMPLES, seed: int = 1) -> float:
        """Share of such antennas whose S11 meets a target (dB) in the band, 0 to 1."""
        curves = self.curves(self.drawn_amounts(count, seed))
        curves += smooth_errors(self.frequency.size, count, error, seed + 1)
        return float(np.mean(decibels(self.worst(curves) ** 2) <= target_db))


def drawn_figures(base: BaseModel) -> dict[str, float]:
    """The figures of the antenna as drawn, by the names of `BuiltAntenna.intervals`."""
    surface, s11 = response_surface(base.calibrated), base.s11(base.calibrated)
    surface.correct(base.frequency, s11)
    other: Figures = surface.figures(surface.drawn[None])
    band = base.record.band
    low, high = _edges(base.frequency, s11)
    return {
        "worst_s11": float(decibels(worst_match(base.frequency, s11, band.low, band.high)[1])),
        "band_low": low,
        "band_high": high,
        "gain": float(other.gain[0]),
        "side_lobes": float(other.side_lobes[0]),
    }


def _edges(frequency: NDArray, curve: NDArray) -> tuple[float, float]:
    """Edges of the -10 dB band, Hz; see `Interval`."""
    low, high = match_band(frequency, curve)
    if low is None and high is None and np.abs(curve).min() ** 2 > 0.1:
        return np.nan, np.nan
    first, last = frequency[[0, -1]]
    return float(first if low is None else low), float(last if high is None else high)


def smooth_errors(size: int, count: int, error: float, seed: int) -> NDArray:
    """Errors (count, size) of a model over its frequencies, smooth as those of models are: normal at as many
    frequencies as are independent, 95 in 100 within `error`, cubic between them."""
    knots = int(INDEPENDENT_SAMPLES)
    chance = np.random.default_rng(seed).standard_normal((2, count, knots))
    values = error / WITHIN_95 * (chance[0] + 1j * chance[1])
    return CubicSpline(np.linspace(0, 1, knots), values, axis=1)(np.linspace(0, 1, size))


def _root(covariance: NDArray) -> NDArray:
    """The square root (n, n) of a covariance that is itself symmetric; the covariance may be singular.

    It is the only one that does not depend on the eigenvectors that a library picks among equal eigenvalues:
    the same readings give the same sample on every machine.
    """
    values, vectors = np.linalg.eigh(covariance)
    return vectors * np.sqrt(np.clip(values, 0.0, None)) @ vectors.T


def _interval(values: NDArray) -> Interval:
    """Of a sample whose first member is the state itself."""
    sample = values[1:][np.isfinite(values[1:])]
    if not sample.size:
        return Interval(float(values[0]), np.nan, np.nan)
    low, high = np.quantile(sample, _SHARES)
    value = float(values[0])
    return Interval(value, float(min(low, value)), float(max(high, value)))
