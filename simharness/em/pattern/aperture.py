"""Radiation of longitudinal slots from an infinitely long tube.

A magnetic current along z on an infinitely long tube makes a field with H_z alone as its source; for the
axial wavenumber k cos(theta) the field across is a two-dimensional one of wavenumber k sin(theta). By
reciprocity, the far field in a direction is the field H_z which a plane wave from there makes at the slot
(own derivation). Thus

    E_phi(theta, phi) ~ sin(theta) sum_n V_n c_n(k cos theta) exp(j k z_n cos theta)
                        h(x_n, phi; k sin theta),

with h = 2 on an infinite plane and 1 without any metal; each kind of tube computes its h. The ends of the
tube are neglected, so that the field close to the axis and behind the tube is indicative only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, TWO_PI


class Tube(Protocol):
    """An infinitely long tube with slots in its surface."""

    def responses(
        self, across: NDArray, offsets: NDArray, phi: NDArray, behind: NDArray | None = None
    ) -> NDArray:
        """H_z at the slots over that of the incident wave alone, phase zero at the origin.

        Parameters
        ----------
        across : (t,) array
            Wavenumbers across the tube, k sin(theta), 1/m, not negative.
        offsets : (n,) array
            Places of the slots along the surface, from the middle of their face, m.
        phi : (p,) array
            Directions of the far field, rad from +x.
        behind : (n,) bool array, optional
            Whether a slot lies on the back face; by default all lie on the front.

        Returns
        -------
        (t, n, p) complex array
        """
        ...


@dataclass(frozen=True)
class Aperture:
    """Slots with their voltages.

    Attributes
    ----------
    offsets, positions, lengths : (n,) arrays
        Centres across (on a round tube: along its outer surface) and along, and lengths, m.
    voltages : (n,) complex array
        Of slots on the back face against x.
    back : (n,) bool array or None
        Whether a slot lies on the back face; None: all lie on the front.
    """

    offsets: NDArray
    positions: NDArray
    lengths: NDArray
    voltages: NDArray
    back: NDArray | None = None

    @property
    def behind(self) -> NDArray:
        """Whether each slot lies on the back face, (n,) bool."""
        return np.zeros(len(self.offsets), dtype=bool) if self.back is None else self.back


def slot_spectrum(axial: NDArray, length: float) -> NDArray:
    """Fourier transform of cos(pi z/L) on the slot at axial wavenumber (1/m), m."""
    x = 0.5 * length * np.asarray(axial, dtype=float)
    gap = 0.25 * math.pi**2 - x**2
    gap = np.where(np.abs(gap) < 1e-9, 1e-9, gap)
    return 0.5 * math.pi * length * np.cos(x) / gap


def radiated_field(tube: Tube, aperture: Aperture, frequency: float, theta: NDArray, phi: NDArray) -> NDArray:
    """E_phi in arbitrary unit on the grid, (theta, phi) complex array.

    Parameters
    ----------
    tube : Tube
    aperture : Aperture
    frequency : float
        Hz.
    theta, phi : (t,), (p,) arrays
        rad; the field is zero along the axis, theta = 0 and pi.
    """
    return single_fields(tube, aperture, frequency, theta, phi).sum(axis=0)


def single_fields(tube: Tube, aperture: Aperture, frequency: float, theta: NDArray, phi: NDArray) -> NDArray:
    """Field of each slot alone, as in `radiated_field`, (n, theta, phi) complex array."""
    across = TWO_PI * frequency / C0 * np.sin(theta)
    response = tube.responses(across, aperture.offsets, phi, aperture.behind)
    return slot_weights(aperture, frequency, theta)[:, :, None] * np.moveaxis(response, 0, 1)


def slot_weights(aperture: Aperture, frequency: float, theta: NDArray) -> NDArray:
    """What each slot adds to the field in a cone, the response of the tube apart: (n, t) complex array.

    Parameters
    ----------
    aperture : Aperture
    frequency : float
        Hz.
    theta : (t,) array
        rad.
    """
    axial = TWO_PI * frequency / C0 * np.cos(theta)
    spectra = [
        v * slot_spectrum(axial, length) * np.exp(1j * z * axial)
        for v, length, z in zip(aperture.voltages, aperture.lengths, aperture.positions)
    ]
    return np.sin(theta) * np.stack(spectra)
