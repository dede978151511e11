"""Directivity and side lobes of a row of slots from the far fields of its single slots.

The field of the row is the sum of those of its slots, each times its voltage, and the radiated power is a
quadratic form of the voltages. Fields of the single slots and the form are computed once; many sets of
voltages then cost a product of matrices each.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from simharness.constants import TWO_PI
from simharness.em.pattern.aperture import Aperture, Tube, single_fields
from simharness.em.pattern.side_lobes import side_lobe_level

_POLAR, AZIMUTHS = 120, 48
"""Directions of the integral over the sphere: sufficient in cos(theta) for rows of 15 wavelengths."""


class ElementFields:
    """Far fields of single slots on an infinitely long tube at one frequency.

    Parameters
    ----------
    tube : Tube
    aperture : Aperture
        Its voltages are not used.
    frequency : float
        Hz.
    azimuths : int
        Directions around the axis of the integral over the sphere.
    """

    def __init__(self, tube: Tube, aperture: Aperture, frequency: float, azimuths: int = AZIMUTHS):
        self._angle = np.radians(np.arange(-360, 361) / 4.0)
        theta, broadside = np.arccos(np.sin(self._angle)), np.array([math.pi / 2])
        cosine, weights = np.polynomial.legendre.leggauss(_POLAR)
        phi = TWO_PI * np.arange(azimuths) / azimuths
        alike = replace(aperture, voltages=np.ones(len(aperture.offsets)))
        self._front = single_fields(tube, alike, frequency, theta, broadside)[:, :, 0]
        everywhere = single_fields(tube, alike, frequency, np.arccos(cosine), phi)
        self._mean = np.einsum("t,ntp,mtp->nm", weights, everywhere.conj(), everywhere) / (2 * azimuths)

    def directivity(self, voltages: NDArray) -> NDArray:
        """Largest directivity in the plane along the guide, in front; linear, (s,).

        Parameters
        ----------
        voltages : (s, n) complex array
        """
        mean = np.einsum("sn,nm,sm->s", voltages.conj(), self._mean, voltages).real
        return self._power(voltages).max(axis=1) / mean

    def side_lobe_levels(self, voltages: NDArray) -> NDArray:
        """Side-lobe level in the plane along the guide, in front; dB, (s,), nan where there is no side lobe.

        Parameters
        ----------
        voltages : (s, n) complex array
        """
        levels = np.array(
            [side_lobe_level(self._angle, power, math.pi / 2) for power in self._power(voltages)]
        )
        return np.where(np.isinf(levels), math.nan, levels)

    def _power(self, voltages: NDArray) -> NDArray:
        """Relative power (s, angles) in that plane."""
        return np.abs(voltages @ self._front) ** 2
