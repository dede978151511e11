"""Modes of a round guide as a slot along its wall meets them, and what they replace in a rectangular one.

A slot along z is a magnetic current along z, which needs only the potential F_z with vanishing normal derivative at
the wall: modes J_n(p r/R) cos(n phi) and sin(n phi), p the zeros of J_n', as in the rectangular guide products of
cosines. A mode enters with 1 over the integral of its square, the value at the wall being 1,

    eps_n / (pi R^2 (1 - n^2/p^2)),     eps_0 = 1, else 2,

and with its mean over the slot, cos(n phi) or sin(n phi) times the transform of the field profile. High modes see a
flat wall, whichever guide it belongs to: the sums of the rectangular guide serve, and only modes of a cutoff below
that of `TOP` are exchanged, all but TE10, which stands for the TE11 that the probe sends (own derivation; held by
a sum over many more modes in `tests/unit/test_round_estimate.py`). TE11 turned by a right angle is among them: it
travels, couples the slots among each other, and does not see the probe.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import jnp_zeros

from simharness.em.guide.round import TE11_ROOT, slot_angle
from simharness.em.slot.basis import SlotAperture, profile_transform

TOP = 30.0
"""k_c R up to which modes are exchanged: what slots store then lies within 1e-3 of the limit."""

_ORDERS = np.arange(math.ceil(TOP))
"""The least zero of J_n' is above n."""

Modes = tuple[NDArray, NDArray, NDArray]
"""Square of the cutoff wavenumber (1/m2), weight (1/m2), place in the list of values at a slot."""


@lru_cache(maxsize=1)
def _zeros() -> NDArray:
    """(n, p): orders and zeros of J_n' below TOP, from zero for n = 0; all modes of both directions but the TE11 with sin."""
    found = [(0, 0.0)]
    for n in _ORDERS:
        found += [(n, p) for p in jnp_zeros(int(n), math.ceil(TOP / math.pi) + 1) if p < TOP]
    return np.array(found)


def round_modes(diameter: float) -> Modes:
    """Modes of a round guide but the TE11 with H_z ~ sin(phi); places count as in `values_at`, after those of the cosines.

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
    even, odd = order.astype(int), order.astype(int) + _ORDERS.size
    sine = order > 0
    sine[np.argmin(np.where(order == 1, zero, np.inf))] = False
    return np.append(kc2, kc2[sine]), np.append(weight, weight[sine]), np.append(even, odd[sine])


def values_at(slot: SlotAperture, cosines: NDArray, diameter: float, exponent: float) -> NDArray:
    """Mean over a slot of cos(m pi x/a), that of TE10 with the spread of TE11, then of cos(n phi), all n, and of sin(n phi).

    Parameters
    ----------
    cosines : array
        Those of the rectangular guide, m = 0 and up.
    """
    spread = profile_transform(_ORDERS * slot.width / diameter, exponent)
    flat = profile_transform(np.array([TE11_ROOT * slot.width / diameter]), exponent)
    te10 = cosines[1] * spread[1] / flat
    turn = _ORDERS * slot_angle(diameter, slot.offset)
    return np.concatenate([cosines[:1], te10, cosines[2:], np.cos(turn) * spread, np.sin(turn) * spread])


def swapped_modes(diameter: float, m: NDArray, n: NDArray, kc2: NDArray, weight: NDArray) -> Modes:
    """What makes a rectangular guide with modes (m, n) the round one: its own low modes taken off, those of the round one added.

    Places count on from the values of cos(m pi x/a), m = 0 and up, at a slot.
    """
    low = (kc2 < (2 * TOP / diameter) ** 2) & ~((m == 1) & (n == 0))
    own, strength, place = round_modes(diameter)
    return np.append(kc2[low], own), np.append(-weight[low], strength), np.append(m[low], place + m.max() + 1)
