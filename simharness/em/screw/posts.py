"""Screws that stand on the back wall of a rectangular guide, by the method of moments.

The current along a screw is that of a probe without its coax (`simharness.em.probe.wire`): constant and
cosines, even about its wall, the charge of its tip on a flat end. Besides the current that is alike all
around, the field across a screw induces one that is odd about its axis; it acts as a magnetic dipole

    m = -V H / (1 - N),

V the volume of the screw and N the transverse demagnetizing factor of the cylinder that it makes with its
image in the wall: N = (1 - N_axial) / 2, N_axial = 1 / (1 + 4 n / sqrt(pi)) for a length of n diameters
(M. Sato, Y. Ishii, J. Appl. Phys. 66 (1989) 983, from memory), 0 for a post from wall to wall, where
-2 pi r^2 per length is exact in a uniform field. Along x it is in series with TE10, along z in shunt.

With unknowns c (of the currents, A; minus the magnetic current moments, V m) and all sources

    Z c = w a + T V,   u = -(w c + h V) / 2,

w the fields of unit TE10 waves tested on the screws, V the voltages of slots and h their tested H_z
(`simharness.em.slot.moment`), T the field of slots on screws, which by reciprocity is the tested H_z of
screws on slots. Z of a screw alone holds all modes; TE10 of other screws and of shorts is added from w.
All modes act from screw to slot and from screw to screw by the currents, from the dipoles TE10 alone. Own
derivation; signs and factors are checked by power balance, reciprocity and limits.

A screw that is less deep than half as wide is hardly a wire: its little susceptance, most of it from the rim
of its tip, may be off by a third.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import i0, j0

from simharness.constants import ETA0
from simharness.em.probe.wire import spectra, wire_impedance
from simharness.em.slot.basis import Screw, SlottedGuide, te10_phase_constant

COUNT = 6
"""Basis functions of the current along a screw."""

_ACROSS = 600
"""Modes across the guide between two screws: beyond them the static sum holds."""


class Posts:
    """All screws of a guide, which can be asked at any wavenumber.

    Parameters
    ----------
    guide : SlottedGuide
        With at least one screw.
    """

    def __init__(self, guide: SlottedGuide):
        self.guide, self.screws = guide, guide.screws
        self.place = np.repeat([s.position for s in self.screws], COUNT + 2)

    def spectrum(self, index: int, most: int) -> NDArray:
        """P (COUNT, most) of the currents along one screw, m: integrals of the basis times cos(n pi y/b)."""
        return spectra(np.arange(most) * math.pi / self.guide.b, self.screws[index].depth, COUNT)[0]

    def _alone(self, index: int, k: float) -> NDArray:
        """Z (COUNT, COUNT) of the currents of one screw, TE10 matched both ways."""
        guide, screw = self.guide, self.screws[index]
        near = math.inf if guide.near_short is None else screw.position - guide.near_short
        far = math.inf if guide.far_short is None else guide.far_short - screw.position
        size = guide.a, guide.b, screw.offset, screw.depth, screw.diameter
        return wire_impedance(*size, np.array([k]), near, far, COUNT)[0]

    def waves(self, k: complex) -> tuple[NDArray, NDArray]:
        """Fields of unit TE10 waves to +z and to -z tested on all unknowns, each (S (COUNT + 2),); phase zero
        at z = 0."""
        guide, beta = self.guide, te10_phase_constant(k, self.guide.a)
        e0 = np.sqrt(2.0 * k * ETA0 / (guide.a * guide.b * beta))
        plus, minus = [], []
        for i, screw in enumerate(self.screws):
            angle = math.pi * screw.offset / guide.a
            around = j0(np.real(k) * screw.diameter / 2)
            current = e0 * math.cos(angle) * around * self.spectrum(i, 1)[:, 0]
            across = e0 * beta / (k * ETA0) * math.cos(angle)
            along = -1j * e0 * math.pi / (guide.a * k * ETA0) * math.sin(angle)
            turn = np.exp(-1j * beta * screw.position)
            plus.append(np.append(current, [-across, along]) * turn)
            minus.append(np.append(current, [across, along]) / turn)
        return np.concatenate(plus), np.concatenate(minus)

    def tested(self, k: complex, end: float) -> tuple[NDArray, NDArray]:
        """As `waves`, of the screws below z = end alone."""
        plus, minus = (np.where(self.place < end, wave, 0.0) for wave in self.waves(k))
        return plus, minus

    def impedance(self, k: complex) -> NDArray:
        """Z of all unknowns, symmetric, shape (S (COUNT + 2), S (COUNT + 2))."""
        plus, minus = self.waves(k)
        size = COUNT + 2
        straight = 0.5 * np.outer(plus, minus)
        # TE10 between screws: the later one sees what travels to +z
        later = np.sign(self.place[:, None] - self.place)
        matrix = 0.5 * ((1 + later) * straight + (1 - later) * straight.T)
        matrix += returned(self.guide, k, (plus, minus), (plus, minus))
        for i, screw in enumerate(self.screws):
            here = slice(i * size, i * size + COUNT)
            alone = self._alone(i, float(np.real(k)))
            # it holds TE10, matched both ways, already
            matrix[here, here] += alone - straight[here, here]
            for axis in (COUNT, COUNT + 1):
                at = i * size + axis
                matrix[at, at] -= 1j / (np.real(k) * ETA0 * _polarizability(screw, self.guide.b))
            for j in range(i):
                there = slice(j * size, j * size + COUNT)
                block = self._evanescent(i, j, float(np.real(k)))
                matrix[here, there] += block
                matrix[there, here] += block.T
        return matrix

    def _evanescent(self, i: int, j: int, k: float) -> NDArray:
        """Z between the currents of two screws without TE10, (COUNT, COUNT), ohm.

        A_y and the charges by harmonics along y, as for one wire; P of the tested and of the source, the
        slopes' sines S with the tips' charge, around both wires by Graf's addition theorem.
        """
        guide, one, two = self.guide, self.screws[i], self.screws[j]
        apart = math.hypot(one.position - two.position, one.offset - two.offset)
        radii = 0.5 * one.diameter, 0.5 * two.diameter
        most = min(40, 2 + math.ceil(25.0 * guide.b / (math.pi * max(apart - sum(radii), 0.02 * guide.b))))
        n = np.arange(most)
        ky = n * math.pi / guide.b
        square = ky**2 - k**2
        distances = [(abs(one.position - two.position), 1.0)]
        if guide.near_short is not None:
            distances.append((one.position + two.position - 2.0 * guide.near_short, -1.0))
        if guide.far_short is not None:
            distances.append((2.0 * guide.far_short - one.position - two.position, -1.0))
        sizes = guide.a, one.offset, two.offset
        green = sum(sign * _between(*sizes, distance, square) for distance, sign in distances)
        rate = np.sqrt(np.abs(square))
        around = np.where(
            n > 0, i0(rate * radii[0]) * i0(rate * radii[1]), j0(k * radii[0]) * j0(k * radii[1])
        )
        green = green * around * np.where(n > 0, 2.0, 1.0)
        p, q = self.spectrum(i, most), self.spectrum(j, most)
        # the charge and its potential: integrals of -slope sin(ky y) are ky P
        product = (p * (green * (1.0 - ky**2 / k**2))) @ q.T
        return 1j * k * ETA0 / guide.b * product


def _polarizability(screw: Screw, b: float) -> float:
    """|m / H| across a screw on its wall, m^3."""
    volume = math.pi / 4 * screw.diameter**2 * screw.depth
    slender = 4.0 * 2.0 * screw.depth / (screw.diameter * math.sqrt(math.pi))
    axial = 0.0 if screw.depth >= b else 1.0 / (1.0 + slender)
    return volume / (1.0 - (1.0 - axial) / 2)


def returned(
    guide: SlottedGuide, k: complex, seen: tuple[NDArray, NDArray], sources: tuple[NDArray, NDArray]
) -> NDArray:
    """What shorts send back of TE10: minus the field of unit sources tested elsewhere, (n, m).

    Parameters
    ----------
    seen, sources : pairs of (n,) and (m,) arrays
        Tested fields of unit waves to +z and to -z.
    """
    beta = te10_phase_constant(k, guide.a)
    low = 0.0 if guide.near_short is None else -np.exp(2j * beta * guide.near_short)
    high = 0.0 if guide.far_short is None else -np.exp(-2j * beta * guide.far_short)
    (plus, minus), (launched_up, launched_down) = seen, (sources[1], sources[0])
    upward = low * (launched_down + high * launched_up)
    downward = high * (launched_up + low * launched_down)
    return 0.5 * (np.outer(plus, upward) + np.outer(minus, downward)) / (1.0 - low * high)


def _between(a: float, one: float, two: float, distance: float, square: NDArray) -> NDArray:
    """Green's function of each harmonic (n,) between two lines of current in the guide, without TE10.

    Sum over m of sin sin exp(-Gamma z) / (a Gamma), the static sum in closed form.
    """
    m = np.arange(1, _ACROSS + 1)
    rate = m * math.pi / a
    u, v = (math.pi * (x / a + 0.5) for x in (one, two))
    shape = np.sin(m * u) * np.sin(m * v)
    gamma = np.sqrt(np.maximum(rate**2 + square[:, None], 0.0))
    gamma[0, 0] = math.inf
    static = np.exp(-rate * distance) / rate
    t = math.exp(-math.pi * distance / a)
    closed = np.log((1 - 2 * t * math.cos(u + v) + t**2) / (1 - 2 * t * math.cos(u - v) + t**2)) / (
        4 * math.pi
    )
    with np.errstate(invalid="ignore"):
        waves = np.where(np.isinf(gamma), 0.0, np.exp(-gamma * distance) / gamma)
    return (shape * (waves - static)).sum(axis=1) / a + closed
