"""Bent probe through the end of a rectangular guide, as a thin wire by the method of moments.

The wire leaves the short at z = 0 at a height h above the back wall, runs along z, bends at z = run and
rises (or falls) along y. Vector and scalar potential in the guide with its short, all on the plane
x = offset, are sums over harmonics n of the height,

    A_y : (e_n/b) cos cos (h_n(z - z') - h_n(z + z')),    A_z : (2/b) sin sin (h_n(z - z') + h_n(z + z')),
    Phi : (2/b) sin sin (h_n(z - z') - h_n(z + z')),

h_n(d) = [K0(gamma_n rho) + images in the side walls] / (2 pi), rho^2 = d^2 + radius^2 (current on the axis,
field on the surface), gamma_n^2 = (n pi / b)^2 - k^2. The run has no A_y and the riser no A_z, so that
they see each other by Phi alone, and TE10, which is in A_y alone, sees the riser alone: its harmonic n = 0,
taken as matched both ways, makes the bent probe a source in shunt at z = run like a straight one
(`simharness.em.probe.straight.ProbeNetwork`).

Current: straight pieces between nodes, charge constant on each. Drive: the frill of the coax, E_z = V
(cos(k R1) / R1 - cos(k R2) / R2) / ln(outer/inner) on the axis, R^2 = z^2 + inner^2, z^2 + outer^2
(static potential of the aperture over a plane, standing waves added: nothing but TE10 may leave). A dielectric around the foot of the run
lessens the potential of its charge as in `probe_moment`. An open tip
counts `TIP_RADII` radii longer, for the charge on its flat end. Own derivation; power balance and reciprocity
hold to rounding.

Left out: current that varies around the wire (it matters where a wire is nearer than two diameters to a wall), the
shape of the bend, evanescent modes between riser and slots, shorts other than that at z = 0 for all but TE10.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.special import ellipe, ellipk, j0, k0, y0

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.guide.rectangular import phase_constant
from simharness.em.probe.kernel import short_part, side_wall_part
from simharness.em.probe.straight import CoaxLine, ProbeNetwork, sleeve_elastance

TIP_RADII = 0.13
"""By how many radii an open tip counts longer: what brings a straight probe made of the same pieces to that of
`probe_moment`, which holds the charge on the end (0.12 to 0.15 for four probes at 2.44, 5.8 and 10 GHz)."""

_FADED = 36.0
"""exp(-36) = 2e-16."""
_MAX_PIECES = 26
_TABLE = 60
"""Distances in a table of Green's function along the run: within 1e-5 of it."""
_GAUSS, _FRILL_GAUSS, *_RING_GAUSS = (np.polynomial.legendre.leggauss(order) for order in (6, 16, 40, 41))


@dataclass(frozen=True)
class BentShape:
    """A round wire from the short along the guide, then across it; m.

    Attributes
    ----------
    offset : axis from the centre line of the broad walls.
    height : axis of the run above the back wall.
    run : from the short to the axis of the riser.
    rise : from the axis of the run to the tip, or to the wall.
    up : +1 towards the front wall, -1 towards the back wall.
    soldered : the tip ends on that wall.
    diameter : of the wire.
    dielectric : how far the dielectric of the coax goes along the run.
    """

    offset: float
    height: float
    run: float
    rise: float
    up: int
    soldered: bool
    diameter: float
    dielectric: float = 0.0


@dataclass(frozen=True)
class _Wire:
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


def bent_network(a: float, b: float, wire: BentShape, coax: CoaxLine, frequency: NDArray) -> ProbeNetwork:
    """Three-port of a bent probe: its coax, and TE10 to both sides at its riser.

    Parameters
    ----------
    a, b : float
        Inner width and height of the guide, m; the short is at z = 0.
    wire : BentShape
    coax : CoaxLine
        In the end wall. The wire is taken at most as thick as nine tenths of the bore.
    frequency : (f,) array
        Hz, between the cutoffs of TE10 and the next mode.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.
    """
    frequency = np.asarray(frequency, dtype=float)
    k = TWO_PI * frequency / C0
    pieces = _pieces(wire, coax)
    beta = phase_constant(a, frequency)
    field = np.sqrt(2.0 * k * ETA0 / (a * b * beta)) * math.cos(math.pi * wire.offset / a)
    wave = (field * j0(k * pieces.radius))[:, None] * _riser_current(pieces, np.zeros(1))[:, 0] * wire.up
    drive = _frill(pieces, k)
    matrix = np.stack([_matrix(a, b, wire, coax, pieces, one) for one in k])
    kept = slice(0, pieces.count if wire.soldered else pieces.count - 1)
    solved = np.linalg.solve(matrix[:, kept, kept], np.stack([drive, wave + 0j], axis=-1)[:, kept])
    own = np.einsum("fp,fp->f", drive[:, kept], solved[..., 0]) + 1j * k / ETA0 * _aperture_length(pieces)
    link = np.einsum("fp,fp->f", wave[:, kept], solved[..., 0])
    return ProbeNetwork(frequency, own, link, np.einsum("fp,fp->f", wave[:, kept], solved[..., 1]), coax)


