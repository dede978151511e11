"""Ringing time of a structure from its response over frequency, by the poles of a rational fit.

Time convention exp(+j omega t): a pole f of the response in the plane of complex frequency rings as
exp(2 pi j f t), and decays where the imaginary part of f is positive.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from simharness.constants import TWO_PI
from simharness.numerics.rational import rational_fit

_FLOOR = 1e-4
"""Relative misfit at which the fit stops adding poles: below it they describe rounding errors."""

_REACH = 0.25
"""Distance beyond its ends, in widths of its span, within which a response still determines a pole."""

_MIN_PEAK = 1e-3
"""Poles of a smaller peak, relative to the largest value, are artefacts of the fit."""

_INSTANTS = 600


def ringing_poles(frequency: NDArray, response: NDArray) -> tuple[NDArray, NDArray]:
    """Decaying poles, and their residues, that lie near the span of a response and are visible in it.

    Parameters
    ----------
    frequency : (f,) array
        Hz, increasing.
    response : (f,) complex array
        Any unit U.

    Returns
    -------
    poles : (p,) complex array
        Hz.
    residues : (p,) complex array
        In U Hz: the response is the sum of residue / (f - pole) and a smooth rest.
    """
    low, width = frequency[0], frequency[-1] - frequency[0]
    if not response.any():  # nothing that could be fitted: a guide without slots, matched at its far end
        return np.zeros(0, dtype=complex), np.zeros(0, dtype=complex)
    fit = rational_fit((frequency - low) / width, response[:, None], floor=_FLOOR)
    poles, residues = fit.poles()
    told = (poles.imag > 0) & (np.abs(poles.real - 0.5) < 0.5 + _REACH)
    told &= np.abs(residues[:, 0]) > _MIN_PEAK * np.abs(response).max() * poles.imag
    return low + width * poles[told], width * residues[told, 0]


def missing_response(poles: NDArray, residues: NDArray, frequency: NDArray, time: NDArray) -> NDArray:
    """Part of the response to an impulse at time 0 that is missing when it is cut off.

    Parameters
    ----------
    poles, residues : (p,) complex arrays
        Hz and U Hz.
    frequency : (f,) array
        Hz.
    time : (t,) array
        Times at which it is cut off, s.

    Returns
    -------
    (t, f) complex array
        Part of the transform at these frequencies that comes after the cut, U.

    Examples
    --------
    One pole: everything is missing at first, 1/e after its time constant.

    >>> pole, f = np.array([5e9 + 1e7j]), np.array([5e9])
    >>> left = missing_response(pole, np.array([1e7j]), f, np.array([0.0, 1 / (TWO_PI * 1e7)]))
    >>> np.abs(left[:, 0]).round(4)
    array([1.    , 0.3679])
    """
    own = residues / (frequency[:, None] - poles)
    turn = poles - frequency[:, None]
    return np.einsum("fp,tfp->tf", own, np.exp(1j * TWO_PI * turn * np.asarray(time)[:, None, None]))


def ringing_time(frequency: NDArray, response: NDArray, band: tuple[float, float], share: float) -> float:
    """Time in s after an impulse from which on at most `share` of the response is missing.

    Parameters
    ----------
    frequency : (f,) array
        Hz, increasing; about 20 for each pole within.
    response : (f,) complex array
        A reflection, 1.
    band : tuple of float
        Lowest and highest frequency where this must hold, Hz.
    share : float
        In the unit of the response.

    Notes
    -----
    Between two echoes the response may be zero: the last instant at which more is missing counts.
    """
    poles, residues = ringing_poles(frequency, response)
    if not poles.size:
        return 0.0
    # After this time all poles together leave less.
    largest = np.sum(np.abs(residues) / poles.imag)
    latest = math.log(max(largest / share, 1.0)) / (TWO_PI * float(poles.imag.min()))
    instants = np.linspace(0.0, latest, _INSTANTS)
    left = np.abs(missing_response(poles, residues, np.linspace(*band, 21), instants)).max(axis=1)
    above = np.flatnonzero(left > share)
    return float(instants[above[-1]]) if above.size else 0.0
