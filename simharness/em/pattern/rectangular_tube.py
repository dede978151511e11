"""Radiation of longitudinal slots from an infinitely long rectangular tube.

A magnetic current along z on an infinitely long tube makes a field with H_z alone as
its source; for the axial wavenumber k cos(theta) the field across is a
two-dimensional one of wavenumber k sin(theta). By reciprocity, the far field in a
direction is the field H_z which a plane wave from there makes at the slot (own
derivation). Thus

    E_phi(theta, phi) ~ sin(theta) sum_n V_n c_n(k cos theta) exp(j k z_n cos theta)
                        h(x_n, phi; k sin theta),

with h = 2 on an infinite plane and 1 without any metal. h comes from a boundary
integral on the outline, which holds for slots on either broad face: V_n stands for the magnetic
current along z, so that equal voltages drive E the same way around the tube. The ends of the tube are not there, so the field close to the
axis and behind the tube is indicative only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import hankel2

from simharness.constants import C0, TWO_PI
from simharness.em.pattern.round_tube import RoundTube, round_slot_response


@dataclass(frozen=True)
class RectangularTube:
    """Outline of the tube: outer width along x and height along y, front face at y = 0, m."""

    width: float
    height: float


def _outline(tube: RectangularTube, longest: float) -> tuple[NDArray, ...]:
    """Mid-points, outward normals and lengths of the elements, counter-clockwise."""
    half = tube.width / 2
    corner = np.array([(half, -tube.height), (half, 0.0), (-half, 0.0), (-half, -tube.height)])
    points, normals, lengths = [], [], []
    for start, stop in zip(corner, np.roll(corner, -1, axis=0)):
        edge = stop - start
        size = math.hypot(*edge)
        count = max(4, math.ceil(size / longest))
        points.append(start + (np.arange(count) + 0.5)[:, None] / count * edge)
        normals.append(np.broadcast_to([edge[1] / size, -edge[0] / size], (count, 2)))
        lengths.append(np.full(count, size / count))
    return np.concatenate(points), np.concatenate(normals), np.concatenate(lengths)


def slot_response(
    tube: RectangularTube,
    wavenumber: float,
    offsets: NDArray,
    phi: NDArray,
    per_wavelength: int = 20,
    back: NDArray | None = None,
) -> NDArray:
    """H_z at the slots over that of the incident wave alone, phase zero at the origin.

    The integral equation of the rigid body, h/2 - int h dG/dn = h_inc, by collocation
    with constant elements; two points inside, where the total field vanishes, exclude
    the spurious resonances of the closed outline.

    Parameters
    ----------
    tube : RectangularTube
    wavenumber : float
        Across the tube, k sin(theta), 1/m, positive.
    offsets : (n,) array
        Slots, m from the middle of their face.
    phi : (p,) array
        Direction of the far field, rad from +x.
    per_wavelength : int
        Elements per wavelength at least; about 1 % for 20.
    back : (n,) bool array, optional
        Whether a slot lies on the back face; by default all lie on the front.

    Returns
    -------
    (n, p) complex array
    """
    longest = min(TWO_PI / (wavenumber * per_wavelength), max(tube.width, tube.height) / 12)
    points, normals, lengths = _outline(tube, longest)
    inner = np.array([[0.137 * tube.width, -0.41 * tube.height], [-0.211 * tube.width, -0.63 * tube.height]])
    seen = np.concatenate([points, inner])
    step = seen[:, None, :] - points[None, :, :]
    distance = np.hypot(step[..., 0], step[..., 1])
    itself = distance == 0
    distance = np.where(itself, 1.0, distance)
    # dG/dn' of G = -j/4 H0(k R), exp(+j omega t); the element on itself is flat: zero.
    along = (step * normals[None]).sum(axis=-1) / distance
    kernel = np.where(itself, 0.0, -0.25j * wavenumber * hankel2(1, wavenumber * distance) * along * lengths)
    matrix = -kernel
    np.fill_diagonal(matrix[: len(points)], 0.5)
    direction = np.stack([np.cos(phi), np.sin(phi)])
    incident = np.exp(1j * wavenumber * (seen @ direction))
    field = np.linalg.lstsq(matrix, incident, rcond=None)[0]
    faces = {True: normals[:, 1] < -0.5, False: normals[:, 1] > 0.5}
    order = np.argsort(points[:, 0], kind="stable")
    rows = {behind: order[there[order]] for behind, there in faces.items()}
    behind = np.zeros(len(offsets), dtype=bool) if back is None else back
    return np.stack(
        [_between(points[rows[bool(b)], 0], field[rows[bool(b)]], x) for x, b in zip(offsets, behind)]
    )


def _between(x: NDArray, rows: NDArray, at: float) -> NDArray:
    """Linear interpolation of rows (also beyond the last point)."""
    i = int(np.clip(np.searchsorted(x, at) - 1, 0, x.size - 2))
    part = (at - x[i]) / (x[i + 1] - x[i])
    return (1 - part) * rows[i] + part * rows[i + 1]


@dataclass(frozen=True)
class Aperture:
    """Slots with their voltages.

    Attributes
    ----------
    offsets, positions, lengths : (n,) arrays
        Centres across (on a round tube: along its outer surface) and along, and lengths, m.
    voltages : (n,) complex array
        Of slots on the back face against x.
    back : (n,) bool array or None
        Whether a slot lies on the back face; None: all lie on the front.
    """

    offsets: NDArray
    positions: NDArray
    lengths: NDArray
    voltages: NDArray
    back: NDArray | None = None

    @property
    def behind(self) -> NDArray:
        """Whether each slot lies on the back face, (n,) bool."""
        return np.zeros(len(self.offsets), dtype=bool) if self.back is None else self.back

    def single(self, index: int) -> Aperture:
        """One slot alone, at 1 V."""
        one = slice(index, index + 1)
        return Aperture(
            self.offsets[one], self.positions[one], self.lengths[one], np.ones(1), self.behind[one]
        )


def slot_spectrum(axial: NDArray, length: float) -> NDArray:
    """Fourier transform of cos(pi z/L) on the slot at axial wavenumber (1/m), m."""
    x = 0.5 * length * np.asarray(axial, dtype=float)
    gap = 0.25 * math.pi**2 - x**2
    gap = np.where(np.abs(gap) < 1e-9, 1e-9, gap)
    return 0.5 * math.pi * length * np.cos(x) / gap


def radiated_field(
    tube: RectangularTube | RoundTube, aperture: Aperture, frequency: float, theta: NDArray, phi: NDArray
) -> NDArray:
    """E_phi in arbitrary unit on the grid, (theta, phi) complex array.

    Parameters
    ----------
    frequency : float
        Hz.
    theta, phi : (t,), (p,) arrays
        rad; the field is zero along the axis, theta = 0 and pi.
    """
    k = TWO_PI * frequency / C0
    axial, across = k * np.cos(theta), k * np.sin(theta)
    response = _response_table(tube, across, aperture, phi)
    weight = np.stack(
        [
            v * slot_spectrum(axial, length) * np.exp(1j * z * axial)
            for v, length, z in zip(aperture.voltages, aperture.lengths, aperture.positions)
        ]
    )
    return np.sin(theta)[:, None] * np.einsum("nt,tnp->tp", weight, response)


def _response_table(
    tube: RectangularTube | RoundTube, across: NDArray, aperture: Aperture, phi: NDArray, count: int = 14
) -> NDArray:
    """h for every theta, for a rectangular tube interpolated linearly in k sin(theta) between solutions."""
    if isinstance(tube, RoundTube):
        return round_slot_response(tube, np.maximum(across, 1e-6 * np.max(across)), aperture.offsets, phi)
    distinct = np.stack([np.round(aperture.offsets, 9), aperture.behind])
    (places, behind), which = np.unique(distinct, axis=1, return_inverse=True)
    behind, which = behind > 0, which.ravel()
    top = float(np.max(across))
    if np.ptp(across) < 1e-9 * top:
        alike = slot_response(tube, top, places, phi, back=behind)[which]
        return np.broadcast_to(alike, (across.size, which.size, phi.size))
    nodes = top * np.sin(np.linspace(0.05, 1.0, count) * math.pi / 2)
    table = np.stack([slot_response(tube, node, places, phi, back=behind) for node in nodes])
    i = np.clip(np.searchsorted(nodes, across) - 1, 0, count - 2)
    part = np.clip((across - nodes[i]) / (nodes[i + 1] - nodes[i]), 0.0, 1.0)[:, None, None]
    return ((1 - part) * table[i] + part * table[i + 1])[:, which]