def _pieces(wire: BentShape, coax: CoaxLine) -> _Wire:
    """Pieces a little longer than the wire is thick, fewer where it is very long."""
    outer = 0.5 * coax.outer
    radius = min(0.5 * wire.diameter, 0.9 * outer)
    rise = wire.rise if wire.soldered else wire.rise + TIP_RADII * radius
    step = max(2.4 * radius, (wire.run + rise) / (2 * _MAX_PIECES))
    runs, rises = (max(3, round(length / step)) for length in (wire.run, rise))
    y = wire.height + wire.up * np.linspace(0.0, rise, rises + 1)
    return _Wire(np.linspace(0.0, wire.run, runs + 1), y, radius, max(0.5 * coax.inner, radius), outer)


def _matrix(a: float, b: float, wire: BentShape, coax: CoaxLine, pieces: _Wire, k: float) -> NDArray:
    """Z (p, p), ohm, at one wavenumber."""
    order = np.arange(1, math.ceil(_FADED * b / (math.pi * pieces.radius)) + 1)
    gamma = np.sqrt((order * math.pi / b) ** 2 - k**2)
    side = _SideImages(a, wire.offset, pieces.radius, gamma)
    foot = np.sin(order * math.pi * wire.height / b)
    magnetic = np.zeros((pieces.count, pieces.count), dtype=complex)
    run, riser = slice(0, pieces.z.size), slice(pieces.z.size - 1, None)
    magnetic[run, run], along = _run_parts(pieces.z, side, 2.0 / b * foot**2)
    magnetic[riser, riser] += _riser_magnetic(a, b, wire, pieces, k, side)
    across = 2.0 / b * _riser_charge(pieces, order * math.pi / b)
    seen = side(0.0) - side(2.0 * wire.run)
    mixed = _run_average(pieces.z, lambda z: side(wire.run - z) - side(wire.run + z)) * foot @ across.T
    charge = np.block([[along, mixed], [mixed.T, (across * seen) @ across.T * b / 2.0]])
    if wire.dielectric:
        charge -= _coated(pieces, wire.dielectric, sleeve_elastance(coax, pieces.radius))
    slope = _slopes(pieces)
    return 1j * k * ETA0 * magnetic + ETA0 / (1j * k) * slope.T @ charge @ slope


def _slopes(pieces: _Wire) -> NDArray:
    """Current lost per length on each piece (s, p), of unit current at each node."""
    steps = np.concatenate([np.diff(pieces.z), np.abs(np.diff(pieces.y))])
    rows = np.arange(steps.size)
    out = np.zeros((steps.size, steps.size + 1))
    out[rows, rows], out[rows, rows + 1] = -1 / steps, 1 / steps
    return out


class _SideImages:
    """h_n(d) (n,) of a wire seen at its surface, images in the side walls included."""

    def __init__(self, a: float, offset: float, radius: float, gamma: NDArray):
        self._gamma, self.radius = gamma, radius
        u = offset / a + 0.5
        reach = math.ceil(_FADED / (2 * a * gamma[0])) + 1
        number = np.arange(-min(reach, 40), min(reach, 40) + 1)
        self._like = 2 * a * number[number != 0]
        self._unlike = 2 * a * (number - u)
        nearest = np.abs(np.concatenate([self._like, self._unlike])).min()
        self._few = int(np.count_nonzero(gamma * nearest < _FADED))

    def __call__(self, distance: NDArray | float) -> NDArray:
        """Shape (..., n) for distances (...) along the guide, m."""
        square = np.asarray(distance, dtype=float)[..., None] ** 2
        turn = self._gamma * np.sqrt(square + self.radius**2)
        out, alive = np.zeros(turn.shape), turn < _FADED
        out[alive] = k0(turn[alive])
        low = self._gamma[: self._few]
        for sign, places in ((1.0, self._like), (-1.0, self._unlike)):
            for place in places:
                out[..., : self._few] += sign * k0(low * np.sqrt(square + place**2))
        return out / TWO_PI


