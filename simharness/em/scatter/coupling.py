"""Mutual admittance of slots on long metal bodies outside, and what it does to waves at the feeds.

The magnetic current of a slot is V cos(pi z/L) along z. Its spectrum over the axial wavenumber meets, for
each of them, the two-dimensional field of a line source on the outlines g(kt), kt^2 = k^2 - kz^2 (own
derivation):

    Y_mn = - 1/(2 pi) int  kt^2/(j omega mu0)  g_mn(kt)  c_m(kz) c_n(kz) exp(-j kz (z_m - z_n)) dkz .

Reciprocity between the driven antenna and the one that receives gives the wave that a current in its closed
slots sends to its feed: with V for 1 W available at each feed, peak,

    S_21 = - 1/4 sum_mn V_m Y_mn V_n ,

to first order in the coupling. With the change of the own admittances in the place of Y it is the change of
S11.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, ETA0, MU0, TWO_PI
from simharness.em.pattern.aperture import Aperture, slot_spectrum

Greens = Callable[[complex], NDArray]
"""Field (m, n) at m slots of unit line sources at n slots, at a wavenumber across (1/m)."""

_DECAYED = 7.0
"""Powers of e after which an evanescent wave counts as nothing."""


@dataclass(frozen=True)
class Rule:
    """Quadrature over the axial wavenumber: nodes, wavenumbers across, weights; all (q,), 1/m."""

    axial: NDArray
    across: NDArray
    weights: NDArray


def axial_rule(wavenumber: float, apart: float, along: float) -> Rule:
    """Nodes from 0 to where waves have died out over a distance.

    Parameters
    ----------
    wavenumber : float
        Of free space, 1/m.
    apart : float
        Least distance across that the evanescent waves go, m.
    along : float
        Largest distance along between two slots, m.
    """
    count = 16 + math.ceil(0.8 * wavenumber * (along + apart) / 2)
    x, w = np.polynomial.legendre.leggauss(count)
    turn = math.pi / 4 * (x + 1)
    near = Rule(
        wavenumber * np.sin(turn),
        wavenumber * np.cos(turn) + 0j,
        w * math.pi / 4 * wavenumber * np.cos(turn),
    )
    most = math.asinh(_DECAYED / (wavenumber * apart))
    count = 10 + math.ceil(0.4 * wavenumber * math.cosh(most) * along / 2)
    x, w = np.polynomial.legendre.leggauss(count)
    u = most / 2 * (x + 1)
    beyond = Rule(
        wavenumber * np.cosh(u),
        -1j * wavenumber * np.sinh(u),
        w * most / 2 * wavenumber * np.sinh(u),
    )
    return Rule(*(np.concatenate(pair) for pair in zip(vars(near).values(), vars(beyond).values())))


def mutual_admittances(
    greens: Greens, one: Aperture, two: Aperture, frequency: float, apart: float
) -> NDArray:
    """Y of the slots of `one` (m) with those of `two` (n) outside, (m, n) complex, S.

    Parameters
    ----------
    greens : callable
        See `Greens`.
    one, two : Aperture
        Places along and lengths are taken.
    frequency : float
        Hz.
    apart : float
        As of `axial_rule`, m.
    """
    wavenumber = TWO_PI * frequency / C0
    lag = one.positions[:, None] - two.positions[None, :]
    rule = axial_rule(wavenumber, apart, float(np.abs(lag).max() + one.lengths.max()))
    total = np.zeros(lag.shape, dtype=complex)
    for axial, across, weight in zip(rule.axial, rule.across, rule.weights):
        spectra = np.outer(*(_spectra(axial, side) for side in (one, two)))
        total += weight * across**2 * spectra * np.cos(axial * lag) * greens(complex(across))
    return -total / math.pi / (1j * TWO_PI * frequency * MU0)


def _spectra(axial: float, aperture: Aperture) -> NDArray:
    return np.array([float(slot_spectrum(np.array(axial), length)) for length in aperture.lengths])


def radiated_power(mean_square: float, frequency: float) -> float:
    """Power (W) of slots in V, peak, from the mean over the sphere of |E_phi|^2 as in
    `simharness.em.pattern.aperture.radiated_field`.

    Examples
    --------
    A slot of half a wavelength and 1 V radiates into both halves of space as its dual, a dipole of 73.1 ohm
    and 2 V / ETA0: (2/ETA0)^2 / 2 * 73.1 W (Balanis, Antenna Theory, sec. 12.9: Booker's relation; memory).

    >>> import numpy as np
    >>> from simharness.em.pattern.aperture import Aperture, slot_weights
    >>> cosine, weights = np.polynomial.legendre.leggauss(60)
    >>> slot = Aperture(*(np.array([v]) for v in (0.0, 0.0, 0.05, 1.0)))
    >>> field = 2 * slot_weights(slot, C0 / 0.1, np.arccos(cosine))[0]
    >>> power = radiated_power(float(weights @ np.abs(field) ** 2) / 2, C0 / 0.1)
    >>> bool(np.isclose(power, (2 / ETA0) ** 2 / 2 * 73.13, rtol=1e-3))
    True
    """
    wavenumber = TWO_PI * frequency / C0
    return 2 * TWO_PI * mean_square * (wavenumber / (2 * TWO_PI)) ** 2 / (2 * ETA0)


def coupled_wave(admittances: NDArray, receiving: NDArray, sending: NDArray) -> complex:
    """Wave at one feed over that into the other; voltages (m,), (n,) for 1 W available at each, V peak."""
    return complex(-receiving @ admittances @ sending / 4)
