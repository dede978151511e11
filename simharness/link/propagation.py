"""Two antennas and the free space between them: transmission loss, polarization, exposure.

Levels are in dB and dBm, everything else in SI units.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import C0, TWO_PI
from simharness.numerics.decibels import amplitude_decibels


def free_space_loss(frequency: ArrayLike, distance: ArrayLike) -> NDArray | float:
    """Free-space basic transmission loss between isotropic antennas, dB.

    Parameters
    ----------
    frequency, distance : arrays
        Hz and m, broadcast against each other.

    Notes
    -----
    20 log(4 pi d / lambda), ITU-R P.525, which prints it as 32.4 + 20 log f_MHz + 20 log d_km.
    Valid in the far field of both antennas, with nothing near the path.

    Examples
    --------
    >>> print(round(float(free_space_loss(2.45e9, 1000.0)), 2))
    100.23
    """
    return amplitude_decibels(2 * TWO_PI * np.asarray(distance, float) * np.asarray(frequency, float) / C0)


def free_space_range(frequency: float, loss: float) -> float:
    """Distance in m at which the free-space loss reaches `loss` in dB; the inverse of `free_space_loss`.

    Examples
    --------
    >>> print(round(free_space_range(2.45e9, 100.23), 0))
    1000.0
    """
    return C0 / (2 * TWO_PI * frequency) * 10 ** (loss / 20)


def signed_axial_ratio(one: complex, two: complex) -> float:
    """Minor over major axis of a polarization ellipse, with the sense as its sign.

    Parameters
    ----------
    one, two : complex
        Field along two transverse unit vectors with one x two in the direction of travel,
        peak phasors for exp(+j omega t).

    Returns
    -------
    float
        -1 to 1: 0 linear, +1 right-hand circular, -1 left-hand circular (IEEE Std 145: the
        hand whose thumb points along the travel).

    Notes
    -----
    From the circular components |E_one +- j E_two|: right-hand circular is E_two = -j E_one.

    Examples
    --------
    >>> print(round(signed_axial_ratio(1.0, -1j), 9), round(signed_axial_ratio(1.0, 1.0), 9))
    1.0 0.0
    """
    right, left = abs(one + 1j * two), abs(one - 1j * two)
    return float((right - left) / (right + left))


def polarization_match(ratio_one: float, tilt_one: float, ratio_two: float, tilt_two: float) -> float:
    """Polarization efficiency of two antennas by their polarization ellipses, 0 to 1.

    Parameters
    ----------
    ratio_one, ratio_two : float
        Minor over major axis, signed by the sense as in `signed_axial_ratio`, each antenna
        as if it transmitted.
    tilt_one, tilt_two : float
        Major axis, rad, in one common frame (from the horizontal, say).

    Notes
    -----
    An ellipse with axial ratio tan(e) and tilt t is the point of latitude 2 e and longitude
    2 t on the Poincare sphere; two states at the great-circle distance z pass
    cos^2(z/2) = (1 + cos z)/2 (IEEE Std 145, polarization efficiency; memory). With
    cos z = sin 2e1 sin 2e2 + cos 2e1 cos 2e2 cos 2(t1 - t2), sin 2e = 2 g/(1 + g^2) and
    cos 2e = (1 - g^2)/(1 + g^2) for g = tan e, linear against linear gives the square of
    the cosine between them, linear against circular one half, equal senses one.

    Examples
    --------
    >>> print(round(polarization_match(0, 0, 0, math.pi / 4), 9), round(polarization_match(1, 0, 0, 0.3), 9))
    0.5 0.5
    """
    polar = [2 * g / (1 + g**2) for g in (ratio_one, ratio_two)]
    flat = [(1 - g**2) / (1 + g**2) for g in (ratio_one, ratio_two)]
    cosine = polar[0] * polar[1] + flat[0] * flat[1] * math.cos(2 * (tilt_one - tilt_two))
    return min(max(0.5 * (1 + cosine), 0.0), 1.0)


def exposure_distance(radiated: float, limit: float) -> float:
    """Distance in m beyond which the power density stays below a limit.

    Parameters
    ----------
    radiated : float
        Equivalent isotropically radiated power (EIRP), W.
    limit : float
        Power density, W/m2.

    Notes
    -----
    Solves S = P G / (4 pi r^2) for r, the far field (C. A. Balanis, Antenna Theory, sec. 2.4; memory).

    Examples
    --------
    >>> print(round(exposure_distance(4.0, 10.0), 3))
    0.178
    """
    return math.sqrt(radiated / (2 * TWO_PI * limit))


def far_field_distance(extent: float, frequency: float) -> float:
    """Conventional beginning of the far field, m: 2 D^2 / lambda (IEEE Std 145; memory).

    Parameters
    ----------
    extent : float
        Largest dimension D of the antenna, m.
    frequency : float
        Hz.

    Examples
    --------
    >>> print(round(far_field_distance(0.5, 2.45e9), 2))
    4.09
    """
    return 2 * extent**2 * frequency / C0
