"""Closed forms of the sums over modes inside the guide, also for two slots whose ranges of z overlap.

Basis, sign conventions and the tested admittance: see `simharness.em.slot.basis`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simharness.em.slot.basis import SlotAperture, end_transform, sine_wavenumbers


def boundary_sum(kx: NDArray, kp: NDArray) -> NDArray:
    """Integral over eta of A^(1/2) / ((A + kp^2)(A + kq^2)), A = kx^2 + eta^2.

    Partial fractions and integral d eta / (A^(1/2) (A + r^2)) over the real line
    = 2 asinh(r / kx) / (r c), c^2 = kx^2 + r^2, give (T_p - T_q) / (kp^2 - kq^2)
    with T = 2 r asinh(r/kx) / c, and dT/d(r^2) on the diagonal.
    Shape (P, P, kx); kx (kx,) and kp (P,) in 1/m.
    """
    r = kp[:, None]
    c = np.sqrt(kx**2 + r**2)
    ash = np.arcsinh(r / kx)
    t = 2.0 * r * ash / c
    gap = kp[:, None] ** 2 - kp[None, :] ** 2
    off = (t[:, None] - t[None, :]) / (gap + np.eye(kp.size))[:, :, None]
    diagonal = kx**2 * ash / (r * c**3) + 1.0 / c**2
    index = np.arange(kp.size)
    off[index, index] = diagonal
    return off


def height_sum(xi: NDArray, b: float, opposite: bool) -> NDArray:
    """Sum over n of eps_n c_n / (b (xi^2 + (n pi / b)^2)), (...), of xi (...) in 1/m.

    c_n is the value of cos(n pi y / b) at the other slot. On the same wall c_n = 1: coth(xi b) / xi. On
    opposite walls c_n = (-1)^n: 1 / (xi sinh(xi b)).
    """
    rest = -np.expm1(-2.0 * xi * b)
    return (2.0 * np.exp(-xi * b) if opposite else 2.0 - rest) / (xi * rest)


def sine_products(one: SlotAperture, two: SlotAperture, orders: NDArray) -> NDArray:
    """Integrals of s_p of one slot times s_q of the other, m, shape (P, P)."""
    low, high = _shared(one, two)
    g, dg = np.polynomial.legendre.leggauss(4 * int(max(orders)) + 20)
    z, dz = low + 0.5 * (high - low) * (g + 1.0), 0.5 * (high - low) * dg

    def basis(slot: SlotAperture) -> NDArray:
        kp = sine_wavenumbers(slot.length, orders)[:, None]
        return np.sin(kp * (z - slot.position + 0.5 * slot.length))

    return (basis(one) * dz) @ basis(two).T


def _shared(one: SlotAperture, two: SlotAperture) -> tuple[float, float]:
    return (
        max(s.position - 0.5 * s.length for s in (one, two)),
        min(s.position + 0.5 * s.length for s in (one, two)),
    )


def decaying_sine(
    slot: SlotAperture, orders: NDArray, gam: NDArray, low: float, high: float, from_top: bool
) -> NDArray:
    """Integral of s_p exp(-gamma distance) over low..high, the distance from one end.

    Antiderivative exp(-gamma (z - low)) [-gamma sin - k_p cos] / (gamma^2 + k_p^2), and its
    mirror image. Shape (P, modes).
    """
    kp = sine_wavenumbers(slot.length, orders)[:, None]
    sign = -1.0 if from_top else 1.0
    start = slot.position - 0.5 * slot.length

    def value(z: float) -> NDArray:
        return gam * np.sin(kp * (z - start)) + sign * kp * np.cos(kp * (z - start))

    here, there = (high, low) if from_top else (low, high)
    return (value(here) - np.exp(-gam * (high - low)) * value(there)) / (gam**2 + kp**2)


def end_reactions(
    one: SlotAperture, two: SlotAperture, orders: NDArray, gam: NDArray, weight: NDArray
) -> NDArray:
    """Sum over modes of weight <s_p, waves from the ends of slot two>.

    The convolution of s_q with exp(-gamma |z|) / (2 gamma) is
    s_q / (gamma^2 + k_q^2) + k_q [exp(-gamma (z - low)) + (-1)^(q+1) exp(-gamma (high - z))]
    / (2 gamma (gamma^2 + k_q^2)) over the slot, and a_q exp(-gamma distance) / (2 gamma) times
    the parity beyond it. The first term is left to `sine_products`; ``weight`` holds
    kc^2 / (2 gamma). Shape (P, P).
    """
    kq = sine_wavenumbers(two.length, orders)[:, None]
    upper = -((-1.0) ** np.asarray(orders)[:, None])
    low, high = two.position - 0.5 * two.length, two.position + 0.5 * two.length
    bottom, top = one.position - 0.5 * one.length, one.position + 0.5 * one.length
    first, last = _shared(one, two)
    base = kq / (gam**2 + kq**2)
    below = decaying_sine(one, orders, gam, first, last, False) * np.exp(-gam * (first - low))
    above = decaying_sine(one, orders, gam, first, last, True) * np.exp(-gam * (high - last))
    total = (below * weight) @ base.T + (above * weight) @ (upper * base).T
    outgoing = end_transform(gam, two.length, orders)
    if bottom < low:
        total += (decaying_sine(one, orders, gam, bottom, low, True) * weight) @ outgoing.T
    if top > high:
        total += (decaying_sine(one, orders, gam, high, top, False) * weight) @ (upper * outgoing).T
    return total


def end_values(one: SlotAperture, two: SlotAperture, orders: NDArray) -> NDArray:
    """k_q [s_p(low) + (-1)^(q+1) s_p(high)], the ends being those of slot two, 1/m.

    The limit of `end_reactions` for one mode of large gamma, times gamma^2 / (weight 2 gamma
    / kc^2): on either side of an end inside slot one, s_p / gamma remains. Shape (P, P).
    """
    kp = sine_wavenumbers(one.length, orders)
    kq = sine_wavenumbers(two.length, orders)
    upper = -((-1.0) ** np.asarray(orders))
    start = one.position - 0.5 * one.length

    def at(z: float) -> NDArray:
        return np.sin(kp * (z - start)) if 0.0 < z - start < one.length else 0.0 * kp

    return np.outer(at(two.position - 0.5 * two.length), kq) + np.outer(
        at(two.position + 0.5 * two.length), kq * upper
    )
