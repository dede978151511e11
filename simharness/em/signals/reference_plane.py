"""A line of unknown length before a one-port: its delay, and the reflection behind it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import TWO_PI
from simharness.numerics.parabola import refined_minimum

_STEPS_PER_TURN = 24


def behind_line(frequency: ArrayLike, s11: ArrayLike, delay: float | NDArray) -> NDArray:
    """Reflection at the far end of a matched lossless line in front of a one-port.

    Parameters
    ----------
    frequency : (f,) array
        Hz.
    s11 : (..., f) complex array
        Reflection at the near end of the line.
    delay : float or array
        One-way delay of the line, s; a negative one inserts a line.

    Returns
    -------
    complex array
        s11 exp(+j 4 pi f delay): the wave passes the line twice.

    Examples
    --------
    >>> print(round(float(behind_line(1e9, 0.5, 0.25e-9).real), 9))
    -0.5
    """
    return np.asarray(s11) * np.exp(2j * TWO_PI * np.asarray(frequency, float) * delay)


def delays(frequency: NDArray, span: tuple[float, float]) -> NDArray:
    """Delays in s over a span, dense enough that no turn of the phase is missed."""
    step = 0.5 / (_STEPS_PER_TURN * float(np.max(frequency)))
    count = max(2, int(np.ceil((span[1] - span[0]) / step)) + 1)
    return np.linspace(*span, count)


def delay_misfit(frequency: NDArray, measured: NDArray, models: NDArray, delay: NDArray) -> NDArray:
    """Mean square distance of a measurement behind lines of these delays from each model.

    Parameters
    ----------
    frequency : (f,) array
        Hz.
    measured : (f,) complex array
    models : (m, f) complex array
    delay : (d,) array
        s.

    Returns
    -------
    (m, d) array
    """
    turned = behind_line(frequency, measured, delay[:, None])
    power = np.mean(np.abs(models) ** 2, axis=1)[:, None] + np.mean(np.abs(measured) ** 2)
    return np.maximum(power - 2 * (np.conj(models) @ turned.T).real / frequency.size, 0.0)


def fitted_delay(frequency: NDArray, measured: NDArray, model: NDArray, span: tuple[float, float]) -> float:
    """Delay in s within a span for which a measurement comes closest to a model.

    The best of a scan, refined by a parabola through three delays.

    Examples
    --------
    >>> f = np.linspace(2.3e9, 2.6e9, 31)
    >>> model = 1 / (1 + 1j * (f - 2.45e9) / 50e6)
    >>> print(round(1e12 * fitted_delay(f, behind_line(f, model, -70e-12), model, (0.0, 150e-12)), 1))
    70.0
    """
    if span[0] == span[1]:
        return span[0]
    delay = delays(frequency, span)
    misfit = delay_misfit(frequency, measured, model[None], delay)[0]
    return refined_minimum(delay, misfit, int(np.argmin(misfit))).place
