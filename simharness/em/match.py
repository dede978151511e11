"""Figures of a reflection curve: deepest match, band edges, worst value in a band."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def decibels(power: float) -> float:
    """10 log10 of a power ratio, not below -120 dB."""
    return float(10 * np.log10(max(float(power), 1e-12)))


def deepest_match(frequency: NDArray, s11: NDArray) -> tuple[float, float]:
    """Frequency (Hz) and |S11|^2 of the deepest match, refined by a parabola through three samples.

    At the border of the span the sample itself is returned.

    Examples
    --------
    >>> f = np.linspace(2.0, 3.0, 11)
    >>> found, power = deepest_match(f, 0.1 + 1j * (f - 2.43))
    >>> round(found, 6), round(power, 6)
    (2.43, 0.01)
    """
    power = np.abs(s11) ** 2
    best = int(np.argmin(power))
    if best in (0, len(power) - 1):
        return float(frequency[best]), float(power[best])
    bend = power[best - 1] - 2 * power[best] + power[best + 1]
    if bend <= 0:
        return float(frequency[best]), float(power[best])
    shift = 0.5 * (power[best - 1] - power[best + 1]) / bend
    lowest = power[best] - 0.125 * (power[best - 1] - power[best + 1]) ** 2 / bend
    return float(frequency[best] + shift * (frequency[best + 1] - frequency[best])), float(max(lowest, 0.0))


def match_band(frequency: NDArray, s11: NDArray, limit_db: float = -10.0) -> tuple[float | None, float | None]:
    """Edges (Hz) of the band around the deepest match where |S11| stays below the limit.

    None for an edge that lies outside the span, or for both when the limit is never met.
    """
    power, limit = np.abs(s11) ** 2, 10 ** (limit_db / 10)
    best = int(np.argmin(power))
    if power[best] > limit:
        return None, None
    return _edge(frequency, power, limit, best, -1), _edge(frequency, power, limit, best, 1)


def _edge(frequency: NDArray, power: NDArray, limit: float, best: int, way: int) -> float | None:
    stop = best
    while power[stop] <= limit:
        stop += way
        if not 0 <= stop < power.size:
            return None
    inner = stop - way
    part = (limit - power[inner]) / (power[stop] - power[inner])
    return float(frequency[inner] + part * (frequency[stop] - frequency[inner]))


def worst_match(frequency: NDArray, s11: NDArray, low: float, high: float) -> tuple[float, float]:
    """Frequency (Hz) and |S11|^2 of the worst match between two frequencies."""
    inside = np.flatnonzero((frequency >= low * (1 - 1e-9)) & (frequency <= high * (1 + 1e-9)))
    worst = inside[np.argmax(np.abs(s11[inside]))]
    return float(frequency[worst]), float(abs(s11[worst]) ** 2)
