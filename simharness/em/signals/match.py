"""Figures of a reflection curve: deepest match, band edges, worst value in a band."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simharness.numerics.parabola import refined_minimum


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
    best, lowest = refined_minimum(frequency, power, int(np.argmin(power)))
    return best, max(lowest, 0.0)


def match_band(
    frequency: NDArray, s11: NDArray, limit_db: float = -10.0
) -> tuple[float | None, float | None]:
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


def value_at(frequency: NDArray, s11: NDArray, at: float) -> complex:
    """S11 at one frequency (Hz) within the span, by the cubic through the four samples around it.

    Examples
    --------
    >>> f = np.linspace(2.0, 3.0, 11)
    >>> print(np.round(value_at(f, f**3 + 1j * f, 2.43), 9))
    (14.348907+2.43j)
    """
    first = int(np.clip(np.searchsorted(frequency, at) - 2, 0, max(len(frequency) - 4, 0)))
    places, values = frequency[first : first + 4], s11[first : first + 4]
    steps = places[:, None] - places
    np.fill_diagonal(steps, 1.0)
    shares = np.where(np.eye(places.size, dtype=bool), 1.0, at - places) / steps
    return complex(np.prod(shares, axis=1) @ values)


def worst_match(frequency: NDArray, s11: NDArray, low: float, high: float) -> tuple[float, float]:
    """Frequency (Hz) and |S11|^2 of the worst match between two frequencies, these two included.

    Of a band that reaches beyond the span the part within the span counts. Between samples the edges of the
    band are interpolated (`value_at`): a match that grows worse to an edge is worst there and not at the last
    sample before it.

    Examples
    --------
    >>> f = np.linspace(2.0, 3.0, 11)
    >>> print(worst_match(f, f - 2.4 + 0j, 2.15, 2.55)[0])
    2.15
    """
    edges = [float(np.clip(edge, frequency[0], frequency[-1])) for edge in (low, high)]
    inside = (frequency > edges[0]) & (frequency < edges[1])
    places = np.concatenate([edges, frequency[inside]])
    power = np.abs(np.concatenate([[value_at(frequency, s11, edge) for edge in edges], s11[inside]])) ** 2
    worst = int(np.argmax(power))
    return float(places[worst]), float(power[worst])
