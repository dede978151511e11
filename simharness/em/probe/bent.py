"""Bent probe through the end of a rectangular guide, as a thin wire by the method of moments.

The wire leaves the short at z = 0 at a height h above the back wall, runs along z, bends at z = run and
rises (or falls) along y. Vector and scalar potential in the guide with its short, all on the plane
x = offset, are sums over harmonics n of the height,

    A_y : (e_n/b) cos cos (h_n(z - z') - h_n(z + z')),    A_z : (2/b) sin sin (h_n(z - z') + h_n(z + z')),
    Phi : (2/b) sin sin (h_n(z - z') - h_n(z + z')),

h_n(d) = [K0(gamma_n rho) + images in the side walls] / (2 pi), rho^2 = d^2 + radius^2 (current on the axis,
field on the surface), gamma_n^2 = (n pi / b)^2 - k^2. The run has no A_y and the riser no A_z, so that they
are coupled by Phi alone, and TE10, which is in A_y alone, is coupled to the riser alone: its harmonic n = 0,
taken as matched both ways, makes the bent probe a source in shunt at z = run like a straight one
(`simharness.em.probe.network.ProbeNetwork`). The integrals are in `simharness.em.probe.bent_kernel`.

Current: straight pieces between nodes, charge constant on each. Drive: the frill of the coax, E_z = V (cos(k
R1) / R1 - cos(k R2) / R2) / ln(outer/inner) on the axis, R^2 = z^2 + inner^2, z^2 + outer^2 (static potential
of the aperture over a plane, standing waves added: only TE10 can propagate away). A dielectric around the
foot of the run reduces the potential of its charge as in `simharness.em.probe.straight`. An open tip is taken
`TIP_RADII` radii longer, for the charge on its flat end. Own derivation; power balance and reciprocity hold
to rounding.

Neglected: current that varies around the wire (it matters where a wire is nearer than two diameters to a
wall), the shape of the bend, evanescent modes between riser and slots, shorts other than that at z = 0 for
all modes except TE10.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ellipe, ellipk, j0

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.guide.rectangular import phase_constant
from simharness.em.probe.bent_kernel import (
    DECAYED,
    SideImages,
    WirePieces,
    riser_charge,
    riser_current,
    riser_magnetic,
    run_average,
    run_parts,
)
from simharness.em.probe.network import CoaxLine, ProbeNetwork, sleeve_elastance

TIP_RADII = 0.13
"""Extension of an open tip in radii: it makes a straight probe built of the same pieces equal to that of
`simharness.em.probe.straight`, which includes the charge on the end (0.12 to 0.15 for four probes at 2.44,
5.8 and 10 GHz)."""

_MAX_PIECES = 26
_FRILL_GAUSS, *_RING_GAUSS = (np.polynomial.legendre.leggauss(order) for order in (16, 40, 41))


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
    dielectric : length of the run that is covered by the dielectric of the coax.
    """

    offset: float
    height: float
    run: float
    rise: float
    up: int
    soldered: bool
    diameter: float
    dielectric: float = 0.0

    def network_in(
        self,
        a: float,
        b: float,
        coax: CoaxLine,
        frequency: NDArray,
        back_short: float,
        diameter: float | None = None,
    ) -> ProbeNetwork:
        """Three-port of this probe in a rectangular guide; its run is the distance from the short.

        The parameters are those of `simharness.em.probe.straight.ProbeShape.network_in`.
        """
        return bent_network(a, b, self, coax, frequency)


