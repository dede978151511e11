"""Radiation efficiency and realized gain from powers (terms of IEEE Std 145)."""

from __future__ import annotations

from typing import overload

from numpy.typing import NDArray

from simharness.constants import TWO_PI
from simharness.numerics.decibels import decibels


@overload
def radiation_efficiency(radiated: float, lost: float) -> float: ...
@overload
def radiation_efficiency(radiated: NDArray, lost: NDArray) -> NDArray: ...
def radiation_efficiency(radiated: float | NDArray, lost: float | NDArray) -> float | NDArray:
    """Radiated over accepted power, the accepted power being what is radiated and what is lost as heat.

    Parameters
    ----------
    radiated, lost : float or array
        W.

    Examples
    --------
    >>> radiation_efficiency(0.75, 0.25)
    0.75
    """
    return radiated / (radiated + lost)


def realized_gain_dbi(directivity_dbi: float, efficiency: float, accepted: float) -> float:
    """Realized gain in dBi: directivity less the losses and the mismatch.

    Parameters
    ----------
    directivity_dbi : float
        dBi.
    efficiency : float
        Radiation efficiency, 0 to 1.
    accepted : float
        Accepted over available power, 1 - |S11|^2 of a one-port.

    Examples
    --------
    >>> print(round(realized_gain_dbi(10.0, 0.5, 0.5), 2))
    3.98
    """
    return directivity_dbi + decibels(efficiency * accepted)


@overload
def realized_gain(intensity: float) -> float: ...
@overload
def realized_gain(intensity: NDArray) -> NDArray: ...
def realized_gain(intensity: float | NDArray) -> float | NDArray:
    """Realized gain (linear) of a radiation intensity at 1 W available power, 4 pi U / P_available.

    Parameters
    ----------
    intensity : float or array
        W/sr.

    Examples
    --------
    >>> import numpy as np
    >>> print(round(realized_gain(1 / (4 * np.pi)), 12))
    1.0
    """
    return 2 * TWO_PI * intensity
