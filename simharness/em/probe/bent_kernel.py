"""Integrals of Green's functions along a bent wire in a guide.

The notation is that of `simharness.em.probe.bent`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.special import j0, k0, y0

from simharness.constants import TWO_PI
from simharness.em.probe.kernel import short_part, side_wall_part

DECAYED = 36.0
"""exp(-36) = 2e-16: contributions that are neglected."""
_TABLE = 60
"""Number of distances in the table of Green's function along the run: within 1e-5 of it."""
_GAUSS = np.polynomial.legendre.leggauss(6)


@dataclass(frozen=True)
class WirePieces:
    """Pieces of the wire: nodes along the run (z) and along the riser (y), radii of wire and aperture; m."""

    z: NDArray
    y: NDArray
    radius: float
    inner: float
    outer: float

    @property
    def count(self) -> int:
        """Nodes; that at the bend is shared."""
        return self.z.size + self.y.size - 1


class SideImages:
    """h_n(d) (n,) of a wire seen at its surface, images in the side walls included."""

    def __init__(self, a: float, offset: float, radius: float, gamma: NDArray):
        self._gamma, self.radius = gamma, radius
        u = offset / a + 0.5
        reach = math.ceil(DECAYED / (2 * a * gamma[0])) + 1
        number = np.arange(-min(reach, 40), min(reach, 40) + 1)
        self._like = 2 * a * number[number != 0]
        self._unlike = 2 * a * (number - u)
        nearest = np.abs(np.concatenate([self._like, self._unlike])).min()
        self._few = int(np.count_nonzero(gamma * nearest < DECAYED))

    def __call__(self, distance: NDArray | float) -> NDArray:
        """Shape (..., n) for distances (...) along the guide, m."""
        square = np.asarray(distance, dtype=float)[..., None] ** 2
        turn = self._gamma * np.sqrt(square + self.radius**2)
        out, alive = np.zeros(turn.shape), turn < DECAYED
        out[alive] = k0(turn[alive])
        low = self._gamma[: self._few]
        for sign, places in ((1.0, self._like), (-1.0, self._unlike)):
            for place in places:
                out[..., : self._few] += sign * k0(low * np.sqrt(square + place**2))
        return out / TWO_PI


def run_parts(z: NDArray, side: SideImages, weight: NDArray) -> tuple[NDArray, NDArray]:
    """Integrals along the run: of G for A_z between nodes (p, p), and of G for Phi between pieces (s, s).

    G depends on the distance alone: it is computed at few distances and interpolated.
    """
    x, w = _GAUSS
    step, count = z[1] - z[0], z.size - 1
    point, share = 0.5 * (x + 1), 0.5 * w * step
    apart = point[:, None] - point[None, :]
    offsets = np.arange(-count + 1, 2 * count)[:, None, None]
    table = _smooth_table(2 * z[-1] + step, side, weight)
    kernel = table(np.abs(offsets + apart) * step)
    mirrored = table(np.abs(offsets + point[:, None] + point[None, :]) * step)
    row, column = np.indices((count, count))
    direct, image = kernel[row - column + count - 1], mirrored[row + column + count - 1]
    shapes = np.stack([1 - point, point]) * share
    potential = np.einsum("stuv,u,v->st", direct - image, share, share)
    local = np.einsum("stuv,pu,qv->stpq", direct + image, shapes, shapes)
    magnetic = np.zeros((count + 1, count + 1))
    for p in (0, 1):
        for q in (0, 1):
            magnetic[p : p + count, q : q + count] += local[:, :, p, q]
    return magnetic, potential


def _smooth_table(most: float, side: SideImages, weight: NDArray) -> Callable[[NDArray], NDArray]:
    """Sum over the harmonics as a function of the distance d, m: a spline over asinh(d / radius)."""
    places = np.linspace(0.0, math.asinh(most / side.radius), _TABLE)
    spline = CubicSpline(places, side(side.radius * np.sinh(places)) @ weight)
    return lambda distance: spline(np.arcsinh(distance / side.radius))


def run_average(z: NDArray, function: Callable[[NDArray], NDArray]) -> NDArray:
    """Integral (s, n) of a function of z over each piece of the run with nodes z, m."""
    x, w = _GAUSS
    step = z[1] - z[0]
    points = z[:-1, None] + 0.5 * step * (x + 1)
    return np.einsum("suN,u->sN", function(points), 0.5 * step * w)


def riser_magnetic(
    a: float, b: float, place: tuple[float, float], pieces: WirePieces, k: float, side: SideImages
) -> NDArray:
    """Integrals of G for A_y between nodes of the riser (p, p); TE10 as matched both ways.

    `place`: offset of the axis from the centre line and distance from the short, m.
    """
    offset, run = place
    order = np.arange(1, side(0.0).size + 1)
    high = riser_current(pieces, order * math.pi / b)[pieces.z.size - 1 :]
    low = riser_current(pieces, np.zeros(1))[pieces.z.size - 1 :]
    at, gamma = np.array([k]), np.ones((1, 1))
    back = side_wall_part(a, offset, at, gamma) + short_part(a, offset, gamma, at, run, math.inf)
    z = k * pieces.radius
    alone = j0(z) * (-0.25j * (j0(z) - 1j * y0(z)) + j0(z) * back[0, 0])
    return 2.0 / b * (high * (side(0.0) - side(2.0 * run))) @ high.T + alone / b * low @ low.T


def riser_current(pieces: WirePieces, ky: NDArray) -> NDArray:
    """Integral (p, n) of the current of each node on the riser, times cos(ky y), over its length."""
    y, step = pieces.y, abs(pieces.y[1] - pieces.y[0])
    middle = 0.5 * (y[1:] + y[:-1])[:, None]
    up = np.sign(y[1] - y[0])
    half = 0.5 * step
    flat = step * np.sinc(ky * half / math.pi) * np.cos(ky * middle)
    # of the odd part (y - middle) / step: -sin(ky middle) times an integral with a series at ky = 0
    arg = ky * half
    with np.errstate(divide="ignore", invalid="ignore"):
        odd = np.where(arg < 1e-3, arg / 3, (np.sin(arg) - arg * np.cos(arg)) / arg**2)
    tilt = -0.5 * step * odd * np.sin(ky * middle) * up
    out = np.zeros((pieces.count, ky.size))
    first = pieces.z.size - 1
    out[first:-1] += 0.5 * flat - tilt
    out[first + 1 :] += 0.5 * flat + tilt
    return out


def riser_charge(pieces: WirePieces, ky: NDArray) -> NDArray:
    """Integral (s, n) of sin(ky y) over each piece of the riser."""
    middle, half = 0.5 * (pieces.y[1:] + pieces.y[:-1])[:, None], 0.5 * abs(pieces.y[1] - pieces.y[0])
    return 2 * half * np.sinc(ky * half / math.pi) * np.sin(ky * middle)
