"""Line current in a rectangular guide: Green's functions of its harmonics along the wire.

A current I(y) along y between two broad walls is even about both, so that it is the sum
(e_n / b) cos(n pi y / b) P_n, P_n = integral of I cos(n pi y / b). Each harmonic makes a
two-dimensional field with gamma_n^2 = (n pi/b)^2 - k^2 across the guide:

    A_n(rho) = I0(gamma r) [K0(gamma rho) / (2 pi) + C_n I0(gamma rho)],   rho >= r,

averaged around the wire of radius r. C_n is the part that returns from side walls and shorts
(Green's function of the guide minus that of free space, on the axis). TE10 is counted as in
a guide matched both ways. Own derivation, with Graf's addition theorem; time convention
exp(+j omega t).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import i0e, i1e, j0, j1, k0, k0e, k1e, y0

_STATIC_MODES = 600
"""Number of side-wall modes beyond which the static term replaces the rest: 1e-6 of C_n."""

_FADED = 45.0
"""exp(-45) = 3e-20: waves that have decayed on the way to a wall and back."""


def side_wall_part(a: float, offset: float, k: NDArray, gamma: NDArray) -> NDArray:
    """Part of C_n due to the side walls, TE10 matched both ways.

    Sum over modes of sin^2 [1/Gamma_m - a/(m pi)] / a with the static sum in closed form, (1/2 pi)
    ln[(2a / pi r) sin(pi u)]; images, +K0(2 j gamma a) and -K0(gamma |2 j a - 2 u a|) over
    2 pi, where they decay quickly.

    Parameters
    ----------
    a, offset : float
        Width of the guide and axis of the wire from its middle, m.
    k : (f,) array
        1/m.
    gamma : (f, n) array
        1/m, real part for n > 0; the first column is not read (it is j k).

    Returns
    -------
    (f, n) complex array
    """
    u = offset / a + 0.5
    m = np.arange(1, _STATIC_MODES + 1)
    shape, across = np.sin(m * math.pi * u) ** 2, m * math.pi / a
    out = np.empty(gamma.shape, dtype=complex)
    slow = np.any(gamma * a < 6.0, axis=0)
    slow[0] = True
    square = gamma[:, slow] ** 2
    square[:, 0] = -(k**2)
    size = np.abs(square) ** 0.5
    rate = np.sqrt(across**2 + square[..., None] + 0j)
    # 1/Gamma must have +j beta below: the principal root of a negative number is +j beta
    sums = ((1.0 / rate - 1.0 / across) * shape).sum(axis=-1) / a
    image = math.log(2.0 * a / math.pi * math.sin(math.pi * u)) + np.log(0.5 * size) + np.euler_gamma
    out[:, slow] = sums + image / (2.0 * math.pi)
    out[:, 0] += 0.25j
    fast = gamma[:, ~slow]
    total = np.zeros(fast.shape)
    for j in range(-4, 5):
        total -= k0(fast * abs(2.0 * a * (j - u)))
        if j:
            total += k0(fast * 2.0 * a * abs(j))
    out[:, ~slow] = total / (2.0 * math.pi)
    return out


def short_part(a: float, offset: float, gamma: NDArray, k: NDArray, near: float, far: float) -> NDArray:
    """Part of C_n due to shorts at distances near and far (m, may be infinite) without TE10.

    Each mode of decay G returns [-exp(-2 G near) - exp(-2 G far) + 2 exp(-2 G (near + far))] /
    (1 - exp(-2 G (near + far))), over 2 G. Shape (f, n).
    """
    nearest = min(near, far)
    out = np.zeros(gamma.shape, dtype=complex)
    if not math.isfinite(nearest):
        return out
    m = np.arange(1, min(400, math.ceil(0.5 * _FADED * a / (math.pi * nearest)) + 2))
    shape = 2.0 / a * np.sin(m * math.pi * (offset / a + 0.5)) ** 2
    for n in range(gamma.shape[1]):
        square = (m * math.pi / a) ** 2 + (gamma[:, n, None] ** 2 if n else -(k[:, None] ** 2))
        if n == 0:
            square[:, 0] = np.inf
        rate = np.sqrt(square)
        one, two = np.exp(-2.0 * rate * near), np.exp(-2.0 * rate * far)
        back = (2.0 * one * two - one - two) / (1.0 - one * two)
        out[:, n] = (shape * back / (2.0 * rate)).sum(axis=1)
    return out


@dataclass(frozen=True)
class RadialTerms:
    """Coupling of the harmonics of wire, tip and coax aperture to each other; all (f, n).

    Attributes
    ----------
    square : gamma_n^2, 1/m^2.
    wire, wire_tip, tip : complex
        Averages of Green's function: surface on surface, surface on the flat end, the end
        on itself (charge uniform over the disc).
    feed : complex
        2 pi [A_n(inner) - A_n(outer)] of a unit surface current: H_phi over the aperture.
    aperture : complex
        Integral over the aperture, twice, of Green's function of magnetic rings, times
        gamma_n^2.
    wire_wave, aperture_wave : (f,) arrays
        Amplitude of the harmonic n = 0 as seen from afar: I0 on the wire; I0(outer) - I0(inner).
    """

    square: NDArray
    wire: NDArray
    wire_tip: NDArray
    tip: NDArray
    feed: NDArray
    aperture: NDArray
    wire_wave: NDArray
    aperture_wave: NDArray


def radial_terms(
    gamma: NDArray, k: NDArray, returned: NDArray, radius: float, inner: float, outer: float
) -> RadialTerms:
    """Closed forms of the radial integrals, rho in the aperture from inner to outer, m.

    Parameters
    ----------
    gamma : (f, n) array
        1/m, n > 0 real; column 0 is replaced by j k.
    returned : (f, c) complex array
        C_n of the lowest harmonics.
    radius, inner, outer : float
        Of wire and aperture, radius <= inner < outer, m.
    """
    r, i, o = (_Bessel(gamma, k, at) for at in (radius, inner, outer))
    few = slice(0, returned.shape[1])
    seen_r, seen_tip = r.i0(few), r.disc(few)
    ring = o.i0(few) - i.i0(few)
    wire, wire_tip = r.i0k0(r) / (2 * np.pi), r.disc_k0() / (2 * np.pi)
    tip, feed = r.disc_disc() / (2 * np.pi), r.i0k0(i) - r.i0k0(o)
    log = math.log(outer / inner)
    aperture = log - i.i0k0(i) - o.i0k0(o) + 2.0 * i.i0k0(o)
    wire[:, few] += seen_r**2 * returned
    wire_tip[:, few] += seen_r * seen_tip * returned
    tip[:, few] += seen_tip**2 * returned
    feed[:, few] -= 2 * np.pi * returned * seen_r * ring
    aperture[:, few] -= 2 * np.pi * returned * ring**2
    square = gamma**2
    square[:, 0] = -(k**2)
    return RadialTerms(square, wire, wire_tip, tip, feed, aperture, seen_r[:, 0].real, ring[:, 0].real)


class _Bessel:
    """Modified Bessel functions at gamma r with their exponentials kept apart."""

    def __init__(self, gamma: NDArray, k: NDArray, radius: float):
        self.x = gamma * radius
        self.z = k * radius
        self.x[:, 0] = 1.0
        self.small, self.decay = i0e(self.x), k0e(self.x)

    def i0(self, few: slice) -> NDArray:
        out = self.small[:, few] * np.exp(self.x[:, few])
        out[:, 0] = j0(self.z)
        return out

    def disc(self, few: slice) -> NDArray:
        """Average of I0 over the disc, 2 I1(x) / x."""
        out = 2.0 * i1e(self.x[:, few]) * np.exp(self.x[:, few]) / self.x[:, few]
        out[:, 0] = 2.0 * j1(self.z) / self.z
        return out

    def i0k0(self, other: _Bessel) -> NDArray:
        """I0 here times K0 at a radius that is not smaller."""
        out = self.small * other.decay * np.exp(self.x - other.x) + 0j
        out[:, 0] = j0(self.z) * _k0_of_jz(other.z)
        return out

    def disc_k0(self) -> NDArray:
        out = 2.0 * i1e(self.x) * self.decay / self.x + 0j
        out[:, 0] = 2.0 * j1(self.z) / self.z * _k0_of_jz(self.z)
        return out

    def disc_disc(self) -> NDArray:
        """4 / r^4 times the integral of I0(rho<) K0(rho>) over both radii."""
        out = 2.0 / self.x**2 * (1.0 - 2.0 * i1e(self.x) * k1e(self.x)) + 0j
        out[:, 0] = 0.0  # the end has no harmonic n = 0
        return out


def _k0_of_jz(z: NDArray) -> NDArray:
    """K0(j z) = -(j pi / 2) H0^(2)(z)."""
    return -0.5j * math.pi * (j0(z) - 1j * y0(z))
