"""Longitudinal slot in the broad wall in closed form: Stevenson's conductance and a one-term slot model.

This is a first estimate of one slot alone, for the check of a design record and for the start of a design.
The method of moments (`simharness.em.slot.moment`) is the better model and has the last word: it takes
several terms along the slot, the edge condition across it and the coupling to other slots into account.

The one-term model (own derivation) takes E = (V/w) cos(pi z/L) across the slot at both faces of the wall,
uniform over the width, and requires continuity of H weighted with the same function (Galerkin). Every
admittance is of the form

    Y = j/(omega mu) * <(k^2 + d^2/dz^2) G>,

with G of the half space outside, of the guide inside (all modes), and a TE10 line of cross-section L x w,
below or near its cutoff, for the wall between. Booker's relation is the limit of no wall and two half
spaces. The slot loads the guide as the shunt admittance 2 G10 / Y, where G10 is the conductance of the slot
radiating into TE10 both ways, and Y all the rest.

Range of validity: a narrow slot (w < L/5) in an infinite plane, one guide mode. Compared with a moment-method
model and the full-wave solver in WR-90 at 9.375 GHz (`tests/unit/test_slot.py`) the resonant frequency agrees
within about 2 %.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from simharness.constants import C0, ETA0, MU0, TWO_PI
from simharness.em.guide.rectangular import guide_wavelength
from simharness.em.slot.shape import SlotShape
from simharness.errors import InputError

_WIDTH_TO_RADIUS = math.exp(-1.5)
_NUDGE = 1e-5
_POINTS = np.polynomial.legendre.leggauss(48)


def stevenson_conductance(a: float, b: float, offset: ArrayLike, frequency: ArrayLike) -> NDArray:
    """Resonant conductance of a longitudinal slot, normalised to the guide.

    g = 480/(73 pi) (a/b)(lambda_g/lambda_0) cos^2(pi lambda_0 / 2 lambda_g) sin^2(pi x/a):
    A. F. Stevenson, J. Appl. Phys. 19 (1948) 24-38, half-wave slot in an infinite thin wall.

    Raises
    ------
    InputError
        The frequency is at or below cutoff.

    Examples
    --------
    >>> round(float(stevenson_conductance(22.86e-3, 10.16e-3, 3e-3, 9.375e9)), 4)
    0.1986
    """
    free = C0 / np.asarray(frequency, dtype=float)
    ratio = free / guide_wavelength(a, frequency)
    factor = 480 / (73 * math.pi) * (a / b) / ratio * np.cos(math.pi * ratio / 2) ** 2
    return factor * np.sin(math.pi * np.asarray(offset, dtype=float) / a) ** 2


def half_space_admittance(frequency: ArrayLike, length: float, width: float) -> NDArray:
    """Self-admittance of the slot radiating into the half space outside, S.

    The width enters through the radius exp(-3/2) w of the wire with the same average
    of ln|x - x'| as a uniform field across the slot.
    """
    radius = _WIDTH_TO_RADIUS * width
    nodes, weights = _POINTS
    top = math.asinh(length / radius)
    # u = radius sinh(t) spreads the peak of 1/R over the whole range.
    t = 0.5 * top * (nodes + 1)
    u, distance = radius * np.sinh(t), radius * np.cosh(t)
    k = TWO_PI * np.asarray(frequency, dtype=float)[..., None] / C0
    kernel = _reaction(k, u, length) * np.exp(-1j * k * distance) / TWO_PI
    return 2 * 1j / (ETA0 * k[..., 0]) * (kernel @ (0.5 * top * weights))


def _reaction(k: NDArray, u: NDArray, length: float) -> NDArray:
    """k^2 <c c> - <c' c'> at shift u, for c = cos(pi z/L) on the slot."""
    p = math.pi / length
    overlap, turn = 0.5 * (length - u) * np.cos(p * u), np.sin(p * u) / (2 * p)
    return k**2 * (overlap + turn) - p**2 * (overlap - turn)


def guide_conductance(a: float, b: float, slot: SlotShape, frequency: ArrayLike) -> NDArray:
    """Conductance G10 of the slot radiating TE10 both ways in a matched guide, S.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.
    """
    frequency = np.asarray(frequency, dtype=float)
    guide_wavelength(a, frequency)
    return _mode_sum(a, b, slot, frequency, only_te10=True).real


def guide_admittance(a: float, b: float, slot: SlotShape, frequency: ArrayLike) -> NDArray:
    """Admittance of the slot towards the matched guide, all modes, S."""
    return _mode_sum(a, b, slot, np.asarray(frequency, dtype=float), only_te10=False)


def _mode_sum(a: float, b: float, slot: SlotShape, frequency: NDArray, only_te10: bool) -> NDArray:
    k = TWO_PI * frequency / C0
    p = math.pi / slot.length
    first, across, up = (1, 2, 1) if only_te10 else (0, 120, 24)
    m = np.arange(first, across)
    shape = np.cos(m * math.pi * (0.5 + slot.offset / a)) * np.sinc(m * slot.width / (2 * a))
    weight = np.where(m == 0, 1.0, 2.0) * shape**2 / (a * b)
    far = _coth_part(m * math.pi / a, b, p, k, only_te10) * weight
    end = np.zeros(far.shape, dtype=complex)
    for n in range(up):
        kc2 = (m * math.pi / a) ** 2 + (n * math.pi / b) ** 2
        end += (1.0 if n == 0 else 2.0) * weight * _end_part(kc2, p, k, slot.length)
    total = 0.5 * slot.length * (k**2 - p**2) * far.sum(axis=-1) + end.sum(axis=-1)
    return 1j / (ETA0 * k) * total


def _coth_part(kx: NDArray, b: float, p: float, k: NDArray, only_te10: bool) -> NDArray:
    """Sum over n of e_n / (gamma^2 + p^2), in closed form b coth(b q) / q."""
    square = _away_from_zero(kx**2 - k[..., None] ** 2 + p**2, p)
    if only_te10:
        return 1 / square
    q = np.sqrt(square)
    return b / (q * np.tanh(b * q))


def _end_part(kc2: NDArray, p: float, k: NDArray, length: float) -> NDArray:
    gamma2 = _away_from_zero(kc2 - k[..., None] ** 2, p)
    gamma = np.sqrt(gamma2)
    return kc2 * p**2 * (1 + np.exp(-gamma * length)) / (gamma * _away_from_zero(gamma2 + p**2, p) ** 2)


def _away_from_zero(square: NDArray, p: float) -> NDArray:
    """Values moved off the removable singularities, where the parts cancel but each is infinite."""
    least = _NUDGE * p**2
    return np.where(np.abs(square) < least, least, square).astype(complex)


def wall_section(slot: SlotShape, frequency: ArrayLike) -> tuple[NDArray, NDArray]:
    """Short-circuit admittances (Y11, -Y12) of the slot as a hole through the wall, S."""
    omega = TWO_PI * np.asarray(frequency, dtype=float)
    gamma = np.sqrt(_away_from_zero((math.pi / slot.length) ** 2 - (omega / C0) ** 2, math.pi / slot.length))
    own = gamma * slot.length / (2 * slot.width * 1j * omega * MU0)
    turn = gamma * slot.wall
    return own / np.tanh(turn), own / np.sinh(turn)


def slot_load(a: float, b: float, slot: SlotShape, frequency: ArrayLike) -> NDArray:
    """Admittance of an isolated slot at its inner face without its TE10 conductance, S.

    It is real at resonance. The parameters are those of `shunt_admittance`.
    """
    frequency = np.asarray(frequency, dtype=float)
    inside = guide_admittance(a, b, slot, frequency) - guide_conductance(a, b, slot, frequency)
    outside = half_space_admittance(frequency, slot.length, slot.width)
    if slot.wall == 0:
        return inside + outside
    y11, y12 = wall_section(slot, frequency)
    return inside + y11 - y12**2 / (y11 + outside)


def shunt_admittance(a: float, b: float, slot: SlotShape, frequency: ArrayLike) -> NDArray:
    """Shunt admittance of an isolated slot, normalised to the TE10 line.

    Parameters
    ----------
    a, b : float
        Inner width and height of the guide, m.
    slot : SlotShape
    frequency : array_like
        Hz, above the cutoff of TE10 and below that of the next mode.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.

    Examples
    --------
    >>> slot = SlotShape(offset=3e-3, length=15.345e-3, width=1.5875e-3, wall=1.27e-3)
    >>> y = shunt_admittance(22.86e-3, 10.16e-3, slot, [9.0e9, 9.8e9])
    >>> bool(y[0].imag > 0), bool(y[1].imag < 0)
    (True, True)
    """
    return 2 * guide_conductance(a, b, slot, frequency) / slot_load(a, b, slot, frequency)


def resonant_frequency(a: float, b: float, slot: SlotShape) -> float:
    """Frequency where the shunt admittance of the isolated slot is real, Hz.

    Raises
    ------
    InputError
        There is no resonance between 0.75 and 1.25 times the frequency
        at which the slot is half a wavelength long, above cutoff.
    """
    half_wave = C0 / (2 * slot.length)
    low = max(0.75 * half_wave, 1.001 * C0 / (2 * a))
    return _root(
        lambda f: slot_load(a, b, slot, np.array([f])).imag[0],
        low,
        1.25 * half_wave,
        "slot.length",
        slot.length,
    )


def resonant_length(a: float, b: float, slot: SlotShape, frequency: float) -> float:
    """Length which makes this slot resonant at `frequency`, m (its own length is ignored).

    Raises
    ------
    InputError
        The frequency is at or below cutoff, or no length from 0.35 to 0.65 wavelengths resonates.
    """

    def imaginary(length: float) -> float:
        trial = SlotShape(slot.offset, length, slot.width, slot.wall)
        return slot_load(a, b, trial, np.array([frequency])).imag[0]

    free = C0 / frequency
    return _root(imaginary, 0.35 * free, 0.65 * free, "frequency", frequency)


def _root(function: Callable[[float], float], low: float, high: float, what: str, value: float) -> float:
    if not low < high or function(low) * function(high) > 0:
        raise InputError(what, value, "no resonance of the slot in the band of the guide")
    return float(brentq(function, low, high, rtol=1e-9))
