"""Slots along a round tube: its modes inside, and the effect of its curvature outside.

Inside, a slot along z is a magnetic current along z, which needs only the potential F_z with vanishing
normal derivative at the wall: modes J_n(p r/R) cos(n phi) and sin(n phi), p the zeros of J_n', as in the
rectangular guide products of cosines. A mode enters with 1 over the integral of its square, the value at
the wall being 1,

    eps_n / (pi R^2 (1 - n^2/p^2)),     eps_0 = 1, else 2,

and with its mean over the slot, cos(n phi) or sin(n phi) times the transform of the field profile. High
modes see a flat wall, whichever guide it belongs to: for them the sums of a rectangular guide are used, and
only its modes below the cutoff `MAX_CUTOFF` are replaced by those of the round guide, except TE10, which
stands for the TE11 that the probe excites (own derivation; compared with a sum over many more modes in
`tests/unit/test_round_estimate.py`). TE11 rotated by a right angle is among the modes: it propagates and
couples the slots to each other, but not to the probe.

Outside, the potential F_z of the slots radiates outwards, so that for a wave exp(-j kz z) the magnetic
current M at the wall makes, with kappa^2 = k^2 - kz^2 (see `simharness.em.slot.basis` for the notation),

    plane:     F = M / (j sqrt(kappa^2 - kx^2)),                 a wave exp(-j kx x) along the wall,
    cylinder:  F = -M H_n(kappa R) / (kappa H_n'(kappa R)),      a wave exp(j n phi),

H_n the Hankel function of the second kind, below cutoff K_n of the modulus. Both are summed over the slots,
as an integral over kx and as a sum over n, and their difference is integrated over kz. Waves that are short
compared with the radius see a flat wall: the difference needs few of either (own derivation; Harrington,
Time-Harmonic Electromagnetic Fields, section 5.12, has the cylinder, from memory; compared with the power
in the far field in `tests/unit/test_round_estimate.py`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from scipy.special import h2vp, hankel2, jnp_zeros, kv, kvp

from simharness.constants import ETA0
from simharness.em.guide.round import TE11_ROOT, slot_angle
from simharness.em.slot.basis import SlotAperture, profile_transform, sine_wavenumbers

MAX_CUTOFF = 30.0
"""k_c R up to which modes are replaced: the energy that slots store is then within 1e-3 of the limit."""

_MODE_ORDERS = np.arange(math.ceil(MAX_CUTOFF))
"""Orders n of the modes; the smallest zero of J_n' is above n."""

Modes = tuple[NDArray, NDArray, NDArray]
"""Square of the cutoff wavenumber (1/m2), weight (1/m2), index in the values at a slot; (modes,) each."""


@lru_cache(maxsize=1)
def _zeros() -> NDArray:
    """Orders n and zeros p of J_n' below MAX_CUTOFF, shape (modes, 2), with the zero 0 of n = 0."""
    found = [(0, 0.0)]
    for n in _MODE_ORDERS:
        found += [
            (int(n), float(p))
            for p in jnp_zeros(int(n), math.ceil(MAX_CUTOFF / math.pi) + 1)
            if p < MAX_CUTOFF
        ]
    return np.array(found)


def round_modes(diameter: float) -> Modes:
    """Modes of a round guide without the TE11 with H_z ~ sin(phi).

    Indices count as in `values_at`, after those of the rectangular guide.

    Parameters
    ----------
    diameter : float
        Inner diameter, m.

    Examples
    --------
    The turned TE11 and both TE21 of a tube of 90 mm, cutoffs in GHz:

    >>> kc2, _, _ = round_modes(90e-3)
    >>> np.round(np.sort(np.sqrt(kc2))[:4] * 0.299792458 / 2 / np.pi, 3).tolist()
    [0.0, 1.952, 3.238, 3.238]
    """
    radius = diameter / 2
    order, zero = _zeros().T
    kc2 = (zero / radius) ** 2
    weight = np.where(order > 0, 2.0, 1.0) / (
        math.pi * radius**2 * (1 - (order / np.maximum(zero, 1.0)) ** 2)
    )
    even, odd = order.astype(int), order.astype(int) + _MODE_ORDERS.size
    sine = order > 0
    sine[np.argmin(np.where(order == 1, zero, np.inf))] = False
    return np.append(kc2, kc2[sine]), np.append(weight, weight[sine]), np.append(even, odd[sine])


