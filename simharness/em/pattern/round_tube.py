"""Radiation of longitudinal slots from an infinitely long round tube: the classical series, exact.

See `simharness.em.pattern.aperture`: the far field in a direction is the field H_z that a plane wave from
there makes at the slot. On a perfectly conducting circular cylinder of radius R that is, with x = k R
sin(theta),

    h = -2j / (pi x) sum_n j^n exp(j n (phi - phi_s)) / H_n'(x),

H_n the Hankel function of the second kind (own derivation from the expansion in cylindrical waves and the
Wronskian; textbooks give it as the axial slot on a cylinder, e.g. Harrington, Time-Harmonic Electromagnetic
Fields, section 5.10, from memory; compared with the boundary integral of
`simharness.em.pattern.rectangular_tube` and against the plane as limit).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import h2vp


@dataclass(frozen=True)
class RoundTube:
    """Outline of the tube: outer diameter, front line at x = y = 0, m."""

    diameter: float

    def responses(
        self, across: NDArray, offsets: NDArray, phi: NDArray, behind: NDArray | None = None
    ) -> NDArray:
        """H_z at the slots over that of the incident wave alone, phase zero at the front line.

        Parameters
        ----------
        across : (t,) array
            Wavenumbers across the tube, k sin(theta), 1/m, not negative.
        offsets : (n,) array
            Arc lengths on the outer surface from the front line, towards +x, m.
        phi : (p,) array
            Directions of the far field, rad from +x.
        behind : (n,) bool array, optional
            Without effect: a round tube has one face all around.

        Returns
        -------
        (t, n, p) complex array

        Examples
        --------
        A large tube looks like a plane in front and casts a shadow behind:

        >>> h = RoundTube(6.0).responses(np.array([50.0]), np.zeros(1), np.radians([90.0, 270.0]))
        >>> np.round(np.abs(h[0, 0]), 2).tolist()
        [2.0, 0.01]
        """
        radius = self.diameter / 2
        x = np.maximum(across, 1e-6 * np.max(across)) * radius
        most = math.ceil(float(np.max(x)) + 4 * float(np.max(x)) ** (1 / 3) + 12)
        order = np.arange(most + 1)
        with np.errstate(over="ignore", invalid="ignore"):
            slope = h2vp(order[None, :], x[:, None])
        term = np.where(np.isfinite(slope), 1 / np.where(np.isfinite(slope), slope, 1.0), 0.0)
        term = -2j / (math.pi * x[:, None]) * np.where(order > 0, 2.0, 1.0) * 1j**order * term
        place = math.pi / 2 - np.asarray(offsets, dtype=float) / radius
        turn = np.cos(order[:, None, None] * (np.asarray(phi)[None, None, :] - place[None, :, None]))
        # the series has its phase zero on the axis of the tube, a radius behind the front line
        shift = np.exp(-1j * x[:, None] * np.sin(phi)[None, :])
        return np.einsum("to,onp->tnp", term, turn) * shift[:, None, :]