def bent_network(a: float, b: float, wire: BentShape, coax: CoaxLine, frequency: NDArray) -> ProbeNetwork:
    """Three-port of a bent probe: its coax, and TE10 to both sides at its riser.

    Parameters
    ----------
    a, b : float
        Inner width and height of the guide, m; the short is at z = 0.
    wire : BentShape
    coax : CoaxLine
        In the end wall. The diameter of the wire is limited to nine tenths of that of the bore.
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
    wave = (field * j0(k * pieces.radius))[:, None] * riser_current(pieces, np.zeros(1))[:, 0] * wire.up
    drive = _frill(pieces, k)
    matrix = np.stack([_matrix(a, b, wire, coax, pieces, one) for one in k])
    kept = slice(0, pieces.count if wire.soldered else pieces.count - 1)
    solved = np.linalg.solve(matrix[:, kept, kept], np.stack([drive, wave + 0j], axis=-1)[:, kept])
    own = np.einsum("fp,fp->f", drive[:, kept], solved[..., 0]) + 1j * k / ETA0 * _aperture_length(pieces)
    link = np.einsum("fp,fp->f", wave[:, kept], solved[..., 0])
    return ProbeNetwork(frequency, own, link, np.einsum("fp,fp->f", wave[:, kept], solved[..., 1]), coax)


def _pieces(wire: BentShape, coax: CoaxLine) -> WirePieces:
    """Pieces a little longer than the wire is thick, fewer where it is very long."""
    outer = 0.5 * coax.outer
    radius = min(0.5 * wire.diameter, 0.9 * outer)
    rise = wire.rise if wire.soldered else wire.rise + TIP_RADII * radius
    step = max(2.4 * radius, (wire.run + rise) / (2 * _MAX_PIECES))
    runs, rises = (max(3, round(length / step)) for length in (wire.run, rise))
    y = wire.height + wire.up * np.linspace(0.0, rise, rises + 1)
    return WirePieces(np.linspace(0.0, wire.run, runs + 1), y, radius, max(0.5 * coax.inner, radius), outer)


def _matrix(a: float, b: float, wire: BentShape, coax: CoaxLine, pieces: WirePieces, k: float) -> NDArray:
    """Z (p, p), ohm, at one wavenumber."""
    order = np.arange(1, math.ceil(DECAYED * b / (math.pi * pieces.radius)) + 1)
    gamma = np.sqrt((order * math.pi / b) ** 2 - k**2)
    side = SideImages(a, wire.offset, pieces.radius, gamma)
    foot = np.sin(order * math.pi * wire.height / b)
    magnetic = np.zeros((pieces.count, pieces.count), dtype=complex)
    run, riser = slice(0, pieces.z.size), slice(pieces.z.size - 1, None)
    magnetic[run, run], along = run_parts(pieces.z, side, 2.0 / b * foot**2)
    magnetic[riser, riser] += riser_magnetic(a, b, (wire.offset, wire.run), pieces, k, side)
    across = 2.0 / b * riser_charge(pieces, order * math.pi / b)
    seen = side(0.0) - side(2.0 * wire.run)
    mixed = run_average(pieces.z, lambda z: side(wire.run - z) - side(wire.run + z)) * foot @ across.T
    charge = np.block([[along, mixed], [mixed.T, (across * seen) @ across.T * b / 2.0]])
    if wire.dielectric:
        charge -= _coated(pieces, wire.dielectric, sleeve_elastance(coax, pieces.radius))
    slope = _slopes(pieces)
    return 1j * k * ETA0 * magnetic + ETA0 / (1j * k) * slope.T @ charge @ slope


def _slopes(pieces: WirePieces) -> NDArray:
    """Decrease of the current per length on each piece (s, p), for unit current at each node."""
    steps = np.concatenate([np.diff(pieces.z), np.abs(np.diff(pieces.y))])
    rows = np.arange(steps.size)
    out = np.zeros((steps.size, steps.size + 1))
    out[rows, rows], out[rows, rows + 1] = -1 / steps, 1 / steps
    return out


def _coated(pieces: WirePieces, length: float, reduction: float) -> NDArray:
    """Reduction (s, s) of the potential of the pieces that a dielectric around the run covers."""
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
    out[: middle.size, : middle.size] = reduction * (smoothed.T * covered) @ smoothed
    return out


def _frill(pieces: WirePieces, k: NDArray) -> NDArray:
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


def _aperture_length(pieces: WirePieces) -> float:
    """Capacitance of the aperture over a plane, divided by eps_0, m: coupled magnetic ring currents."""
    inner, outer = pieces.inner, pieces.outer
    (x, wx), (y, wy) = _RING_GAUSS
    one, two = (inner + 0.5 * (outer - inner) * (t + 1) for t in (x, y))
    total = one[:, None] + two[None, :]
    m = 4 * one[:, None] * two[None, :] / total**2
    rings = 4 / total * ((2 / m - 1) * ellipk(m) - 2 / m * ellipe(m))
    return float(wx @ rings @ wy) * (0.5 * (outer - inner)) ** 2 / math.log(outer / inner) ** 2
