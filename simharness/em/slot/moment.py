"""Moment-method model of longitudinal slots in the broad wall of a rectangular guide.

Rectangular slots in one or both broad walls, perfect metal, walls of finite thickness, half
space over an infinite plane outside each, every guide mode inside. See ``slot_basis``,
``slot_inside``, ``slot_outside`` and ``slot_faces`` for the kernels.
Continuity of H_z on the inner aperture, tested with the basis (Galerkin):

    Y_guide e_in + h_in = -H_inc,   e_in = A e_out + Z h_out,
    h_in = S e_out + A h_out,       h_out = Y_out e_out,

so the outer-aperture voltages solve
[Y_guide (A + Z Y_out) + S + A Y_out] e_out = -H_inc.
The scattered TE10 waves follow from the TE10 term of the guide Green's function:
to -z: -1/2 sum V g+, to +z: -1/2 sum V g-, with g the tested H_z of unit waves.
Wall loss is a complex wavenumber inside the guide, which gives TE10 its attenuation by the
power-loss method. Dielectric on the outside, with or without loss: see ``superstrate``. Left out: E_z in the aperture, the finite size of the plane, loss in the slots, and
what the field normal to the wall and H_x do to an aperture. Wide slots show the last: the field solver has
a series reactance of 0.005 of the guide's impedance on either side of a slot a fifth as wide as long,
and resonant lengths 0.1 to 0.7 % shorter, conductances 2 to 4 % higher at widths of 0.15 to 0.2 of the length.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from simharness.constants import C0, TWO_PI
from simharness.em.guide.rectangular import attenuation
from simharness.em.slot.basis import (
    EDGE_FOIL,
    MomentBasis,
    SlotAperture,
    SlottedGuide,
    off_poles,
    te10_phase_constant,
)
from simharness.em.slot.faces import OuterSides
from simharness.em.slot.inside import GuideSide
from simharness.em.slot.outside import wall_admittances, wall_chain
from simharness.em.slot.superstrate import Superstrate
from simharness.errors import InputError
from simharness.numerics.rational import adaptive_sweep


@dataclass(frozen=True)
class SlotResponse:
    """Response of a slotted guide; ports in the order near, far.

    Attributes
    ----------
    frequency : ndarray, shape (F,), Hz
    s : ndarray, shape (F, ports, ports)
        Scattering matrix at the reference planes, referred to the TE10 impedance.
    outer, inner : ndarray, shape (F, ports, N, P), V
        Coefficients V_p of the apertures for a wave of unit amplitude (0.5 W, peak
        phasors) into each port, phase zero at its reference plane or feed.
    radiated : ndarray, shape (F, ports)
        Radiated power over incident power.
    orders : tuple of int
        The sine orders p.
    sampled : int
        Number of exact solutions behind the F frequencies.
    error : float
        Largest error found in ``s`` and in ``outer`` over its peak; 0 if all exact.
    """

    frequency: np.ndarray
    s: np.ndarray
    outer: np.ndarray
    inner: np.ndarray
    radiated: np.ndarray
    orders: tuple[int, ...]
    sampled: int
    error: float = 0.0

    def slot_voltages(self) -> np.ndarray:
        """Return the voltage of the half sine with the same broadside moment.

        (pi / 2L) integral V(z) dz = sum over odd p of V_p / p on the outer aperture;
        shape (F, ports, N), V.
        """
        p = np.array(self.orders)
        return (self.outer * np.where(p % 2, 1.0 / p, 0.0)).sum(axis=-1)


class SlotMoment:
    """Operators of one slotted guide, ready to be solved at any frequency."""

    def __init__(self, guide: SlottedGuide, basis: MomentBasis = MomentBasis()):
        if guide.superstrate is not None and guide.wall == 0.0:
            basis = replace(basis, exponent=EDGE_FOIL)
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
        """Return k clear of removable singularities; refuse further modes."""
        guide, k = self.guide, TWO_PI * frequency / C0
        ka = k * guide.a / np.pi
        if not 1.0 < ka < min(2.0, guide.a / guide.b):
            raise InputError("frequency", frequency, "only TE10 may travel in the guide")
        lengths = [s.length for s in guide.slots]
        k = off_poles(k, guide.a, lengths, np.array(self.basis.orders))
        if guide.feed is not None and guide.far_short is not None:
            span = guide.far_short - guide.near_short
            while abs(np.sin(te10_phase_constant(k, guide.a) * span)) < 1e-6:
                k *= 1.0 + 1e-6
        return k

    def _lossy(self, k: float) -> complex:
        """Wavenumber inside with k^2 - (pi/a)^2 = (beta - j alpha)^2 to first order."""
        guide = self.guide
        if guide.conductivity == np.inf:
            return k
        beta = te10_phase_constant(k, guide.a)
        alpha = attenuation(guide.a, guide.b, k * C0 / TWO_PI, guide.conductivity)
        return np.sqrt(k**2 - 2j * alpha * beta)

    def _ports(self, k: complex) -> tuple[np.ndarray, np.ndarray]:
        """Tested H_z of the port fields (columns) and S without slots.

        With S = S0 + 1/2 G^T W G for each kind of end: a short at zs adds the wave
        reflected with -exp(-2 j beta zs); a current sheet at zf makes the TE10 field
        2 j beta g(z, zf), g the Green's function between the shorts.
        """
        guide = self.guide
        plus, minus = self.inside.te10_coupling(k)
        beta = te10_phase_constant(k, guide.a)
        near, far = guide.near_short, guide.far_short
        to_near, to_far = np.exp(1j * beta * guide.near_plane), np.exp(-1j * beta * guide.far_plane)
        if near is None and far is None:
            through = to_near * to_far
            return (
                np.stack([plus * to_near, minus * to_far], axis=1),
                np.array([[0.0, through], [through, 0.0]]),
            )
        if near is None:
            turn = -np.exp(-2j * beta * far)
            return ((plus + turn * minus) * to_near)[:, None], np.array([[turn * to_near**2]])
        if far is None and guide.feed is not None:
            return self._sheet_to_load(k, beta, plus)
        if far is None:
            turn = -np.exp(2j * beta * near)
            return ((minus + turn * plus) * to_far)[:, None], np.array([[turn * to_far**2]])
        return self._sheet(k, beta, plus, minus)

    def _sheet(self, k, beta, plus, minus):
        """Tested H_z and voltage of a unit-current TE10 sheet between two shorts."""
        near, far, feed = self.guide.near_short, self.guide.far_short, self.guide.feed
        plus_low, minus_low = self.inside.te10_coupling(k, feed)
        plus, minus = plus - plus_low, minus - minus_low
        below, above = np.sin(beta * (feed - near)), np.sin(beta * (far - feed))
        sine = np.sin(beta * (far - near))
        high = (np.exp(1j * beta * far) * plus - np.exp(-1j * beta * far) * minus) * below
        low = (np.exp(-1j * beta * near) * minus_low - np.exp(1j * beta * near) * plus_low) * above
        return ((low + high) / sine)[:, None], np.array([[2j * below * above / sine]])

    def _sheet_to_load(self, k, beta, plus):
        """As `_sheet`, with a matched end for the far short: that of `_sheet` moved to infinity in a guide with loss."""
        near, feed = self.guide.near_short, self.guide.feed
        plus_low, minus_low = self.inside.te10_coupling(k, feed)
        below, away = np.sin(beta * (feed - near)), np.exp(-1j * beta * (feed - near))
        high = 2j * np.exp(1j * beta * near) * below * (plus - plus_low)
        low = (np.exp(-1j * beta * near) * minus_low - np.exp(1j * beta * near) * plus_low) * away
        return (low + high)[:, None], np.array([[2j * below * away]])

    def _apertures(self, k, y_in, y_out, drive):
        """Outer and inner coefficients, shape (N P, ports), for the tested H_z of the ports.

        A wall in which the highest order fades by more than exp(-7) makes the chain lose digits, a
        vanishing wall the admittances: e_out = (Y_out + Y11)^-1 Y12 e_in and
        [Y_guide + Y11 - Y12 (Y_out + Y11)^-1 Y12] e_in = -H_inc.
        """
        guide, orders = self.guide, np.array(self.basis.orders)
        fastest = max(orders) * np.pi / min(s.length for s in guide.slots)
        walls = [guide.thickness(s) for s in guide.slots]
        passage = wall_admittances if fastest * max(walls) > 7.0 else wall_chain
        parts = [passage(k, s, wall, orders, self.basis.exponent) for s, wall in zip(guide.slots, walls)]
        if passage is wall_chain:
            a, z, s = (np.concatenate(part) for part in zip(*parts))
            to_inner = np.diag(a) + z[:, None] * y_out
            outer = -np.linalg.solve(y_in @ to_inner + np.diag(s) + a[:, None] * y_out, drive)
            return outer, to_inner @ outer
        y11, y12 = (np.concatenate(part) for part in zip(*parts))
        to_outer = np.linalg.solve(y_out + np.diag(y11), np.diag(y12))
        inner = -np.linalg.solve(y_in + np.diag(y11) - y12[:, None] * to_outer, drive)
        return to_outer @ inner, inner

    def _solve(self, frequency: float):
        guide, k = self.guide, self._wavenumber(frequency)
        y_out, within = self.outside.admittance(k), self._lossy(k)
        drive, s_matrix = self._ports(within)
        outer, inner = self._apertures(k, self.inside.admittance(within), y_out, drive)
        s_matrix = s_matrix - 0.5 * drive.T @ inner
        if guide.feed is not None:
            # sheet: i = 2 s, v = s * s_matrix; i = (a - b), v = (a + b) for unit wave
            impedance = 0.5 * s_matrix
            s_matrix = (impedance - 1.0) / (impedance + 1.0)
            outer, inner = outer / (1.0 + impedance), inner / (1.0 + impedance)
        leaving = y_out if guide.superstrate is None else self.outside.admittance(k, lossless=True)
        radiated = np.einsum("ip,ij,jp->p", outer.conj(), leaving, outer).real
        return s_matrix, outer, inner, radiated

    def solve(self, frequency: np.ndarray) -> SlotResponse:
        """Return the exact response at each frequency, Hz.

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
    def _split(values, shape):
        return np.moveaxis(values.reshape(values.shape[0], *shape, -1), -1, 1)

    def radiated_by_slot(self, response: SlotResponse) -> np.ndarray:
        """Return the power that each slot sends out over incident power, shape (F, ports, N).

        What a slot gets back from the others outside is taken off, and what heats a superstrate.
        """
        shape = response.outer.shape
        flat = response.outer.reshape(*shape[:2], -1)
        matrix = np.stack(
            [self.outside.admittance(self._wavenumber(f), lossless=True) for f in response.frequency]
        )
        power = (flat.conj() * (flat @ matrix)).real
        return power.reshape(shape).sum(axis=-1)

    def sweep(self, frequency: np.ndarray, tolerance: float = 1e-5) -> SlotResponse:
        """Return the response on a grid from few exact solutions.

        ``s`` and the aperture coefficients (over their peak in three samples) are fitted
        with common poles; ``tolerance`` is the error allowed in either, checked
        against exact solutions that the fit has not seen. ``radiated`` comes from the
        power balance, which the exact solutions keep to 1e-8; wall loss and that of a superstrate count in it.

        Raises
        ------
        InputError, NotConvergedError
        """
        frequency = np.asarray(frequency, dtype=float)
        ports = 1 if self.guide.near_short is not None or self.guide.far_short is not None else 2
        shape = (ports, len(self.guide.slots), len(self.basis.orders))
        scale = np.abs(self.solve(frequency[[0, frequency.size // 2, -1]]).outer).max()

        def columns(f):
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


def aperture_field(
    response: SlotResponse, slot: int, length: float, z: np.ndarray, port: int = 0, inner: bool = False
) -> np.ndarray:
    """Return the voltage across a slot along its length, shape (F, z.size), V.

    ``z`` runs from -length/2 to length/2 about the slot centre, m; E_x is this
    voltage times the profile across the width.
    """
    v = (response.inner if inner else response.outer)[:, port, slot]
    p = np.array(response.orders)[:, None]
    return v @ np.sin(p * np.pi * (np.asarray(z) / length + 0.5))


def slot_admittance(
    a: float,
    b: float,
    wall: float,
    slot: SlotAperture,
    frequency: np.ndarray,
    basis: MomentBasis = MomentBasis(),
    superstrate: Superstrate | None = None,
    diameter: float | None = None,
) -> np.ndarray:
    """Return y = -2 S11 / (1 + S11) of one slot in a matched guide, shape (F,).

    Normalised to the TE10 admittance, reference plane at the slot centre.
    """
    guide = SlottedGuide(
        a,
        b,
        wall,
        (slot,),
        near_plane=slot.position,
        far_plane=slot.position,
        superstrate=superstrate,
        diameter=diameter,
    )
    s11 = SlotMoment(guide, basis).solve(frequency).s[:, 0, 0]
    return -2.0 * s11 / (1.0 + s11)


def resonant_length(
    a: float,
    b: float,
    wall: float,
    width: float,
    offset: float,
    frequency: float,
    basis: MomentBasis = MomentBasis(),
    superstrate: Superstrate | None = None,
) -> tuple[float, float]:
    """Return the length with Im y = 0, m, and the conductance there.

    The search runs over 0.36 to 0.6 free-space wavelengths; under a superstrate both ends are shorter, by what a
    half space of the dielectric would do and by half of that.

    Raises
    ------
    InputError
        No resonance in that range, or no coupling (offset 0).
    """
    wavelength = C0 / frequency

    def admittance(length):
        slot = SlotAperture(length, width, offset)
        return slot_admittance(a, b, wall, slot, frequency, basis, superstrate)[0]

    most = 1.0 if superstrate is None else np.sqrt(0.5 * (1.0 + superstrate.permittivity))
    ends = 0.36 * wavelength / most, 0.6 * wavelength / np.sqrt(most)
    if offset == 0.0 or admittance(ends[0]).imag * admittance(ends[1]).imag >= 0:
        raise InputError("slot", (width, offset), "no resonance near half a wavelength")
    # rtol far below the model's own error of about 1e-3
    length = brentq(lambda v: admittance(v).imag, *ends, xtol=1e-9, rtol=1e-7)
    return length, float(admittance(length).real)


def resonant_frequency(
    a: float,
    b: float,
    wall: float,
    slot: SlotAperture,
    superstrate: Superstrate | None = None,
    diameter: float | None = None,
) -> float:
    """Return the frequency where the shunt admittance of one slot in a matched guide is real, Hz.

    Raises
    ------
    InputError
        No resonance where TE10 travels alone, or no coupling (offset 0).
    """

    def admittance(frequency):
        return slot_admittance(a, b, wall, slot, frequency, superstrate=superstrate, diameter=diameter)

    cutoff = C0 / (2.0 * a)
    grid = np.linspace(1.02 * cutoff, 0.98 * cutoff * min(2.0, a / b), 9)
    sign = np.sign(admittance(grid).imag) if slot.offset else np.zeros(0)
    crossing = np.flatnonzero((sign[:-1] > 0) & (sign[1:] < 0))
    if not crossing.size:
        raise InputError(
            "slot", (slot.length, slot.width, slot.offset), "no resonance in the band of the guide"
        )
    low, high = grid[crossing[0]], grid[crossing[0] + 1]
    return float(brentq(lambda f: admittance(f)[0].imag, low, high, rtol=1e-5))
