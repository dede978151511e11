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
    `scipy.signal.windows.chebwin` warns of side lobes above -45 dB, which are the usual ones here, and its
    weights differ from these by up to 7e-8 (40 elements, 20 dB).

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
    """Amplitudes of a Taylor n-bar line source, sampled at the centres of equal cells, largest 1.

    T. T. Taylor, IRE Trans. AP-3 (1955) 16-28, as `scipy.signal.windows.taylor` computes it. Sampling a
    continuous source is good for eight elements or more; for fewer the side lobes come out a little higher.

    Parameters
    ----------
    count : int
        Number of elements, at least 2.
    side_lobe_db : float
        Main lobe over side lobes, dB, positive.
    nbar : int
        Number of nearly equal side lobes on either side of the main lobe plus one.

    Raises
    ------
    InputError
        Fewer than two elements, a ratio that is not positive, or nbar below 1.

    Examples
    --------
    >>> [round(float(v), 3) for v in taylor_nbar_weights(8, 25, 4)[:4]]
    [0.403, 0.592, 0.846, 1.0]
    """
    from scipy.signal.windows import taylor  # imported here: it takes longer to load than all else

    _check(count, side_lobe_db)
    if nbar < 1:
        raise InputError("nbar", nbar, "must be at least 1")
    weights = taylor(count, nbar=nbar, sll=side_lobe_db, norm=False)
    return weights / weights.max()


def _check(count: int, side_lobe_db: float) -> None:
    if count < 2:
        raise InputError("count", count, "must be at least 2")
    if side_lobe_db <= 0:
        raise InputError("side_lobe_db", side_lobe_db, "must be positive")
