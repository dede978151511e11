"""Decibels of power and amplitude ratios."""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

MIN_DB = -120.0
"""Default lower limit of a level in dB, which stands for nothing at all."""


@overload
def decibels(power: float, floor: float = MIN_DB) -> float: ...
@overload
def decibels(power: NDArray, floor: float = MIN_DB) -> NDArray: ...
def decibels(power: ArrayLike, floor: float = MIN_DB) -> float | NDArray:
    """Level of a power ratio in dB.

    Parameters
    ----------
    power : float or array
        Ratio of two powers, at least 0.
    floor : float
        Lower limit of the result, dB.

    Returns
    -------
    float or array
        10 log10(power), at least `floor`, in the shape of `power`.

    Examples
    --------
    >>> decibels(0.1)
    -10.0
    >>> print(decibels([1.0, 0.1, 0.0], floor=-200.0))
    [   0.  -10. -200.]
    """
    level = 10 * np.log10(np.maximum(power, 10 ** (floor / 10)))
    return float(level) if np.ndim(level) == 0 else level


@overload
def amplitude_decibels(amplitude: float, floor: float = MIN_DB) -> float: ...
@overload
def amplitude_decibels(amplitude: NDArray, floor: float = MIN_DB) -> NDArray: ...
def amplitude_decibels(amplitude: ArrayLike, floor: float = MIN_DB) -> float | NDArray:
    """Level of an amplitude ratio (of fields, voltages or waves) in dB.

    Parameters
    ----------
    amplitude : float or array
        Magnitude of the ratio, at least 0.
    floor : float
        Lower limit of the result, dB.

    Returns
    -------
    float or array
        20 log10(amplitude), at least `floor`, in the shape of `amplitude`.

    Examples
    --------
    >>> amplitude_decibels(10.0)
    20.0
    >>> amplitude_decibels(0.0)
    -120.0
    """
    level = 20 * np.log10(np.maximum(amplitude, 10 ** (floor / 20)))
    return float(level) if np.ndim(level) == 0 else level
