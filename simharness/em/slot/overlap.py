"""Coupling inside the guide of two slots that share a stretch of z (side by side, staggered).

Basis, sign conventions and the tested admittance: see ``slot_basis``.
"""

from __future__ import annotations

import numpy as np

from simharness.em.slot.basis import SlotAperture, end_transform, sine_wavenumbers


def sine_products(one: SlotAperture, two: SlotAperture, orders: np.ndarray) -> np.ndarray:
    """Return the integrals of s_p of one times s_q of two, m, shape (P, P)."""
    low, high = _shared(one, two)
    g, dg = np.polynomial.legendre.leggauss(4 * int(max(orders)) + 20)
    z, dz = low + 0.5 * (high - low) * (g + 1.0), 0.5 * (high - low) * dg

    def basis(slot):
        kp = sine_wavenumbers(slot.length, orders)[:, None]
        return np.sin(kp * (z - slot.position + 0.5 * slot.length))

    return (basis(one) * dz) @ basis(two).T


def _shared(one: SlotAperture, two: SlotAperture) -> tuple[float, float]:
    return (
        max(s.position - 0.5 * s.length for s in (one, two)),
        min(s.position + 0.5 * s.length for s in (one, two)),
    )


def faded_sine(
    slot: SlotAperture, orders: np.ndarray, gam: np.ndarray, low: float, high: float, from_top: bool
) -> np.ndarray:
    """Integral of s_p exp(-gamma distance) over low..high, the distance from one end.

    Antiderivative exp(-gamma (z - low)) [-gamma sin - k_p cos] / (gamma^2 + k_p^2), and its
    mirror image. Shape (P, modes).
    """
    kp = sine_wavenumbers(slot.length, orders)[:, None]
    sign = -1.0 if from_top else 1.0
    start = slot.position - 0.5 * slot.length

    def value(z):
        return gam * np.sin(kp * (z - start)) + sign * kp * np.cos(kp * (z - start))

    here, there = (high, low) if from_top else (low, high)
    return (value(here) - np.exp(-gam * (high - low)) * value(there)) / (gam**2 + kp**2)


def end_reactions(
    one: SlotAperture, two: SlotAperture, orders: np.ndarray, gam: np.ndarray, weight: np.ndarray
) -> np.ndarray:
    """Return sum over modes of weight <s_p, waves from the ends of slot two>.

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
    below = faded_sine(one, orders, gam, first, last, False) * np.exp(-gam * (first - low))
    above = faded_sine(one, orders, gam, first, last, True) * np.exp(-gam * (high - last))
    total = (below * weight) @ base.T + (above * weight) @ (upper * base).T
    outgoing = end_transform(gam, two.length, orders)
    if bottom < low:
        total += (faded_sine(one, orders, gam, bottom, low, True) * weight) @ outgoing.T
    if top > high:
        total += (faded_sine(one, orders, gam, high, top, False) * weight) @ (upper * outgoing).T
    return total


def end_values(one: SlotAperture, two: SlotAperture, orders: np.ndarray) -> np.ndarray:
    """Return k_q [s_p(low) + (-1)^(q+1) s_p(high)], the ends being those of slot two, 1/m.

    The limit of `end_reactions` for one mode of large gamma, times gamma^2 / (weight 2 gamma
    / kc^2): on either side of an end inside slot one, s_p / gamma remains. Shape (P, P).
    """
    kp = sine_wavenumbers(one.length, orders)
    kq = sine_wavenumbers(two.length, orders)
    upper = -((-1.0) ** np.asarray(orders))
    start = one.position - 0.5 * one.length

    def at(z):
        return np.sin(kp * (z - start)) if 0.0 < z - start < one.length else 0.0 * kp

    return np.outer(at(two.position - 0.5 * two.length), kq) + np.outer(
        at(two.position + 0.5 * two.length), kq * upper
    )
