"""Response of an infinitely long rectangular tube to a plane wave, at slots in its broad faces.

A boundary integral on the outline; see `simharness.em.pattern.aperture`. It holds for slots on either broad
face: the voltage of a slot stands for the magnetic current along z, so that equal voltages drive E the same
way around the tube.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import hankel2

from simharness.constants import TWO_PI

_NODES = 14
"""Solutions over the wavenumber across the tube between which the response is interpolated."""


@dataclass(frozen=True)
class RectangularTube:
    """Outline of the tube: outer width along x and height along y, front face at y = 0, m."""

    width: float
    height: float

    def responses(
        self, across: NDArray, offsets: NDArray, phi: NDArray, behind: NDArray | None = None
    ) -> NDArray:
        """See `Tube.responses`; interpolated linearly in the wavenumber between a few exact solutions."""
        back = np.zeros(len(offsets), dtype=bool) if behind is None else behind
        distinct = np.stack([np.round(offsets, 9), back])
        (places, at_back), which = np.unique(distinct, axis=1, return_inverse=True)
        at_back, which = at_back > 0, which.ravel()
        top = float(np.max(across))
        if np.ptp(across) < 1e-9 * top:
            alike = self.response(top, places, phi, behind=at_back)[which]
            return np.broadcast_to(alike, (across.size, which.size, phi.size))
        nodes = top * np.sin(np.linspace(0.05, 1.0, _NODES) * math.pi / 2)
        table = np.stack([self.response(node, places, phi, behind=at_back) for node in nodes])
        i = np.clip(np.searchsorted(nodes, across) - 1, 0, _NODES - 2)
        part = np.clip((across - nodes[i]) / (nodes[i + 1] - nodes[i]), 0.0, 1.0)[:, None, None]
        return ((1 - part) * table[i] + part * table[i + 1])[:, which]

    def response(
        self,
        wavenumber: float,
        offsets: NDArray,
        phi: NDArray,
        per_wavelength: int = 20,
        behind: NDArray | None = None,
    ) -> NDArray:
        """H_z at the slots over that of the incident wave alone, phase zero at the origin.

        The integral equation of the rigid body, h/2 - int h dG/dn = h_inc, by collocation
        with constant elements; two points inside, where the total field vanishes, exclude
        the spurious resonances of the closed outline.

        Parameters
        ----------
        wavenumber : float
            Across the tube, k sin(theta), 1/m, positive.
        offsets : (n,) array
            Slots, m from the middle of their face.
        phi : (p,) array
            Direction of the far field, rad from +x.
        per_wavelength : int
            Elements per wavelength at least; about 1 % for 20.
        behind : (n,) bool array, optional
            Whether a slot lies on the back face; by default all lie on the front.

        Returns
        -------
        (n, p) complex array
        """
        points, normals, field = _surface_field(
            self, float(wavenumber), tuple(map(float, phi)), per_wavelength
        )
        faces = {True: normals[:, 1] < -0.5, False: normals[:, 1] > 0.5}
        order = np.argsort(points[:, 0], kind="stable")
        rows = {back: order[there[order]] for back, there in faces.items()}
        if behind is None:
            behind = np.zeros(len(offsets), dtype=bool)
        return np.stack(
            [_between(points[rows[bool(b)], 0], field[rows[bool(b)]], x) for x, b in zip(offsets, behind)]
        )

    def _outline(self, longest: float) -> tuple[NDArray, ...]:
        """Mid-points, outward normals and lengths of the elements, counter-clockwise."""
        half = self.width / 2
        corner = np.array([(half, -self.height), (half, 0.0), (-half, 0.0), (-half, -self.height)])
        points, normals, lengths = [], [], []
        for start, stop in zip(corner, np.roll(corner, -1, axis=0)):
            edge = stop - start
            size = math.hypot(*edge)
            count = max(4, math.ceil(size / longest))
            points.append(start + (np.arange(count) + 0.5)[:, None] / count * edge)
            normals.append(np.broadcast_to([edge[1] / size, -edge[0] / size], (count, 2)))
            lengths.append(np.full(count, size / count))
        return np.concatenate(points), np.concatenate(normals), np.concatenate(lengths)


@lru_cache(maxsize=64)
def _surface_field(
    tube: RectangularTube, wavenumber: float, phi: tuple[float, ...], per_wavelength: int
) -> tuple[NDArray, NDArray, NDArray]:
    """Points (e, 2) and normals (e, 2) of the outline, and the field there and at the two points inside,
    (e + 2, p): see `RectangularTube.response`. It does not depend on the slots, and is kept."""
    longest = min(TWO_PI / (wavenumber * per_wavelength), max(tube.width, tube.height) / 12)
    points, normals, lengths = tube._outline(longest)
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
    field.setflags(write=False)
    return points, normals, field


def _between(x: NDArray, rows: NDArray, at: float) -> NDArray:
    """Linear interpolation of rows (also beyond the last point)."""
    i = int(np.clip(np.searchsorted(x, at) - 1, 0, x.size - 2))
    part = (at - x[i]) / (x[i + 1] - x[i])
    return (1 - part) * rows[i] + part * rows[i + 1]