def values_at(slot: SlotAperture, cosines: NDArray, diameter: float, exponent: float) -> NDArray:
    """Means over a slot of the modes: cos(m pi x/a) of the rectangular guide, then cos(n phi) and sin(n phi).

    That of TE10 is taken with the field profile of TE11 across the slot.

    Parameters
    ----------
    slot : SlotAperture
    cosines : (m,) array
        Means of cos(m pi x/a) over the slot, m = 0 and up.
    diameter : float
        Inner diameter of the round guide, m.
    exponent : float
        Profile exponent.
    """
    spread = profile_transform(_MODE_ORDERS * slot.width / diameter, exponent)
    flat = profile_transform(np.array([TE11_ROOT * slot.width / diameter]), exponent)
    te10 = cosines[1] * spread[1] / flat
    turn = _MODE_ORDERS * slot_angle(diameter, slot.offset)
    return np.concatenate([cosines[:1], te10, cosines[2:], np.cos(turn) * spread, np.sin(turn) * spread])


def replaced_modes(diameter: float, m: NDArray, n: NDArray, kc2: NDArray, weight: NDArray) -> Modes:
    """Modes that turn the mode sum of a rectangular guide into that of the round one.

    The low modes of the rectangular guide enter with negative weight, those of the round guide are added.

    Parameters
    ----------
    diameter : float
        Inner diameter of the round guide, m.
    m, n : (modes,) int arrays
        Mode numbers of the rectangular guide.
    kc2, weight : (modes,) arrays
        Square of their cutoff wavenumbers (1/m2) and their weights (1/m2).

    Returns
    -------
    Modes
        The indices count on from the values of cos(m pi x/a), m = 0 and up, at a slot.
    """
    low = (kc2 < (2 * MAX_CUTOFF / diameter) ** 2) & ~((m == 1) & (n == 0))
    own, strength, place = round_modes(diameter)
    return np.append(kc2[low], own), np.append(-weight[low], strength), np.append(m[low], place + m.max() + 1)


_ORDERS = np.arange(25)
_SHORTEST = 8.0
"""Largest kz over k: half of it changes the susceptance by 2 % of the contribution."""


class Curvature:
    """Contribution of the curvature of a tube to the outer admittance matrix of its slots.

    Parameters
    ----------
    slots : sequence of SlotAperture
        In order of position.
    angles : ndarray
        Angles of the slots around the tube, rad.
    orders : ndarray of int, shape (P,)
        Orders of the sine functions in each slot.
    exponent : float
        Profile exponent.
    radius : float
        Outer radius of the tube, m.
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
        """Matrix to be added to that of the plane, S, shape (N P, N P), slot-major."""
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
                # the same from -kz, where the transforms are the complex conjugates
                pair += np.einsum("pk,qk,k->pq", waves[rows].conj(), waves[cols], kernel[self._which[i, j]])
                matrix[rows, cols] = pair
                matrix[cols, rows] = pair.T
        return -matrix / (2 * np.pi) / (1j * k * ETA0)

    @staticmethod
    def _nodes(k: float, span: float) -> tuple[NDArray, NDArray]:
        """Integration points kz > 0 and weights, dense at k, for slots within a length `span` in m."""
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
        """Weighted sums of the squared profile transform times the phase between two slots, (angles, kz)."""
        spread = weight * profile_transform(kx * self._width / 2, self._exponent) ** 2
        return np.array(
            [np.sum(spread * np.cos(kx * self._radius * angle), axis=1) for angle in self._apart],
            dtype=complex,
        )