def _run_parts(z: NDArray, side: _SideImages, weight: NDArray) -> tuple[NDArray, NDArray]:
    """Of the run: integrals of G for A_z between nodes (p, p), and of G for Phi between pieces (s, s).

    G depends on distance alone: it is computed at few distances, and interpolated.
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


def _smooth_table(most: float, side: _SideImages, weight: NDArray) -> Callable[[NDArray], NDArray]:
    """Sum over the harmonics as a function of the distance, m: a spline over the inverse hyperbolic sine of d / radius."""
    places = np.linspace(0.0, math.asinh(most / side.radius), _TABLE)
    spline = CubicSpline(places, side(side.radius * np.sinh(places)) @ weight)
    return lambda distance: spline(np.arcsinh(distance / side.radius))


def _run_average(z: NDArray, function) -> NDArray:
    """Integral (s, n) of a function of z over each piece of the run."""
    x, w = _GAUSS
    step = z[1] - z[0]
    points = z[:-1, None] + 0.5 * step * (x + 1)
    return np.einsum("suN,u->sN", function(points), 0.5 * step * w)


def _riser_magnetic(
    a: float, b: float, wire: BentShape, pieces: _Wire, k: float, side: _SideImages
) -> NDArray:
    """Integrals of G for A_y between nodes of the riser (p, p); TE10 as matched both ways."""
    order = np.arange(1, side(0.0).size + 1)
    high = _riser_current(pieces, order * math.pi / b)[pieces.z.size - 1 :]
    low = _riser_current(pieces, np.zeros(1))[pieces.z.size - 1 :]
    at, gamma = np.array([k]), np.ones((1, 1))
    back = side_wall_part(a, wire.offset, at, gamma) + short_part(
        a, wire.offset, gamma, at, wire.run, math.inf
    )
    z = k * pieces.radius
    alone = j0(z) * (-0.25j * (j0(z) - 1j * y0(z)) + j0(z) * back[0, 0])
    return 2.0 / b * (high * (side(0.0) - side(2.0 * wire.run))) @ high.T + alone / b * low @ low.T


def _riser_current(pieces: _Wire, ky: NDArray) -> NDArray:
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


def _riser_charge(pieces: _Wire, ky: NDArray) -> NDArray:
    """Integral (s, n) of sin(ky y) over each piece of the riser."""
    middle, half = 0.5 * (pieces.y[1:] + pieces.y[:-1])[:, None], 0.5 * abs(pieces.y[1] - pieces.y[0])
    return 2 * half * np.sinc(ky * half / math.pi) * np.sin(ky * middle)


def _coated(pieces: _Wire, length: float, lessened: float) -> NDArray:
    """What a dielectric around the run takes off the potential of the pieces that it covers (s, s)."""
    step = pieces.z[1] - pieces.z[0]
    covered = np.clip(length - pieces.z[:-1], 0.0, step)
    middle = 0.5 * (pieces.z[1:] + pieces.z[:-1])
    # charge has its opposite image in the short
    near, far = (
        np.maximum(0.0, 1.0 - np.abs(middle[:, None] + sign * middle[None, :]) / pieces.outer) / pieces.outer
        for sign in (-1, 1)
    )
    # the average along the wire of the charge density, which is that of its pieces
    smoothed = step * (near - far)
    out = np.zeros((pieces.count - 1, pieces.count - 1))
    out[: middle.size, : middle.size] = lessened * (smoothed.T * covered) @ smoothed
    return out


def _frill(pieces: _Wire, k: NDArray) -> NDArray:
    """Field of the aperture at 1 V, tested on the run (f, p)."""
    x, w = _FRILL_GAUSS
    z, step = pieces.z, pieces.z[1] - pieces.z[0]
    point = 0.5 * (x + 1)
    places = z[:-1, None] + step * point
    near, far = (np.sqrt(places**2 + radius**2) for radius in (pieces.inner, pieces.outer))
    turn = k[:, None, None]
    field = (np.cos(turn * near) / near - np.cos(turn * far) / far) / math.log(pieces.outer / pieces.inner)
    out = np.zeros((k.size, pieces.count))
    out[:, : z.size - 1] += np.einsum("fsu,u->fs", field, 0.5 * step * w * (1 - point))
    out[:, 1 : z.size] += np.einsum("fsu,u->fs", field, 0.5 * step * w * point)
    return out


def _aperture_length(pieces: _Wire) -> float:
    """Capacitance of the aperture itself over a plane, divided by eps_0, m: rings of magnetic current on each other."""
    inner, outer = pieces.inner, pieces.outer
    (x, wx), (y, wy) = _RING_GAUSS
    one, two = (inner + 0.5 * (outer - inner) * (t + 1) for t in (x, y))
    total = one[:, None] + two[None, :]
    m = 4 * one[:, None] * two[None, :] / total**2
    rings = 4 / total * ((2 / m - 1) * ellipk(m) - 2 / m * ellipe(m))
    return float(wx @ rings @ wy) * (0.5 * (outer - inner)) ** 2 / math.log(outer / inner) ** 2
