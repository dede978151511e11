"""A slotted guide with screws in its back wall: what they add to the model of its slots.

Formulas: `simharness.em.screw.posts`.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, TWO_PI
from simharness.em.screw.posts import COUNT, Posts, returned
from simharness.em.slot.basis import MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.guide_sums import decaying_sine
from simharness.em.slot.moment import SlotMoment, lossy_wavenumber
from simharness.em.slot.ports import port_terms, te10_coupling


def slot_model(guide: SlottedGuide, basis: MomentBasis = MomentBasis()) -> SlotMoment:
    """The model of a slotted guide, with screws or without."""
    return ScrewedMoment(guide, basis) if guide.screws else SlotMoment(guide, basis)


def screwed_guide(guide: SlottedGuide, frequency: NDArray) -> NDArray:
    """Scattering matrix (f, ports, ports) of a guide with screws and without slots, each end matched or
    shorted.

    Parameters
    ----------
    guide : SlottedGuide
        Without a feed.
    frequency : (f,) array
        Hz, between the cutoffs of TE10 and the next mode.
    """
    posts, found = Posts(guide), []
    for f in frequency:
        k = lossy_wavenumber(guide, TWO_PI * f / C0)
        on_posts, s_matrix = port_terms(guide, partial(posts.tested, k), k)
        found.append(s_matrix - 0.5 * on_posts.T @ np.linalg.solve(posts.impedance(k), on_posts))
    return np.stack(found)


class ScrewedMoment(SlotMoment):
    """A slotted guide with screws; parameters and methods are those of `SlotMoment`."""

    knows_screws = True

    def __init__(self, guide: SlottedGuide, basis: MomentBasis = MomentBasis()):
        super().__init__(guide, basis)
        self.posts = Posts(guide)

    def _within(self, k: complex) -> tuple[NDArray, NDArray, NDArray]:
        y_in, drive, s_matrix = super()._within(k)
        on_posts = port_terms(self.guide, partial(self.posts.tested, k), k)[0]
        impedance, coupling = self.posts.impedance(k), self._coupling(k)
        solved = np.linalg.solve(impedance, np.concatenate([coupling.T, on_posts], axis=1))
        from_slots, from_ports = np.split(solved, [drive.shape[0]], axis=1)
        return (
            y_in + coupling @ from_slots,
            drive + coupling @ from_ports,
            s_matrix - 0.5 * on_posts.T @ from_ports,
        )

    def _coupling(self, k: complex) -> NDArray:
        """Tested H_z on the slots of the unknowns of the screws, (N P, S (COUNT + 2))."""
        inside, posts = self.inside, self.posts
        if not inside.slots:
            return np.zeros((0, posts.place.size), dtype=complex)
        plus, minus = te10_coupling(inside, k)
        waves = posts.waves(k)
        found = returned(self.guide, k, (plus, minus), waves)
        for i, screw in enumerate(posts.screws):
            below = te10_coupling(inside, k, screw.position)
            for at in range(i * (COUNT + 2), (i + 1) * (COUNT + 2)):
                found[:, at] += 0.5 * ((plus - below[0]) * waves[1][at] + below[1] * waves[0][at])
        found = -found
        count = len(self.basis.orders)
        for i in range(len(posts.screws)):
            columns = slice(i * (COUNT + 2), i * (COUNT + 2) + COUNT)
            for j, slot in enumerate(inside.slots):
                found[j * count : (j + 1) * count, columns] += self._evanescent(i, j, slot, k)
        return found

    def _evanescent(self, i: int, j: int, slot: SlotAperture, k: complex) -> NDArray:
        """Tested H_z of the currents of a screw on a slot by all modes but TE10, (P, COUNT).

        H_z = d A_y / dx; the higher harmonics as of a line of current on the axis.
        """
        guide, screw = self.guide, self.posts.screws[i]
        m, n = np.arange(1, self.basis.modes[0] + 1), np.arange(self.basis.modes[1] + 1)
        kx, ky = m[:, None] * np.pi / guide.a, n * np.pi / guide.b
        gamma = np.sqrt(kx**2 + ky**2 - k**2 + 0j)
        sign = (-1.0) ** n if slot.face == "front" else np.ones(n.size)
        across = (
            kx * np.sin(kx * (screw.offset + 0.5 * guide.a)) * self.inside.x_factor[j][1 : m.size + 1, None]
        )
        weight = across * np.where(n > 0, 4.0, 2.0) * sign / (guide.a * guide.b) / (2.0 * gamma)
        weight[0, 0] = 0.0
        places = [(screw.position, 1.0)]
        if guide.near_short is not None:
            places.append((2.0 * guide.near_short - screw.position, -1.0))
        if guide.far_short is not None:
            places.append((2.0 * guide.far_short - screw.position, -1.0))
        reaction = np.zeros((len(self.basis.orders), m.size, n.size), dtype=complex)
        for place, turn in places:
            gap = max(abs(place - slot.position) - 0.5 * slot.length, 0.0)
            few = gamma.real * gap < 30.0
            reaction[:, few] += turn * _from_line(slot, self.inside.orders, gamma[few], place)
        return np.einsum("pmn,mn,qn->pq", reaction, weight, self.posts.spectrum(i, n.size))


def _from_line(slot: SlotAperture, orders: NDArray, gamma: NDArray, place: float) -> NDArray:
    """Integral of s_p exp(-gamma |z - place|) over a slot, m, shape (P, modes)."""
    low, high = slot.position - 0.5 * slot.length, slot.position + 0.5 * slot.length
    total = np.zeros((len(orders), gamma.size), dtype=complex)
    if place > low:
        top = min(place, high)
        total += decaying_sine(slot, orders, gamma, low, top, True) * np.exp(-gamma * (place - top))
    if place < high:
        bottom = max(place, low)
        total += decaying_sine(slot, orders, gamma, bottom, high, False) * np.exp(-gamma * (bottom - place))
    return total
