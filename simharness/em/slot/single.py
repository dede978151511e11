"""Admittance and resonance of one slot alone in a matched guide, by the method of moments."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from simharness.constants import C0
from simharness.em.slot.basis import MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.moment import SlotMoment
from simharness.em.slot.superstrate import Superstrate
from simharness.errors import InputError


def slot_admittance(
    a: float,
    b: float,
    wall: float,
    slot: SlotAperture,
    frequency: NDArray,
    basis: MomentBasis = MomentBasis(),
    superstrate: Superstrate | None = None,
    diameter: float | None = None,
) -> NDArray:
    """Shunt admittance of one slot in a matched guide, y = -2 S11 / (1 + S11), shape (F,).

    Normalised to the TE10 admittance; the reference plane is at the centre of the slot.

    Parameters
    ----------
    a, b, wall : float
        Inner width and height of the guide, thickness of the slotted wall, m.
    slot : SlotAperture
    frequency : (F,) array
        Hz.
    basis : MomentBasis
    superstrate : Superstrate or None
        Dielectric on the outside of the wall.
    diameter : float or None
        Inner diameter of the round guide that this one stands for, m.

    Raises
    ------
    InputError
        Another mode than TE10 can propagate, or none.
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
    """Resonant length of a slot (Im y = 0), m, and its normalised conductance there.

    The search runs over 0.36 to 0.6 free-space wavelengths. With a superstrate both ends are shorter: the
    lower one by the factor of a half space of the dielectric, the upper one by its square root.

    Parameters
    ----------
    a, b, wall, width, offset : float
        Inner width and height of the guide, thickness of the slotted wall, width of the slot and its distance
        from the centre line, m.
    frequency : float
        Hz.
    basis : MomentBasis
    superstrate : Superstrate or None
        Dielectric on the outside of the wall.

    Raises
    ------
    InputError
        No resonance in that range, or no coupling (offset 0).
    """
    wavelength = C0 / frequency

    def admittance(length: float) -> complex:
        slot = SlotAperture(length, width, offset)
        return slot_admittance(a, b, wall, slot, np.array([frequency]), basis, superstrate)[0]

    most = 1.0 if superstrate is None else np.sqrt(0.5 * (1.0 + superstrate.densest))
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
    """Frequency where the shunt admittance of one slot in a matched guide is real, Hz.

    The parameters are those of `slot_admittance`.

    Raises
    ------
    InputError
        No resonance where TE10 travels alone, or no coupling (offset 0).
    """

    def admittance(frequency: NDArray) -> NDArray:
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
    return float(brentq(lambda f: admittance(np.array([f]))[0].imag, low, high, rtol=1e-5))
