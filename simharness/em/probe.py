"""Coax probe through a broad wall: input impedance from an assumed sinusoidal current.

The current on the wire is I0 sin k(d - y) / sin kd from the wall to the tip at height d.
The reaction of that current on the surface of the wire (induced EMF; stationary, Collin,
Field Theory of Guided Waves, section 7.1, re-derived) gives a sum over modes:

    Z = j omega mu  sum_mn  2 e_n/(ab) (1 - (n pi/bk)^2) sin^2(m pi x/a) P_n^2  F_mn,
    P_n = k (cos(n pi d/b) - cos kd) / ((k^2 - (n pi/b)^2) sin kd),

F = exp(-gamma r)/(2 gamma) for a mode that dies out before it meets anything. TE10 alone
reaches the ends: its part is 2 R (1/(Y_left + Y_right)) with the line admittances on both
sides, normalised, and R the resistance in a matched guide.

Accuracy: the resistance is Collin's and good to 10-20 % while kd < 2. The reactance
lacks the coax aperture (taken as a delta gap) and the charge on the end face of the
wire; expect the height of best match to be right within 5-10 % only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.guide import phase_constant


@dataclass(frozen=True)
class ProbeShape:
    """A straight round wire standing on a broad wall, SI units.

    Attributes
    ----------
    offset : float
        Axis from the centre line of the wall, m.
    height : float
        Tip above the wall, m; less than the height of the guide.
    diameter : float
        m.
    """

    offset: float
    height: float
    diameter: float


def matched_resistance(a: float, b: float, probe: ProbeShape, frequency: ArrayLike) -> NDArray:
    """Input resistance of the probe in a guide matched both ways, ohm.

    R = eta / (a b beta k) cos^2(pi x/a) tan^2(kd/2): the field of TE10 at the offset x
    enters once for the excitation and once for the reaction.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.
    """
    beta = phase_constant(a, frequency)
    k = TWO_PI * np.asarray(frequency, dtype=float) / C0
    field = math.cos(math.pi * probe.offset / a) * np.tan(0.5 * k * probe.height)
    return ETA0 / (a * b * beta * k) * field**2


def shorted_resistance(a: float, b: float, probe: ProbeShape, back_short: float, frequency: ArrayLike) -> NDArray:
    """Input resistance with a short at one side and a matched guide at the other, ohm.

    Collin's 2 eta/(a b beta k) sin^2(beta l) tan^2(kd/2), for a probe at any offset.

    Parameters
    ----------
    back_short : float
        Distance l of the short from the axis of the probe, m.

    Examples
    --------
    >>> probe = ProbeShape(offset=0, height=5.92e-3, diameter=1e-3)
    >>> round(float(shorted_resistance(22.86e-3, 10.16e-3, probe, 39.707e-3 / 4, 10e9)), 1)
    49.9
    """
    turn = phase_constant(a, frequency) * back_short
    return 2 * matched_resistance(a, b, probe, frequency) * np.sin(turn) ** 2


def evanescent_reactance(
    a: float, b: float, probe: ProbeShape, frequency: ArrayLike, back_short: float = math.inf
) -> NDArray:
    """Reactance of all modes except TE10, ohm.

    Parameters
    ----------
    a, b : float
        Inner width and height of the guide, m.
    probe : ProbeShape
    frequency : array_like
        Hz; modes that propagate do not count.
    back_short : float
        Distance to a short, m; the evanescent modes see its image.
    """
    k = TWO_PI * np.atleast_1d(np.asarray(frequency, dtype=float))[..., None, None] / C0
    radius = probe.diameter / 2
    # exp(-gamma r) has died at 8/r; the current's own spectrum falls off as n^-2.
    m = np.arange(1, max(40, math.ceil(8 * a / (math.pi * radius))))[:, None]
    n = np.arange(0, max(24, math.ceil(6 * b / probe.height) * 4))
    kx, ky = m * math.pi / a, n * math.pi / b
    square = kx**2 + ky**2 - k**2
    gamma = np.sqrt(np.where(square > 0, square, np.inf))
    spread = np.exp(-gamma * radius)
    if math.isfinite(back_short):
        low = (..., slice(0, 24), slice(0, 24))
        spread[low] -= np.exp(-2 * gamma[low] * back_short)
    modes = np.sin(kx * (probe.offset + a / 2)) ** 2 * spread / (2 * gamma)
    modes[..., 0, 0] = 0.0
    weight = np.where(n == 0, 2.0, 4.0) / (a * b) * _current_spectrum(k, ky, probe.height)
    total = np.sum(modes.sum(axis=-2) * weight[..., 0, :], axis=-1)
    return (ETA0 * k[..., 0, 0] * total).reshape(np.shape(frequency))


def _current_spectrum(k: NDArray, ky: NDArray, height: float) -> NDArray:
    """(1 - ky^2/k^2) P_n^2 with the removable zero of k^2 - ky^2 stepped over."""
    square = k**2 - ky**2
    square = np.where(np.abs(square) < 1e-9 * k**2, 1e-9 * k**2, square)
    turn = (np.cos(ky * height) - np.cos(k * height)) / np.sin(k * height)
    return turn**2 / square


def input_impedance(
    a: float,
    b: float,
    probe: ProbeShape,
    frequency: NDArray,
    line_impedance: NDArray,
    back_short: float = math.inf,
) -> NDArray:
    """Impedance between wire and wall at the inner face of the wall, ohm.

    Parameters
    ----------
    frequency : (f,) array
        Hz, between the cutoffs of TE10 and the next mode.
    line_impedance : (f,) complex array
        Impedance of the TE10 line seen by a shunt source at the probe, normalised:
        1/(Y_left + Y_right); 1/2 in a guide matched both ways.
    back_short : float
        Distance to the nearer short, m.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.
    """
    resistance = matched_resistance(a, b, probe, frequency)
    return 2 * resistance * line_impedance + 1j * evanescent_reactance(a, b, probe, frequency, back_short)


def through_coax(impedance: NDArray, frequency: ArrayLike, length: float, characteristic: float, eps_r: float):
    """Impedance seen through a lossless coax of this length (m), ohm."""
    turn = np.tan(TWO_PI * np.asarray(frequency, dtype=float) * math.sqrt(eps_r) / C0 * length)
    return characteristic * (impedance + 1j * characteristic * turn) / (characteristic + 1j * impedance * turn)
