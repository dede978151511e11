"""Slots seen from a half space, and the passage through the wall.

Basis, sign conventions and the tested admittance: see `simharness.em.slot.basis`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import gamma, roots_jacobi

from simharness.constants import ETA0
from simharness.em.slot.basis import SlotAperture, profile_transform, sine_wavenumbers
from simharness.em.slot.superstrate import Superstrate, superstrate_waves, trench_capacitance


@lru_cache(maxsize=8)
def _width_rule(exponent: float, count: int) -> tuple[NDArray, NDArray]:
    """Nodes xi/w and weights for the distribution of |x - x'| of two profile points.

    Its density is twice the autocorrelation of f, computed by a tanh-sinh rule (the
    integrand is singular at both ends of the overlap); xi = w [1 - (1 - u^3)^3] tames
    the logarithm of the kernel at xi = 0 and the power (1 - xi/w)^(2 nu + 1).
    """
    u, du = np.polynomial.legendre.leggauss(count)
    u, du = 0.5 * (u + 1.0), 0.5 * du
    rest = 2.0 * (1.0 - u**3) ** 3
    s = 2.0 - rest  # distance in half widths, 0..2
    rest = rest[:, None]
    t = np.linspace(-4.0, 4.0, 321)
    step = t[1] - t[0]
    left = rest / (1.0 + np.exp(-np.pi * np.sinh(t)))
    right = rest / (1.0 + np.exp(np.pi * np.sinh(t)))
    jacobian = left * right / rest * np.pi * np.cosh(t)
    product = (left * (2.0 - left)) ** exponent * (right * (2.0 - right)) ** exponent
    scale = gamma(exponent + 1.5) / (np.sqrt(np.pi) * gamma(exponent + 1.0))
    autocorrelation = scale**2 * (product * jacobian).sum(axis=1) * step
    weights = 2.0 * autocorrelation * 18.0 * u**2 * (1.0 - u**3) ** 2 * du
    return 0.5 * s, weights


def _lag_products(zeta: NDArray, length: float, orders: NDArray) -> tuple[NDArray, NDArray]:
    """Correlations of s_p with s_q and of their derivatives at lag zeta (both signs).

    For p = q: (L - zeta) cos(kp zeta) +- sin(kp zeta)/kp; for p + q even:
    2 (kp sin(kq zeta) - kq sin(kp zeta)) / (kp^2 - kq^2) and, for derivatives,
    2 kp kq (kq sin(kq zeta) - kp sin(kp zeta)) / (kp^2 - kq^2); else 0.
    """
    kp, count = sine_wavenumbers(length, orders), len(orders)
    plain = np.zeros((count, count, zeta.size))
    slope = np.zeros_like(plain)
    sine, cosine = np.sin(kp[:, None] * zeta), np.cos(kp[:, None] * zeta)
    for p in range(count):
        plain[p, p] = (length - zeta) * cosine[p] + sine[p] / kp[p]
        slope[p, p] = kp[p] ** 2 * ((length - zeta) * cosine[p] - sine[p] / kp[p])
        for q in range(p + 1, count):
            if (orders[p] + orders[q]) % 2:
                continue
            gap = kp[p] ** 2 - kp[q] ** 2
            plain[p, q] = plain[q, p] = 2.0 * (kp[p] * sine[q] - kp[q] * sine[p]) / gap
            slope[p, q] = slope[q, p] = 2.0 * kp[p] * kp[q] * (kp[q] * sine[q] - kp[p] * sine[p]) / gap
    return plain, slope


@lru_cache(maxsize=8)
def _product_rules_of(orders: tuple[int, ...], count: int) -> tuple[NDArray, NDArray, NDArray]:
    nodes, w = np.polynomial.legendre.leggauss(count)
    fine, fine_w = np.polynomial.legendre.leggauss(count + 2 * max(orders) + 10)
    degree = np.arange(count)
    lagrange = (
        np.polynomial.legendre.legvander(nodes, count - 1) * (degree + 0.5) * w[:, None]
    ) @ np.polynomial.legendre.legvander(fine, count - 1).T
    phase = np.array(orders)[:, None] * np.pi * 0.5
    rule = (np.sin(phase * (fine + 1.0)) * fine_w) @ lagrange.T
    slope = (phase * np.cos(phase * (fine + 1.0)) * fine_w) @ lagrange.T
    return nodes, rule, slope


def _product_rules(orders: NDArray, count: int) -> tuple[NDArray, ...]:
    """Nodes on (-1, 1) and weights for integrals with s_p and ds_p/du, exact for polynomials.

    The kernel between two slots is smooth and is replaced by its interpolant at the
    Gauss nodes; only the sines oscillate, and they are integrated on a finer rule.
    """
    return _product_rules_of(tuple(int(p) for p in orders), count)


def _node_counts(slots: Sequence[SlotAperture], along: int) -> tuple[int, int]:
    """Nodes along and across each slot for the closest pair.

    Two nodes across integrate the second moment exactly and leave 0.09 (w / 2R)^4 of the kernel. The
    kernel of two slots side by side is as narrow as their distance, which takes six nodes.
    """
    pairs = [(s, t) for i, s in enumerate(slots) for t in slots[:i]]
    gaps = [
        np.hypot(max(0.0, abs(s.position - t.position) - 0.5 * (s.length + t.length)), s.offset - t.offset)
        for s, t in pairs
    ]
    longest, widest = (max(getattr(s, name) for s in slots) for name in ("length", "width"))
    across = 2 if min(gaps) > 3.0 * widest else 5
    if min(gaps) < 0.3 * longest:
        along = max(along, int(np.ceil(6.0 * longest / max(min(gaps), 0.1 * longest))))
    return along, across


@lru_cache(maxsize=128)
def _self_rule(
    length: float, width: float, orders: tuple[int, ...], exponent: float, nodes: tuple[int, int]
) -> tuple[NDArray, NDArray, NDArray]:
    """Distances (d,) and weights (P P, d) of the self term of a slot, for the field and for its charges."""
    across, weight = _width_rule(exponent, nodes[0])
    xi = across * width
    top = np.arcsinh(length / xi)
    g, dg = np.polynomial.legendre.leggauss(nodes[1])
    sigma = 0.5 * top[:, None] * (g + 1.0)
    w = (weight[:, None] * 0.5 * top[:, None] * dg).ravel() / (2.0 * np.pi)
    distance = (xi[:, None] * np.cosh(sigma)).ravel()
    zeta = (xi[:, None] * np.sinh(sigma)).ravel()
    plain, slope = _lag_products(zeta, length, np.array(orders))
    shape = (len(orders) ** 2, -1)
    kept = distance, (plain * w).reshape(shape), (slope * w).reshape(shape)
    for part in kept:
        part.setflags(write=False)
    return kept


@lru_cache(maxsize=8)
def _profile_powers(exponent: float, count: int) -> NDArray:
    """Shares (q,) of the harmonics across a slot in the square of its profile."""
    q = np.arange(count)
    found = np.where(q > 0, 2.0, 1.0) * profile_transform(np.pi * q, exponent) ** 2
    found.setflags(write=False)
    return found


class HalfSpaceSide:
    """Slots seen from a half space over an infinite metal plane.

    G = 2 exp(-jkR) / (4 pi R). Self term: the four-fold integral depends only on the
    lags zeta = |z - z'| and xi = |x - x'|; zeta = xi sinh(sigma) turns d zeta / R
    into d sigma, which removes the singularity. Mutual terms: product rules on both
    slots.

    Parameters
    ----------
    slots : sequence of SlotAperture
    orders : ndarray of int, shape (P,)
    exponent : float
        Profile exponent.
    lag_nodes : tuple of int
        Nodes in xi and in sigma of the self term (1e-5 of the element with these).
    along : int
        Nodes along each slot of the mutual terms; more if slots are close.
    superstrate : Superstrate or None
        Dielectric on the plane.
    """

    def __init__(
        self,
        slots: Sequence[SlotAperture],
        orders: NDArray,
        exponent: float,
        lag_nodes: tuple[int, int] = (16, 48),
        along: int = 14,
        superstrate: Superstrate | None = None,
    ):
        self.superstrate = superstrate
        self.slots, self.orders, self.count = slots, np.asarray(orders), len(orders)
        kinds = tuple(int(p) for p in orders), exponent, lag_nodes
        self.self_terms = [_self_rule(s.length, s.width, *kinds) for s in slots]
        self._mutual_rule(exponent, along)

    def _mutual_rule(self, exponent: float, along: int) -> None:
        self.pair_distance: NDArray | None = None
        n = len(self.slots)
        if n < 2:
            return
        along, across = _node_counts(self.slots, along)
        g, rule, slope_rule = _product_rules(self.orders, along)
        u, w = roots_jacobi(across, exponent, exponent)
        w = np.repeat(w / w.sum(), along)
        z = np.concatenate([np.tile(s.position + 0.5 * s.length * g, across) for s in self.slots])
        x = np.concatenate([s.offset + 0.5 * s.width * np.repeat(u, along) for s in self.slots])
        self.basis = [np.tile(0.5 * s.length * rule, across) * w for s in self.slots]
        self.slope = [np.tile(slope_rule, across) * w for s in self.slots]
        self.block = across * along
        block = np.arange(n).repeat(self.block)
        self.pair_upper = block[:, None] < block
        self.pair_distance = np.hypot(z[:, None] - z, x[:, None] - x)[self.pair_upper]

    def _waves(self, k: float, distance: NDArray, lossless: bool) -> tuple[NDArray, NDArray]:
        """Waves for the field along the slot and for its charges; both exp(-jkR) without a superstrate."""
        if self.superstrate is None:
            wave = np.exp(-1j * k * distance)
            return wave, wave
        return superstrate_waves(self.superstrate.lossless if lossless else self.superstrate, k, distance)

    def _trench(self, slot: SlotAperture, lossless: bool) -> complex:
        """Reduction of <s_p, G s_p>, m, for a slot that is cut through the superstrate too.

        The missing capacitance per length over eps0, times half the length of the slot.
        """
        if self.superstrate is None or not self.superstrate.routed:
            return 0.0
        return (
            trench_capacitance(self.superstrate.lossless if lossless else self.superstrate, slot.width)
            * 0.5
            * slot.length
        )

    def admittance(self, k: float, lossless: bool = False) -> NDArray:
        """Admittance matrix of the half space, S, shape (N P, N P), slot-major; k in 1/m.

        `lossless`: without the loss of the superstrate, for the radiated power.
        """
        count, n = self.count, len(self.slots)
        matrix = np.zeros((n * count, n * count), dtype=complex)
        done: dict = {}
        for i, (distance, plain, slope) in enumerate(self.self_terms):
            if id(plain) not in done:
                field, charge = self._waves(k, distance, lossless)
                done[id(plain)] = (k**2 * (plain @ field) - slope @ charge).reshape(count, count)
            rows = slice(i * count, (i + 1) * count)
            matrix[rows, rows] = done[id(plain)] - np.diag(
                np.full(count, k**2 * self._trench(self.slots[i], lossless))
            )
        if self.pair_distance is not None:
            size = n * self.block
            kernels = np.zeros((2, size, size), dtype=complex)
            kernels[:, self.pair_upper] = self._waves(k, self.pair_distance, lossless)
            kernels[:, self.pair_upper] /= 2.0 * np.pi * self.pair_distance
            for i in range(n):
                rows = slice(i * count, (i + 1) * count)
                field, charge = kernels[:, i * self.block : (i + 1) * self.block]
                left, left_slope = self.basis[i] @ field, self.slope[i] @ charge
                for j in range(i + 1, n):
                    cols = slice(j * count, (j + 1) * count)
                    own = slice(j * self.block, (j + 1) * self.block)
                    block = k**2 * left[:, own] @ self.basis[j].T - left_slope[:, own] @ self.slope[j].T
                    matrix[rows, cols], matrix[cols, rows] = block, block.T
        return matrix * 1j / (k * ETA0)


def wall_chain(
    k: float, slot: SlotAperture, wall: float, orders: NDArray, exponent: float, harmonics: int = 200
) -> tuple[NDArray, NDArray, NDArray]:
    """Chain-matrix terms of the slot through a wall of given thickness.

    In the cut, F_z = A(y) s_p(z) cos(2 q pi x / w), A'' = kappa^2 A, kappa^2 = k_p^2
    + (2 q pi/w)^2 - k^2, E_x = -A'/eps, H_z = (k^2 - k_p^2) A / (j omega mu eps). With
    h = -H_z tested on the profile, h_in = Y11 e_in - Y12 e_out and h_out = Y12 e_in -
    Y11 e_out, Y11 = (j / omega mu)(k^2 - k_p^2)(L / 2w) sum_q eps_q F_q^2
    coth(kappa t) / kappa, Y12 with 1 / sinh. Solved for the inner aperture:
    e_in = A e_out + Z h_out, h_in = S e_out + A h_out, which stays finite for t -> 0
    (A = 1, Z = S = 0).

    Returns
    -------
    A, Z, S : (P,) arrays
        1, ohm, S.
    """
    if wall == 0.0:
        return np.ones(len(orders)), np.zeros(len(orders)), np.zeros(len(orders))
    scale, coth, csch, tanh_half = _wall_sums(k, slot, wall, orders, exponent, harmonics)
    return coth / csch, 1.0 / (scale * csch), scale * tanh_half * (coth + csch) / csch


def wall_admittances(
    k: float, slot: SlotAperture, wall: float, orders: NDArray, exponent: float, harmonics: int = 200
) -> tuple[NDArray, NDArray]:
    """Y11 and Y12 of `wall_chain`, S, shape (P,), for walls of any thickness above 0."""
    scale, coth, csch, _ = _wall_sums(k, slot, wall, orders, exponent, harmonics)
    return scale * coth, scale * csch


def _wall_sums(
    k: float, slot: SlotAperture, wall: float, orders: NDArray, exponent: float, harmonics: int
) -> tuple[NDArray, NDArray, NDArray, NDArray]:
    """Common factor and the sums with coth, 1 / sinh and tanh of half the argument."""
    kp2 = sine_wavenumbers(slot.length, orders)[:, None] ** 2
    q = np.arange(1 if exponent == 0.0 else harmonics)
    f2 = _profile_powers(exponent, q.size)
    kappa = np.sqrt(kp2 + (2.0 * np.pi * q / slot.width) ** 2 - k**2 + 0j)
    e1 = np.exp(-kappa * wall)
    csch = (f2 * 2.0 * e1 / (kappa * (1.0 - e1**2))).sum(axis=1)
    coth = (f2 * (1.0 + e1**2) / (kappa * (1.0 - e1**2))).sum(axis=1)
    tanh_half = (f2 * (1.0 - e1) / (kappa * (1.0 + e1))).sum(axis=1)
    scale = 1j / (k * ETA0) * (k**2 - kp2[:, 0]) * slot.length / (2.0 * slot.width)
    return scale, coth, csch, tanh_half
