"""Moment-method model of longitudinal slots in the broad walls of a rectangular guide.

Rectangular slots in one or both broad walls, perfect metal, walls of finite thickness, a half space over an
infinite plane outside each wall, all guide modes inside. The kernels are in `basis`, `inside`, `outside` and
`faces` beside this module. Continuity of H_z on the inner aperture, tested with the basis (Galerkin):

    Y_guide e_in + h_in = -H_inc,   e_in = A e_out + Z h_out,
    h_in = S e_out + A h_out,       h_out = Y_out e_out,

so that the outer-aperture voltages solve
[Y_guide (A + Z Y_out) + S + A Y_out] e_out = -H_inc.
The scattered TE10 waves follow from the TE10 term of the guide Green's function:
to -z: -1/2 sum V g+, to +z: -1/2 sum V g-, with g the tested H_z of unit waves.
Wall loss is a complex wavenumber inside the guide, which gives TE10 its attenuation by the power-loss method.
For a dielectric on the outside, with or without loss, see `superstrate`.

Neglected: E_z in the aperture, the finite size of the plane, loss in the slots, and the effect on an
aperture of the field normal to the wall and of H_x. Wide slots show the last: the field solver has a series
reactance of 0.005 of the guide's impedance on either side of a slot a fifth as wide as long, and resonant
lengths 0.1 to 0.7 % shorter, conductances 2 to 4 % higher at widths of 0.15 to 0.2 of the length.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, TWO_PI
from simharness.em.guide.rectangular import attenuation
from simharness.em.slot.basis import (
    EDGE_FOIL,
    MomentBasis,
    SlottedGuide,
    off_poles,
    te10_phase_constant,
)
from simharness.em.slot.faces import OuterSides
from simharness.em.slot.inside import GuideSide
from simharness.em.slot.outside import wall_admittances, wall_chain
from simharness.em.slot.ports import port_terms, te10_coupling
from simharness.errors import InputError
from simharness.numerics.rational import adaptive_sweep


@dataclass(frozen=True)
class SlotResponse:
    """Response of a slotted guide; ports in the order near, far.

    Attributes
    ----------
    frequency : (F,) array
        Hz.
    s : (F, ports, ports) complex array
        Scattering matrix at the reference planes, referred to the TE10 impedance.
    outer, inner : (F, ports, N, P) complex arrays
        V. Coefficients V_p of the apertures for a wave of unit amplitude (0.5 W, peak
        phasors) into each port, phase zero at its reference plane or feed.
    radiated : (F, ports) array
        Radiated power over incident power.
    orders : tuple of int
        The sine orders p.
    sampled : int
        Number of exact solutions behind the F frequencies.
    error : float
        Largest error found in ``s`` and in ``outer`` over its peak; 0 if all exact.
    """

    frequency: NDArray
    s: NDArray
    outer: NDArray
    inner: NDArray
    radiated: NDArray
    orders: tuple[int, ...]
    sampled: int
    error: float = 0.0

    def slot_voltages(self) -> NDArray:
        """Voltage of the half sine with the same broadside moment, V, shape (F, ports, N).

        (pi / 2L) integral V(z) dz = sum over odd p of V_p / p on the outer aperture.
        """
        p = np.array(self.orders)
        return (self.outer * np.where(p % 2, 1.0 / p, 0.0)).sum(axis=-1)


def lossy_wavenumber(guide: SlottedGuide, k: float) -> complex:
    """Wavenumber inside with k^2 - (pi/a)^2 = (beta - j alpha)^2 to first order, 1/m."""
    if guide.conductivity == np.inf:
        return k
    beta = te10_phase_constant(k, guide.a)
    alpha = attenuation(guide.a, guide.b, k * C0 / TWO_PI, guide.conductivity)
    return complex(np.sqrt(k**2 - 2j * alpha * beta))


class SlotMoment:
    """Operators of one slotted guide, which can be solved at any frequency.

    Parameters
    ----------
    guide : SlottedGuide
    basis : MomentBasis
    """

    knows_screws = False

    def __init__(self, guide: SlottedGuide, basis: MomentBasis = MomentBasis()):
        if guide.superstrate is not None and guide.wall == 0.0:
            basis = replace(basis, exponent=EDGE_FOIL)
        if guide.screws and not self.knows_screws:
            raise InputError("screws", len(guide.screws), "only a model of slots and screws may have them")
        self.guide, self.basis = guide, basis
        orders = np.array(basis.orders)
        self.inside = GuideSide(
            guide.a,
            guide.b,
            guide.slots,
            orders,
            basis.exponent,
            guide.near_short,
            guide.far_short,
            basis.modes,
            guide.diameter,
        )
        self.outside = OuterSides(guide.slots, orders, basis.exponent, guide.superstrate, guide.tube)

    def _wavenumber(self, frequency: float) -> float:
        """Wavenumber, 1/m, clear of removable singularities; other modes than TE10 are refused."""
        guide, k = self.guide, TWO_PI * frequency / C0
        ka = k * guide.a / np.pi
        if not 1.0 < ka < min(2.0, guide.a / guide.b):
            raise InputError("frequency", frequency, "only TE10 may travel in the guide")
        lengths = [s.length for s in guide.slots]
        k = off_poles(k, guide.a, lengths, np.array(self.basis.orders))
        if guide.feed is not None and guide.near_short is not None and guide.far_short is not None:
            span = guide.far_short - guide.near_short
            while abs(np.sin(te10_phase_constant(k, guide.a) * span)) < 1e-6:
                k *= 1.0 + 1e-6
        return k

    def _apertures(self, k: float, y_in: NDArray, y_out: NDArray, drive: NDArray) -> tuple[NDArray, NDArray]:
        """Outer and inner coefficients, shape (N P, ports), for the tested H_z of the ports.

        The chain matrix loses digits for a wall in which the highest order decays by more than exp(-7), the
        admittances for a vanishing wall: e_out = (Y_out + Y11)^-1 Y12 e_in and
        [Y_guide + Y11 - Y12 (Y_out + Y11)^-1 Y12] e_in = -H_inc.
        """
        guide, orders = self.guide, np.array(self.basis.orders)
        fastest = max(orders) * np.pi / min(s.length for s in guide.slots)
        walls = [guide.thickness(s) for s in guide.slots]
        passage = wall_admittances if fastest * max(walls) > 7.0 else wall_chain
        kinds = [(s.length, s.width, wall) for s, wall in zip(guide.slots, walls)]
        alike = {
            kind: passage(k, slot, kind[2], orders, self.basis.exponent)
            for kind, slot in dict(zip(kinds, guide.slots)).items()
        }
        parts = [alike[kind] for kind in kinds]
        if passage is wall_chain:
            a, z, s = (np.concatenate(part) for part in zip(*parts))
            to_inner = np.diag(a) + z[:, None] * y_out
            outer = -np.linalg.solve(y_in @ to_inner + np.diag(s) + a[:, None] * y_out, drive)
            return outer, to_inner @ outer
        y11, y12 = (np.concatenate(part) for part in zip(*parts))
        to_outer = np.linalg.solve(y_out + np.diag(y11), np.diag(y12))
        inner = -np.linalg.solve(y_in + np.diag(y11) - y12[:, None] * to_outer, drive)
        return to_outer @ inner, inner

    def _within(self, k: complex) -> tuple[NDArray, NDArray, NDArray]:
        """Inside: admittance of the slots, tested H_z of the ports, scattering matrix without slots."""
        drive, s_matrix = port_terms(self.guide, partial(te10_coupling, self.inside, k), k)
        return self.inside.admittance(k), drive, s_matrix

    def _solve(self, frequency: float) -> tuple[NDArray, NDArray, NDArray, NDArray]:
        """Scattering matrix, outer and inner coefficients, radiated power per port at one frequency, Hz."""
        guide, k = self.guide, self._wavenumber(frequency)
        y_out, within = self.outside.admittance(k), lossy_wavenumber(guide, k)
        y_in, drive, s_matrix = self._within(within)
        outer, inner = self._apertures(k, y_in, y_out, drive)
        s_matrix = s_matrix - 0.5 * drive.T @ inner
        if guide.feed is not None:
            # sheet: i = 2 s, v = s * s_matrix; i = (a - b), v = (a + b) for unit wave
            impedance = 0.5 * s_matrix
            s_matrix = (impedance - 1.0) / (impedance + 1.0)
            outer, inner = outer / (1.0 + impedance), inner / (1.0 + impedance)
        leaving = y_out if guide.superstrate is None else self.outside.admittance(k, lossless=True)
        radiated = np.einsum("ip,ij,jp->p", outer.conj(), leaving, outer).real
        return s_matrix, outer, inner, radiated

    def solve(self, frequency: NDArray) -> SlotResponse:
        """Exact response at each frequency.

        Parameters
        ----------
        frequency : (F,) array
            Hz.

        Raises
        ------
        InputError
            Below the cutoff of TE10 or above that of another mode.
        """
        frequency = np.atleast_1d(np.asarray(frequency, dtype=float))
        s, outer, inner, radiated = (np.stack(part) for part in zip(*(self._solve(f) for f in frequency)))
        shape = (len(self.guide.slots), len(self.basis.orders))
        return SlotResponse(
            frequency,
            s,
            self._split(outer, shape),
            self._split(inner, shape),
            radiated,
            self.basis.orders,
            frequency.size,
        )

    @staticmethod
    def _split(values: NDArray, shape: tuple[int, int]) -> NDArray:
        return np.moveaxis(values.reshape(values.shape[0], *shape, -1), -1, 1)

    def radiated_by_slot(self, response: SlotResponse) -> NDArray:
        """Power that each slot radiates over incident power, shape (F, ports, N).

        Power received from other slots outside and power lost in a superstrate are subtracted.
        """
        shape = response.outer.shape
        flat = response.outer.reshape(*shape[:2], -1)
        matrix = np.stack(
            [self.outside.admittance(self._wavenumber(f), lossless=True) for f in response.frequency]
        )
        power = (flat.conj() * (flat @ matrix)).real
        return power.reshape(shape).sum(axis=-1)

    def sweep(self, frequency: NDArray, tolerance: float = 1e-5) -> SlotResponse:
        """Response on a frequency grid from few exact solutions.

        ``s`` and the aperture coefficients (over their peak in three samples) are fitted with common poles.
        ``radiated`` comes from the power balance, which the exact solutions satisfy to 1e-8; it includes the
        losses in walls and superstrate.

        Parameters
        ----------
        frequency : (F,) array
            Hz, increasing.
        tolerance : float
            Largest error allowed in either, checked against exact solutions that the fit has not used.

        Raises
        ------
        InputError
            Below the cutoff of TE10 or above that of another mode.
        NotConvergedError
            The fit does not reach the tolerance.
        """
        frequency = np.asarray(frequency, dtype=float)
        ports = 1 if self.guide.near_short is not None or self.guide.far_short is not None else 2
        shape = (ports, len(self.guide.slots), len(self.basis.orders))
        scale = np.abs(self.solve(frequency[[0, frequency.size // 2, -1]]).outer).max()

        def columns(f: NDArray) -> NDArray:
            r = self.solve(f)
            parts = (r.s, r.outer / scale, r.inner / scale)
            return np.concatenate([v.reshape(f.size, -1) for v in parts], axis=1)

        values, sampled, error = adaptive_sweep(columns, frequency, tolerance)
        size, split = frequency.size, ports**2 + int(np.prod(shape))
        s, outer, inner = np.split(values, [ports**2, split], axis=1)
        s = s.reshape(size, ports, ports)
        return SlotResponse(
            frequency,
            s,
            scale * outer.reshape(size, *shape),
            scale * inner.reshape(size, *shape),
            1.0 - (np.abs(s) ** 2).sum(axis=1),
            self.basis.orders,
            sampled.size,
            error,
        )
