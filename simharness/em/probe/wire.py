"""Current along a straight round wire that stands on a broad wall: spectra of its basis and its impedance.

Formulas: `simharness.em.probe.straight`, which drives such a wire from a coax; without one it is a post or a
screw.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from simharness.constants import ETA0
from simharness.em.probe.kernel import RadialTerms, radial_terms, short_part, side_wall_part

MAX_HARMONICS = 1500


def wire_impedance(
    a: float,
    b: float,
    offset: float,
    height: float,
    diameter: float,
    k: NDArray,
    near_short: float = math.inf,
    far_short: float = math.inf,
    count: int = 10,
) -> NDArray:
    """A post whose foot is joined to the wall: the wire of a probe without its coax.

    Parameters
    ----------
    a, b : float
        Inner width and height of the guide, m.
    offset, height, diameter : float
        Axis from the centre line, tip above the wall (at most b), and of the wire, m.
    k : (f,) array
        Wavenumber, 1/m.
    near_short, far_short : float
        Distances of shorts from the axis, m.
    count : int
        Number of basis functions of the current.

    Returns
    -------
    (f, count, count) complex array
        Z, ohm; shorts act on all modes except TE10.
    """
    radius = 0.5 * diameter
    ky = np.arange(math.ceil(max(12.0 * b / radius, 6.0 * count * b / height))) * math.pi / b
    radii = radius, radius, 1.1 * radius
    terms = radial_terms_in_guide(a, b, offset, k, ky, radii, (near_short, far_short))
    p, slope, tip, sine = spectra(ky, height, count)
    return wire_matrix(k, terms, p, slope, tip, sine, np.where(ky > 0, 2.0, 1.0), b)


def radial_terms_in_guide(
    a: float,
    b: float,
    offset: float,
    k: NDArray,
    ky: NDArray,
    radii: tuple[float, float, float],
    shorts: tuple[float, float],
) -> RadialTerms:
    """Terms of all harmonics; only the low ones return from walls and shorts."""
    gamma = np.sqrt(np.maximum(ky**2 - k[:, None] ** 2, 1e-9 * k[:, None] ** 2))
    low = gamma[:, : _returning_harmonics(a, b, offset, min(shorts), radii[2], ky.size)]
    returned = side_wall_part(a, offset, k, low) + short_part(a, offset, low, k, *shorts)
    return radial_terms(gamma, k, returned, *radii)


def _returning_harmonics(a: float, b: float, offset: float, short: float, outer: float, most: int) -> int:
    """Number of harmonics that return from the nearest wall with more than 1e-18 of their amplitude."""
    room = 2.0 * min(0.5 * a - abs(offset), short) - 2.0 * outer
    return min(most, math.ceil(45.0 * b / (math.pi * max(room, 0.3 * outer))) + 2)


def spectra(ky: NDArray, height: float, count: int) -> tuple[NDArray, ...]:
    """P and S (p, n) of the basis, t (p,), and sin(n pi d/b) (n,)."""
    order = np.arange(count)[:, None]
    q = np.where(order > 0, (order - 0.5) * math.pi / height, 0.0)
    p = 0.5 * height * (np.sinc((ky + q) * height / math.pi) + np.sinc((ky - q) * height / math.pi))
    tip = np.where(order[:, 0] == 0, 1.0, 0.0)
    sine = np.sin(ky * height)
    return p, tip[:, None] * sine - ky * p, tip, sine


def wire_matrix(
    k: NDArray,
    terms: RadialTerms,
    p: NDArray,
    slope: NDArray,
    tip: NDArray,
    sine: NDArray,
    e_n: NDArray,
    b: float,
) -> NDArray:
    """Z (f, p, p), ohm."""
    size = p.shape[0]

    def pairs(one: NDArray, two: NDArray) -> NDArray:
        return (one[:, None, :] * two[None, :, :]).reshape(size**2, -1).T

    ends = tip[:, None] * sine
    mixed = pairs(slope, ends) + pairs(ends, slope)
    magnetic = (terms.wire * e_n) @ pairs(p, p)
    # the harmonic n = 0 has no charge: its sines vanish
    electric = 2.0 * (
        terms.wire @ pairs(slope, slope) - terms.wire_tip @ mixed + terms.tip @ pairs(ends, ends)
    )
    scale = (1j * k * ETA0 / b)[:, None]
    return (scale * (magnetic - electric / k[:, None] ** 2)).reshape(-1, size, size)
