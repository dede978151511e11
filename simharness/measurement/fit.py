"""Fit of a one-parameter family of curves S11(f) to a measured reflection.

The measurement is seen through a line of unknown delay.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simharness.em.signals.reference_plane import behind_line, delay_misfit, delays, fitted_delay
from simharness.numerics.likelihood import log_likelihood

_AMOUNTS = 161


@dataclass(frozen=True)
class Fit:
    """A curve fitted to the measurement.

    Attributes
    ----------
    delay : float
        One-way delay of the line, s.
    misfit : float
        Root mean square distance in the complex plane.
    """

    delay: float
    misfit: float


def fitted(frequency: NDArray, measured: NDArray, model: NDArray, span: tuple[float, float]) -> Fit:
    """Fit of a single curve to the measurement; `span` as in `fitted_delay`."""
    delay = fitted_delay(frequency, measured, model, span)
    distance = np.abs(behind_line(frequency, measured, delay) - model)
    return Fit(delay, float(np.sqrt(np.mean(distance**2))))


def likely_amount(
    frequency: NDArray,
    measured: NDArray,
    amounts: NDArray,
    models: NDArray,
    span: tuple[float, float],
    floor: float,
    width: float,
) -> tuple[float, float]:
    """Amount at which a family of curves explains the measurement best, and the misfit expected there.

    Parameters
    ----------
    frequency : (f,) array
        Hz.
    measured : (f,) complex array
    amounts : (k,) array
        Increasing, at least two.
    models : (k, f) complex array
        The curve at each amount; between them every frequency is interpolated by a cubic spline.
    span : tuple of 2 floats
        Least and largest delay of the line, s.
    floor : float
        Error of measurement and model in the complex plane.
    width : float
        Standard deviation of the prior of the amount.

    Returns
    -------
    amount, misfit : float
        Misfit as root mean square in the complex plane.
    """
    fine = np.linspace(amounts[0], amounts[-1], _AMOUNTS)
    curves = CubicSpline(amounts, models)(fine)
    misfit = np.sqrt(np.min(delay_misfit(frequency, measured, curves, delays(frequency, span)), axis=1))
    best = int(np.argmax(log_likelihood(misfit, floor) - 0.5 * (fine / width) ** 2))
    return float(fine[best]), float(misfit[best])
