"""Slots along a round tube seen from outside: what the curvature adds to the admittance of the plane.

Over the wall the potential F_z of the slots goes outwards, so that for a wave exp(-j kz z) the magnetic current M at
the wall makes, with kappa^2 = k^2 - kz^2 (see ``slot_basis`` for the rest),

    plane:     F = M / (j sqrt(kappa^2 - kx^2)),                 a wave exp(-j kx x) along the wall,
    cylinder:  F = -M H_n(kappa R) / (kappa H_n'(kappa R)),      a wave exp(j n phi),

H_n the Hankel function of the second kind, below cutoff K_n of the modulus. Both are summed over the slots, as an integral
over kx and as a sum over n, and their difference is integrated over kz. Waves that are short against the radius find the
wall flat: the difference needs few of either (own derivation; Harrington, Time-Harmonic Electromagnetic Fields,
section 5.12, has the cylinder, from memory; held against the power in the far field in `tests/unit/test_round_estimate.py`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from scipy.special import h2vp, hankel2, kv, kvp

from simharness.constants import ETA0
from simharness.em.slot.basis import SlotAperture, profile_transform, sine_wavenumbers

_ORDERS = np.arange(25)
_SHORTEST = 8.0
"""Largest kz over k: half as large changes the susceptance by 2 % of the difference."""


class Curvature:
    """What the curvature of a tube adds to the outer admittance of its slots.

    Parameters
    ----------
    slots : sequence of SlotAperture
        In order of position.
    angles : ndarray
        Where they lie around the tube, rad.
    orders : ndarray of int, shape (P,)
        Orders of the sine functions in each slot.
    exponent : float
        Profile exponent.
    radius : float
        Of the outside, m.
    """

    def __init__(
        self, slots: Sequence[SlotAperture], angles: NDArray, orders: NDArray, exponent: float, radius: float
    ):
        self._slots, self._orders, self._exponent, self._radius = slots, orders, exponent, radius
        apart = np.round(np.abs(angles[:, None] - angles), 9)
        self._apart, self._which = np.unique(apart, return_inverse=True)
        self._which = self._which.reshape(apart.shape)
        self._width = float(np.mean([s.width for s in slots]))

    def admittance(self, k: float) -> NDArray:
        """Return the matrix to be added, in siemens, shape (N P, N P), slot-major."""
        places = np.array([s.position for s in self._slots])
        kz, weight = self._nodes(k, np.ptp(places) + max(s.length for s in self._slots))
        square = k**2 - kz**2
        waves = np.concatenate([self._waves(s, kz) for s in self._slots])
        kernel = (self._cylinder(square) - self._plane(square)) * (weight * square)
        count = len(self._orders)
        matrix = np.zeros((len(waves), len(waves)), dtype=complex)
        for i in range(len(self._slots)):
            rows = slice(i * count, (i + 1) * count)
            for j in range(i, len(self._slots)):
                cols = slice(j * count, (j + 1) * count)
                pair = np.einsum("pk,qk,k->pq", waves[rows], waves[cols].conj(), kernel[self._which[i, j]])
                # as much from -kz, where the transforms are the conjugate ones
                pair += np.einsum("pk,qk,k->pq", waves[rows].conj(), waves[cols], kernel[self._which[i, j]])
                matrix[rows, cols] = pair
                matrix[cols, rows] = pair.T
        return -matrix / (2 * np.pi) / (1j * k * ETA0)

    @staticmethod
    def _nodes(k: float, span: float) -> tuple[NDArray, NDArray]:
        """Points kz > 0 and weights, dense at k, enough of them for slots this far apart (m)."""
        node, weight = leggauss(40 + int(2 * k * span))
        share, weight = (node + 1) / 2, weight / 2
        beyond = (_SHORTEST - 1) * k
        return (
            np.concatenate([k * (1 - share**2), k + beyond * share**2]),
            np.concatenate([2 * k * share * weight, 2 * beyond * share * weight]),
        )

    def _waves(self, slot: SlotAperture, kz: NDArray) -> NDArray:
        """Transforms of the sine functions of a slot, integral of s_p exp(j kz z), (P, kz)."""
        kp = sine_wavenumbers(slot.length, self._orders)[:, None]
        half = kz * slot.length / 2
        odd = np.asarray(self._orders)[:, None] % 2 == 1
        turn = (-1.0) ** (np.asarray(self._orders)[:, None] // 2)
        shape = np.where(odd, turn * np.cos(half), -1j * turn * np.sin(half))
        return 2 * kp / (kp**2 - kz**2) * shape * np.exp(1j * kz * slot.position)

    def _cylinder(self, square: NDArray) -> NDArray:
        """Sum over n for each angle between slots, (angles, kz)."""
        kappa = np.sqrt(np.abs(square))
        x, n = kappa * self._radius, _ORDERS[:, None]
        travels = square > 0
        ratio = np.empty((len(n), len(x)), dtype=complex)
        ratio[:, travels] = hankel2(n, x[travels]) / h2vp(n, x[travels])
        ratio[:, ~travels] = kv(n, x[~travels]) / kvp(n, x[~travels])
        spread = (
            np.where(n > 0, 2.0, 1.0)
            * profile_transform(n * self._width / (2 * self._radius), self._exponent) ** 2
        )
        around = np.cos(_ORDERS * self._apart[:, None])
        return -around @ (spread * ratio / kappa) / (2 * np.pi * self._radius)

    def _plane(self, square: NDArray) -> NDArray:
        """Integral over kx, as far as the sum over n goes, for each angle between slots, (angles, kz)."""
        top, kappa = (_ORDERS[-1] + 0.5) / self._radius, np.sqrt(np.abs(square))
        node, weight = leggauss(80)
        share, weight = (node + 1) / 2, weight / 2
        travels = square > 0
        rapid = np.where(travels, np.arccosh(top / np.minimum(kappa, top)), np.arcsinh(top / kappa))[:, None]
        kx = kappa[:, None] * np.where(travels[:, None], np.cosh(share * rapid), np.sinh(share * rapid))
        found = self._along_x(kx, rapid * weight)
        below = kappa[travels, None] * np.sin(share * np.pi / 2)
        found[:, travels] = found[:, travels] - 1j * self._along_x(below, np.pi / 2 * weight)
        return found / np.pi

    def _along_x(self, kx: NDArray, weight: NDArray) -> NDArray:
        """Weighted sums of the spread of a slot times the phase to the other one, (angles, kz)."""
        spread = weight * profile_transform(kx * self._width / 2, self._exponent) ** 2
        return np.array(
            [np.sum(spread * np.cos(kx * self._radius * angle), axis=1) for angle in self._apart],
            dtype=complex,
        )
