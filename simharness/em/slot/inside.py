"""Slots seen from inside a rectangular guide: admittance matrix over all modes.

Basis, sign conventions and the tested admittance: see `simharness.em.slot.basis`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import gamma

from simharness.constants import ETA0
from simharness.em.slot.basis import (
    SlotAperture,
    end_transform,
    profile_transform,
    sine_wavenumbers,
)
from simharness.em.slot.guide_sums import (
    boundary_sum,
    end_reactions,
    end_values,
    height_sum,
    sine_products,
)
from simharness.em.slot.round_guide import replaced_modes, values_at


class GuideSide:
    """Slots seen from inside a rectangular guide, all modes, with optional shorts.

    Green's function of the guide (infinite, or with H_z = 0 on shorts): G = sum_mn eps_m eps_n / (a b)
    cos_m(x) cos_m(x') g(z, z'), g = exp(-gamma |z - z'|) / (2 gamma) plus images, gamma^2 = (m pi/a)^2 + (n
    pi/b)^2 - k^2. The integrals over z are closed forms. The self term splits into a part proportional to
    delta_pq whose sum over n is a coth, and a part from the slot ends that falls as kc^-3; above ``modes``
    the sums use k = 0 and closed forms. Between slots in opposite broad walls every mode carries the sign
    (-1)^n. In a guide that stands for a round one the low modes except TE10 are replaced by those of the
    round guide (`simharness.em.slot.round_guide`).

    Parameters
    ----------
    a, b : float
        Inner width and height, m.
    slots : sequence of SlotAperture
        In order of position.
    orders : ndarray of int, shape (P,)
        Orders of the sine functions in each slot.
    exponent : float
        Profile exponent.
    near_short, far_short : float or None
        z of shorting planes, m.
    modes : tuple of int
        Numbers of modes (m, n) treated at the true frequency.
    diameter : float or None
        Inner diameter of the round guide that this one stands for, m.
    """

    def __init__(
        self,
        a: float,
        b: float,
        slots: Sequence[SlotAperture],
        orders: NDArray,
        exponent: float,
        near_short: float | None = None,
        far_short: float | None = None,
        modes: tuple[int, int] = (60, 40),
        diameter: float | None = None,
    ):
        self.a, self.b, self.slots = a, b, slots
        self.orders, self.count = np.asarray(orders), len(orders)
        self.near_short, self.far_short = near_short, far_short
        self.spans = [(s.position - 0.5 * s.length, s.position + 0.5 * s.length) for s in slots]
        self.m_max, self.n_max = modes
        m, n = (
            line.ravel()
            for line in np.meshgrid(np.arange(modes[0] + 1), np.arange(modes[1] + 1), indexing="ij")
        )
        kc2 = (m * np.pi / a) ** 2 + (n * np.pi / b) ** 2
        weight = np.where(m > 0, 2.0, 1.0) * np.where(n > 0, 2.0, 1.0) / (a * b)
        self.x_factor = [_across(a, s, np.arange(modes[0] + 1), exponent) for s in slots]
        self.replaced = None
        if diameter is not None:
            self.replaced = replaced_modes(diameter, m, n, kc2, weight)
            self.x_factor = [values_at(s, x, diameter, exponent) for s, x in zip(slots, self.x_factor)]
            kc2, weight, m = (np.append(*pair) for pair in zip((kc2, weight, m), self.replaced))
            n = np.append(n, np.zeros(kc2.size - n.size, dtype=int))
        order = np.argsort(kc2, kind="stable")
        order = order[kc2[order] > 0]  # no end part without a cutoff
        self.kc2, self.weight = kc2[order], weight[order]
        self.place_of_mode, self.sign_of_mode = m[order], (-1.0) ** n[order]
        sizes = a, b, modes, tuple(int(p) for p in orders), exponent
        first: dict[tuple, SlotAperture] = {}
        for s in slots:
            first.setdefault((abs(s.offset), s.length, s.width), replace(s, position=0.0, face="front"))
        self.tails = [_static_tails(first[abs(s.offset), s.length, s.width], *sizes) for s in slots]
        self.overlaps = {
            (i, j): self._static_overlap(slots[i], slots[j], exponent)
            for j in range(len(slots))
            for i in range(j)
            if self.spans[j][0] < self.spans[i][1]
        }

    def _static_overlap(
        self, one: SlotAperture, two: SlotAperture, exponent: float
    ) -> tuple[NDArray, NDArray, NDArray]:
        """Sine products of two slots and the high-mode part of their common sum."""
        opposite = one.face != two.face
        m = np.arange(self.m_max + 1, _top_mode(self.a, min(one.width, two.width), self.m_max) + 1)
        kq = sine_wavenumbers(two.length, self.orders)[:, None]
        xx = 2.0 * _across(self.a, one, m, exponent) * _across(self.a, two, m, exponent)
        kx = m * np.pi / self.a
        tail = (xx * height_sum(np.sqrt(kx**2 + kq**2), self.b, opposite)).sum(axis=1) / self.a
        # high modes of the waves from the ends of two: kq s_p(end) / kc^2, k = 0
        kx_low = np.arange(1, self.m_max + 1) * np.pi / self.a
        n = np.arange(1, self.n_max + 1)
        eta2, sign = (n * np.pi / self.b) ** 2, (-1.0) ** n if opposite else np.ones(n.size)
        finite = 1.0 / kx_low**2 + 2.0 * (sign / (kx_low[:, None] ** 2 + eta2)).sum(axis=1)
        rest = self.b * height_sum(kx_low, self.b, opposite) - finite
        everything = self.b**2 * (-1.0 / 6.0 if opposite else 1.0 / 3.0)  # 2 sum sign / eta^2
        rests = np.concatenate([[everything - 2.0 * (sign / eta2).sum()], 2.0 * rest])
        low = np.arange(self.m_max + 1)
        pair = _across(self.a, one, low, exponent) * _across(self.a, two, low, exponent)
        high = ((pair * rests).sum() + (xx * height_sum(kx, self.b, opposite)).sum() * self.b) / (
            self.a * self.b
        )
        return (sine_products(one, two, self.orders), tail, high * end_values(one, two, self.orders))

    def _overlap_block(self, i: int, j: int, k: complex, gam: NDArray, weight: NDArray) -> NDArray:
        """Block (i, j) of two slots whose ranges of z overlap, as in the self term."""
        one, two = self.slots[i], self.slots[j]
        products, tail, ends = self.overlaps[i, j]
        kq = sine_wavenumbers(two.length, self.orders)
        return (
            products * ((k**2 - kq**2) * (self._low_sum(i, j, k, kq) + tail))
            + ends
            + end_reactions(one, two, self.orders, gam, weight)
        )

    def _low_sum(self, i: int, j: int, k: complex, kq: NDArray) -> NDArray:
        """Coupling of a field sin(kq z) in slot j to slot i by modes up to m_max, all n, shape (P,)."""
        low = np.arange(self.m_max + 1)
        xi = np.sqrt((low * np.pi / self.a) ** 2 + kq[:, None] ** 2 - k**2 + 0j)
        xx = self.x_factor[i] * self.x_factor[j]
        opposite = self.slots[i].face != self.slots[j].face
        sums = (np.where(low > 0, 2.0, 1.0) * xx[low] * height_sum(xi, self.b, opposite)).sum(axis=1) / self.a
        if self.replaced is not None:
            kc2, weight, place = self.replaced
            sums = sums + (weight * xx[place] / (kc2 + kq[:, None] ** 2 - k**2)).sum(axis=1)
        return sums

    def _self_block(self, index: int, k: complex, gam: NDArray, base: NDArray, once: NDArray) -> NDArray:
        """Block of a slot with itself; `base` (P, modes) and `once` (modes,): see `_of_length`."""
        slot = self.slots[index]
        kp = sine_wavenumbers(slot.length, self.orders)
        tail_d, tail_e = self.tails[index]
        block = np.diag((k**2 - kp**2) * 0.5 * slot.length * (self._low_sum(index, index, k, kp) + tail_d))
        weight = self.weight * self.x_factor[index][self.place_of_mode] ** 2 * self.kc2 / gam
        ends = tail_e + 0j
        for parity, sign in ((0, -1.0), (1, 1.0)):
            some = np.flatnonzero(self.orders % 2 == parity)
            factor = weight * (1.0 + sign * once)
            ends[np.ix_(some, some)] += (base[some] * factor) @ base[some].T
        same = (self.orders[:, None] + self.orders) % 2 == 0
        return block + np.where(same, ends, 0.0)

    def _of_length(self, length: float, gam: NDArray) -> tuple[NDArray, NDArray]:
        """k_p / (gamma^2 + k_p^2), (P, modes), and the decay exp(-gamma L) from end to end."""
        kp = sine_wavenumbers(length, self.orders)
        return kp[:, None] / (gam**2 + kp[:, None] ** 2), np.exp(-gam * length)

    def _paths(self, i: int, j: int) -> list[tuple[bool, bool, float, float]]:
        """Paths between slots i <= j: from the upper end of i?, to that of j?, distance, sign.

        Slots apart in z: g factorises, <s_p, g s_q> = exp(-gamma d) (-1)^(p+1) a_p
        a_q / (2 gamma), d the gap between their ends, p in the lower slot. A short
        reverses the sign of the image of a z-directed magnetic current. Two shorts D
        apart: g = sinh(gamma z<) sinh(gamma (D - z>)) / (gamma sinh(gamma D)); minus
        the free term it is [-exp(-gamma (z + z')) - exp(-gamma (2D - z - z')) +
        exp(-2 gamma D) 2 cosh(gamma (z - z'))] / (2 gamma (1 - exp(-2 gamma D))).
        """
        (lo_i, hi_i), (lo_j, hi_j) = self.spans[i], self.spans[j]
        near, far = self.near_short, self.far_short
        paths = [(True, False, lo_j - hi_i, 1.0)] if j > i and lo_j >= hi_i else []
        if near is not None:
            paths.append((False, False, lo_i + lo_j - 2.0 * near, -1.0))
        if far is not None:
            paths.append((True, True, 2.0 * far - hi_i - hi_j, -1.0))
        if near is not None and far is not None:
            span = 2.0 * (far - near)
            paths.append((False, True, span + lo_i - hi_j, 1.0))
            paths.append((True, False, span + lo_j - hi_i, 1.0))
        return paths

    def _coupled_block(
        self,
        i: int,
        j: int,
        k: complex,
        gam: NDArray,
        ends: list[tuple[NDArray, NDArray]],
        strength: NDArray,
        trips: NDArray,
    ) -> NDArray:
        """Block (i, j) without the self term of the infinite guide."""
        block = np.zeros((self.count, self.count), dtype=complex)
        across = (self.x_factor[i] * self.x_factor[j])[self.place_of_mode]
        if self.slots[i].face != self.slots[j].face:
            across = across * self.sign_of_mode
        paths = self._paths(i, j)
        direct = j > i and (i, j) not in self.overlaps
        if j > i and not direct:
            block += self._overlap_block(i, j, k, gam, strength * across)
        for number, (top_i, top_j, distance, sign) in enumerate(paths):
            # exp(-30): modes that have decayed on the way; a few are kept in any case
            few = slice(0, max(4, int(np.searchsorted(gam.real * distance, 30.0))))
            weight = sign * strength[few] * across[few] * np.exp(-gam[few] * distance)
            if number > 0 or not direct:
                weight = weight * trips[few]
            block += (ends[i][int(top_i)][:, few] * weight) @ ends[j][int(top_j)][:, few].T
        return block

    def admittance(self, k: complex) -> NDArray:
        """Admittance matrix of the guide side, S, shape (N P, N P), slot-major; k in 1/m.

        Between different places k^2 + d^2/dz^2 becomes k^2 + gamma^2 = kc^2.
        """
        count = self.count
        gam = np.sqrt(self.kc2 - k**2 + 0j)
        upper = -((-1.0) ** self.orders[:, None])
        lower = {length: end_transform(gam, length, self.orders) for length in {s.length for s in self.slots}}
        ends = [(lower[s.length], upper * lower[s.length]) for s in self.slots]
        alone = {s.length: self._of_length(s.length, gam) for s in self.slots}
        strength = self.weight * self.kc2 / (2.0 * gam)
        trips = np.ones(gam.size)
        if self.near_short is not None and self.far_short is not None:
            trips = 1.0 / (1.0 - np.exp(-2.0 * gam * (self.far_short - self.near_short)))
        size = len(self.slots) * count
        matrix = np.zeros((size, size), dtype=complex)
        for i in range(len(self.slots)):
            rows = slice(i * count, (i + 1) * count)
            matrix[rows, rows] = self._self_block(i, k, gam, *alone[self.slots[i].length])
            for j in range(i, len(self.slots)):
                cols = slice(j * count, (j + 1) * count)
                block = self._coupled_block(i, j, k, gam, ends, strength, trips)
                matrix[rows, cols] += block
                if j > i:
                    matrix[cols, rows] = block.T
        return matrix * 1j / (k * ETA0)


def _across(a: float, slot: SlotAperture, m: NDArray, exponent: float) -> NDArray:
    """Integral of f(x) cos(m pi (x + a/2) / a) over the slot, shape (m,)."""
    kx = m * np.pi / a
    centre = np.cos(kx * (slot.offset + 0.5 * a))
    return centre * profile_transform(0.5 * kx * slot.width, exponent)


def _top_mode(a: float, width: float, least: int) -> int:
    """Highest m of the static sums: m pi w / 2a = 400."""
    return max(int(800.0 * a / (np.pi * width)), 2 * least)


@lru_cache(maxsize=256)
def _static_tails(
    slot: SlotAperture, a: float, b: float, modes: tuple[int, int], orders: tuple[int, ...], exponent: float
) -> tuple[NDArray, NDArray]:
    """Sums over the high modes at k = 0: (P,) diagonal and (P, P) end part.

    They are kept: of a guide that is changed step by step most slots stay as they are.
    """
    kp = sine_wavenumbers(slot.length, np.array(orders))
    m = np.arange(modes[0] + 1, _top_mode(a, slot.width, modes[0]) + 1)
    kx = m * np.pi / a
    x2 = 2.0 * _across(a, slot, m, exponent) ** 2
    diagonal = (x2 / np.sqrt(kx**2 + kp[:, None] ** 2)).sum(axis=1)
    # beyond: cos^2 -> 1/2 and the mean of the squared Bessel function
    last = (m[-1] + 0.5) * np.pi / a * 0.5 * slot.width
    power = 2.0 * exponent + 2.0
    mean = gamma(exponent + 1.5) ** 2 * 2.0 ** (power - 1.0) / np.pi
    diagonal += a / np.pi * mean * last**-power / power
    ends = (x2 * boundary_sum(kx, kp)).sum(axis=2) * b / np.pi
    low = np.arange(modes[0] + 1)
    kx = low * np.pi / a
    eta = (modes[1] + 0.5) * np.pi / b
    # n > n_max: midpoint rule for the sum of 2 / (kx^2 + (n pi/b)^2)^(3/2)
    with np.errstate(invalid="ignore", divide="ignore"):
        rest = (1.0 - eta / np.hypot(eta, kx)) / kx**2
    rest[0] = 0.5 / eta**2
    eps = np.where(low > 0, 2.0, 1.0)
    x2 = eps * _across(a, slot, low, exponent) ** 2
    ends = ends + (x2 * rest).sum() * 2.0 * b / np.pi
    kept = diagonal / a, ends * np.outer(kp, kp) / (a * b)
    for part in kept:
        part.setflags(write=False)
    return kept
