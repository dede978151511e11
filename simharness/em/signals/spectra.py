"""Port signals: spectra, power waves, and how settled a record is.

Time convention exp(+j omega t). Spectra are Fourier integrals (V s, A s) of one and the
same pulse, so that ratios of them are network quantities. A ringing record is continued
by :mod:`simharness.em.signals.ringing`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import TWO_PI
from simharness.errors import InputError

_BLOCK = 2048


def time_step(time: NDArray) -> float:
    """Time step in s of uniformly sampled axes, shape (..., nt)."""
    count = time.shape[-1]
    if count < 2:
        raise InputError("samples", count, "at least 2 are needed for a time step")
    step = float((time.flat[count - 1] - time.flat[0]) / (count - 1))
    # Times read from text carry few digits: a jitter of 5 % of a step is a phase error
    # of 0.05 omega dt, under 0.02 rad even at 20 samples per period.
    ruler = time[..., :1] + step * np.arange(count)
    if not step > 0 or np.max(np.abs(time - ruler)) > 0.05 * step:
        raise InputError("time", "not uniform", "equal steps, increasing")
    return step


def spectrum(time: ArrayLike, signal: ArrayLike, frequency: ArrayLike) -> NDArray:
    """Fourier integral of sampled signals at the wanted frequencies.

    Rectangle rule times the time step: spectrally accurate for a record that is zero
    at both ends, aliased only by content above the sampling rate minus ``frequency``.

    Parameters
    ----------
    time : (nt,) or (..., nt) array
        Sampling times in s, uniform; every signal may bring its own axis (magnetic
        quantities are sampled half a step late), all with the same step.
    signal : (..., nt) array
        Sampled signals, any unit U.
    frequency : (nf,) array
        Frequencies in Hz.

    Returns
    -------
    (..., nf) complex array
        Sum of signal exp(-j 2 pi f t) dt, in U s.

    Raises
    ------
    InputError
        Uneven time steps, or lengths which do not match.

    Examples
    --------
    >>> t = np.arange(-50, 51) * 0.1
    >>> print(np.round(spectrum(t, np.exp(-np.pi * t**2), [1.0]).real, 6))   # exp(-pi)
    [0.043214]
    """
    time, signal = np.asarray(time, float), np.asarray(signal)
    omega = TWO_PI * np.atleast_1d(np.asarray(frequency, float))
    if time.shape[-1] != signal.shape[-1]:
        raise InputError("samples", signal.shape[-1], f"{time.shape[-1]} as the time axis")
    step = time_step(time)
    kernel = np.exp(-1j * np.outer(np.arange(min(_BLOCK, time.shape[-1])) * step, omega))
    total = np.zeros((*signal.shape[:-1], omega.size), complex)
    for first in range(0, time.shape[-1], _BLOCK):
        part = signal[..., first : first + _BLOCK]
        total += (part @ kernel[: part.shape[-1]]) * np.exp(-1j * omega * first * step)
    return step * total * np.exp(-1j * omega * time[..., :1])


def wave_split(voltage: ArrayLike, current: ArrayLike, impedance: ArrayLike) -> tuple[NDArray, NDArray]:
    """Power waves a (into the network) and b (out of it).

    Parameters
    ----------
    voltage, current : complex arrays
        Peak phasors in V and A; the current flows into the network.
    impedance : real array
        Reference impedance in ohm, positive.

    Returns
    -------
    a, b : complex arrays
        In sqrt(W); the power into the network is (|a|^2 - |b|^2) / 2.

    Raises
    ------
    InputError
        Reference impedance not real and positive.

    Notes
    -----
    K. Kurokawa, IEEE Trans. MTT-13, 1965, 194-202, eq. (1), for a real impedance
    (from memory; the power relation is tested).

    Examples
    --------
    >>> a, b = wave_split(10.0, 0.2, 50.0)
    >>> print(round(float(a**2 / 2), 12), float(b))
    1.0 0.0
    """
    if np.iscomplexobj(impedance) or np.any(~(np.asarray(impedance) > 0)):
        raise InputError("impedance", impedance, "a positive real number of ohm")
    voltage, current = np.asarray(voltage), np.asarray(current)
    scale = 0.5 / np.sqrt(np.asarray(impedance, float))
    drop = impedance * current
    return (voltage + drop) * scale, (voltage - drop) * scale
