"""Amplitude tapers of linear arrays of equal spacing, and of the line source behind them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError


def dolph_chebyshev_weights(count: int, side_lobe_db: float) -> NDArray:
    """Amplitudes of a broadside array whose side lobes are all equal, largest 1.

    The zeros of the Chebyshev polynomial T_(N-1)(x0 cos(psi/2)) are those of the array
    polynomial (C. L. Dolph, Proc. IRE 34 (1946) 335-348); the weights are its coefficients.

    Parameters
    ----------
    count : int
        Number of elements, at least 2.
    side_lobe_db : float
        Main lobe over side lobes, dB, positive.

    Raises
    ------
    InputError
        Fewer than two elements or a ratio that is not positive.

    Examples
    --------
    >>> w = dolph_chebyshev_weights(8, 26)
    >>> [round(float(v), 4) for v in w[:4] / w[0]]
    [1.0, 1.6313, 2.3916, 2.8603]
    """
    _check(count, side_lobe_db)
    order = count - 1
    stretch = math.cosh(math.acosh(10 ** (side_lobe_db / 20)) / order)
    zeros = np.cos((2 * np.arange(1, order + 1) - 1) * math.pi / (2 * order)) / stretch
    weights = np.poly(np.exp(2j * np.arccos(zeros))).real
    weights = 0.5 * (weights + weights[::-1])
    return weights / weights.max()


def taylor_nbar_weights(count: int, side_lobe_db: float, nbar: int = 4) -> NDArray:
    """Taylor n-bar line source sampled at the centres of equal cells, largest 1.

    T. T. Taylor, IRE Trans. AP-3 (1955) 16-28. Sampling a continuous source is good for
    eight elements or more; for fewer the side lobes come out a little higher.

    Raises
    ------
    InputError
        Fewer than two elements, a ratio that is not positive, or nbar below 1.

    Examples
    --------
    >>> [round(float(v), 3) for v in taylor_nbar_weights(8, 25, 4)[:4]]
    [0.403, 0.592, 0.846, 1.0]
    """
    _check(count, side_lobe_db)
    if nbar < 1:
        raise InputError("nbar", nbar, "must be at least 1")
    m = np.arange(1, nbar)
    place = (np.arange(count) - (count - 1) / 2) / count
    weights = 1 + 2 * np.cos(2 * math.pi * np.outer(place, m)) @ _taylor_coefficients(side_lobe_db, nbar)
    return weights / weights.max()


def taylor_sigma(side_lobe_db: float, nbar: int) -> float:
    """Dilation of the Taylor line source: its beam is broader than Chebyshev's by this.

    Examples
    --------
    >>> round(taylor_sigma(25, 5), 5)
    1.07728
    """
    a = math.acosh(10 ** (side_lobe_db / 20)) / math.pi
    return nbar / math.sqrt(a**2 + (nbar - 0.5) ** 2)


def _taylor_coefficients(side_lobe_db: float, nbar: int) -> NDArray:
    a2 = (math.acosh(10 ** (side_lobe_db / 20)) / math.pi) ** 2
    sigma2 = taylor_sigma(side_lobe_db, nbar) ** 2
    n = np.arange(1, nbar)
    values = []
    for m in n:
        above = np.prod(1 - m**2 / (sigma2 * (a2 + (n - 0.5) ** 2)))
        below = np.prod(1 - m**2 / n[n != m] ** 2)
        values.append((-1) ** (m + 1) * above / (2 * below))
    return np.array(values)


def _check(count: int, side_lobe_db: float) -> None:
    if count < 2:
        raise InputError("count", count, "must be at least 2")
    if side_lobe_db <= 0:
        raise InputError("side_lobe_db", side_lobe_db, "must be positive")
