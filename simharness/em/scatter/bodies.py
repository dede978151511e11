"""Fields along z around long metal bodies, in two dimensions: the rigid body's integral equation.

H_z of a slot's magnetic current on metal bodies that are endless along z obeys the Helmholtz equation with
dH_z/dn = 0 on the metal. On the outlines

    h/2 - int h dG/dn' = h_inc,    G = -j/4 H0(2)(k R), exp(+j omega t),

by collocation with constant elements. The double layer of an element is its exact angle as seen from the
point, over 2 pi, times what the wave adds to the static kernel, so that thin bodies and near faces come out
right. Points inside the bodies, where the total field vanishes, exclude the resonances of closed outlines. An
endless plane doubles everything by its image. Waves that decay along z beyond the speed of light have
k = -j kappa, with modified Bessel functions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import j0, j1, k0, k1, y0, y1

from simharness.constants import TWO_PI

PER_WAVELENGTH = 24
"""Elements per wavelength on average at least: about 1 % in the field on a tube of 44 x 24 mm at 5.8 GHz."""
_PER_THICKNESS = 3.0
"""Longest element of a thin part, in its thicknesses: beyond four the field on a strip is wrong by a tenth,
and more with every halving (against Mathieu functions, strips of one and two wavelengths)."""
_GRADING = 0.6
"""How much shorter than the mean the elements next to a corner are: there the field has an infinite slope."""
_LEAST = 48
"""Elements around a body at least."""
_SMALL = 1e-12
_TRIED = 2000
_SPREAD = np.array([0.7548776662466927, 0.5698402909980532])
"""Points tried for places inside an outline that is not convex, and the step from each to the next, in sizes
of its bounding box: they fill it evenly (powers of the inverse of the plastic number)."""


@dataclass(frozen=True)
class Plane:
    """An endless metal plane normal to `axis` (0: x, 1: y) at `place`, m; all bodies lie on one side."""

    axis: int
    place: float

    def image(self, points: NDArray) -> NDArray:
        """Points (n, 2) mirrored, m."""
        mirrored = points.copy()
        mirrored[:, self.axis] = 2 * self.place - points[:, self.axis]
        return mirrored


@dataclass(frozen=True)
class Bodies:
    """Closed outlines of metal bodies, each its vertices (v, 2) counter-clockwise, m; and a plane or none.

    `thin`: least thickness of a part, m, where one is thin: elements of its two faces that see each other
    must be not much longer than that.
    """

    outlines: tuple[NDArray, ...]
    plane: Plane | None = None
    thin: float = math.inf

    @property
    def reach(self) -> float:
        """Largest distance from the origin to a body, an image or the plane, m."""
        every = np.concatenate(self.outlines)
        if self.plane is not None:
            every = np.concatenate([every, self.plane.image(every)])
        return float(np.hypot(*every.T).max())

    def solved(self, wavenumber: complex) -> Solved:
        """The bodies at a wavenumber across them, 1/m: real, or negative imaginary."""
        longest = TWO_PI / (max(abs(wavenumber), _SMALL) * PER_WAVELENGTH)
        longest = min(longest, _PER_THICKNESS * self.thin)
        elements = [_elements(outline, longest) for outline in self.outlines]
        starts, stops = (np.concatenate([e[i] for e in elements]) for i in (0, 1))
        inner = np.concatenate([_inner_points(outline) for outline in self.outlines])
        return Solved(complex(wavenumber), starts, stops, inner, self.plane, len(elements[0][0]))


class Solved:
    """Elements of the bodies and their matrix at one wavenumber; see `Bodies.solved`."""

    def __init__(
        self,
        wavenumber: complex,
        starts: NDArray,
        stops: NDArray,
        inner: NDArray,
        plane: Plane | None,
        first: int,
    ):
        self.wavenumber, self._starts, self._stops, self._plane = wavenumber, starts, stops, plane
        self._element = float(np.hypot(*(stops - starts)[:first].T).min())
        middles = (starts + stops) / 2
        self._seen = np.concatenate([middles, inner])
        matrix = -self._double_layer(self._seen)
        np.fill_diagonal(matrix[: len(middles)], matrix.diagonal() + 0.5)
        self._adjoint = matrix.conj().T
        self._normal = self._adjoint @ matrix

    def plane_waves(self, points: NDArray, phi: NDArray) -> NDArray:
        """Total field at points on the outlines over the incident wave's, phase zero at the origin.

        Parameters
        ----------
        points : (n, 2) array
            m.
        phi : (p,) array
            Where the waves come from, rad from +x.

        Returns
        -------
        (n, p) complex array
        """
        return self._total(points, self._incoming(self._seen, phi), self._incoming(points, phi))

    def from_points(self, points: NDArray, sources: NDArray) -> NDArray:
        """Total field at points on the outlines of unit line sources on the outlines.

        A source's own infinite field at itself is taken as its mean over an element of the first body, so
        that differences between one set of bodies and another are finite.

        Parameters
        ----------
        points, sources : (n, 2), (s, 2) arrays
            m.

        Returns
        -------
        (n, s) complex array
            G of free space is 1/4 of a Hankel function.
        """
        return self._total(points, self._radiated(self._seen, sources), self._radiated(points, sources))

    def _total(self, points: NDArray, incident: NDArray, there: NDArray) -> NDArray:
        """2 (h_inc + int h dG/dn'): few points, many incident fields, so the matrix is solved for points."""
        rows = self._double_layer(points)
        weights = np.linalg.solve(self._normal.T, rows.T).T @ self._adjoint
        return 2 * (there + weights @ incident)

    def _incoming(self, at: NDArray, phi: NDArray) -> NDArray:
        direction = np.stack([np.cos(phi), np.sin(phi)])
        field = np.exp(1j * self.wavenumber * (at @ direction))
        if self._plane is None:
            return field
        away = direction[self._plane.axis] * (1 if self._beyond > 0 else -1)
        mirrored = np.exp(1j * self.wavenumber * (self._plane.image(at) @ direction))
        return np.where(away > 0, field + mirrored, 0.0)

    @property
    def _beyond(self) -> float:
        """On which side of the plane the bodies are."""
        assert self._plane is not None
        return float(self._starts[0, self._plane.axis] - self._plane.place)

    def _radiated(self, at: NDArray, sources: NDArray) -> NDArray:
        field = self._green(at, sources)
        return field if self._plane is None else field + self._green(at, self._plane.image(sources))

    def _green(self, at: NDArray, sources: NDArray) -> NDArray:
        # exp(-1) / 2 of an element away, the logarithm has its mean over the element
        distance = np.maximum(
            np.hypot(*np.moveaxis(at[:, None] - sources[None], 2, 0)), self._element / (2 * math.e)
        )
        if self.wavenumber.imag:
            return k0(-self.wavenumber.imag * distance) / TWO_PI + 0j
        x = self.wavenumber.real * distance
        return -0.25j * (j0(x) - 1j * y0(x))

    def _double_layer(self, at: NDArray) -> NDArray:
        layer = self._layer(at, self._starts, self._stops)
        if self._plane is not None:  # mirrored outlines run the other way round
            layer += self._layer(at, self._plane.image(self._stops), self._plane.image(self._starts))
        return layer

    def _layer(self, at: NDArray, starts: NDArray, stops: NDArray) -> NDArray:
        first, last = starts[None] - at[:, None], stops[None] - at[:, None]
        turned = first[..., 0] * last[..., 1] - first[..., 1] * last[..., 0]
        angle = np.arctan2(turned, (first * last).sum(axis=-1))
        angle[np.abs(turned) < 1e-9 * np.hypot(*np.moveaxis(stops - starts, 1, 0)) ** 2] = 0.0
        middle = (first + last) / 2
        distance = np.maximum(np.hypot(middle[..., 0], middle[..., 1]), _SMALL)
        if self.wavenumber.imag:
            x = -self.wavenumber.imag * distance
            wave = x * k1(x) + 0j
        else:
            x = self.wavenumber.real * distance
            wave = -0.5j * math.pi * x * (j1(x) - 1j * y1(x))
        return -wave * angle / TWO_PI


def _elements(outline: NDArray, longest: float) -> tuple[NDArray, NDArray]:
    """Starts and stops of the elements of an outline, on average no longer than `longest` (m)."""
    following = np.roll(outline, -1, axis=0)
    sides = np.hypot(*(following - outline).T)
    longest = min(longest, sides.sum() / _LEAST)
    starts, stops = [], []
    for start, stop, side in zip(outline, following, sides):
        even = np.linspace(0, 1, max(1, math.ceil(side / longest - 1e-9)) + 1)[:, None]
        places = even - _GRADING * np.sin(TWO_PI * even) / TWO_PI
        points = start + places * (stop - start)
        starts.append(points[:-1])
        stops.append(points[1:])
    return np.concatenate(starts), np.concatenate(stops)


def _inner_points(outline: NDArray) -> NDArray:
    """Three points inside an outline, off its axes of symmetry."""
    middle, count = outline.mean(axis=0), len(outline)
    corners = outline[[0, count // 3, (2 * count) // 3]]
    found = middle + np.array([[0.31], [0.47], [0.13]]) * (corners - middle)
    if _inside(found, outline).all():
        return found
    low, high = outline.min(axis=0), outline.max(axis=0)
    step = np.arange(1, _TRIED + 1)[:, None]
    tried = low + (high - low) * np.mod(step * _SPREAD, 1.0)
    tried = tried[_inside(tried, outline)]
    deepest = np.argsort(-_depth(tried, outline))
    return tried[deepest[[0, deepest.size // 12, deepest.size // 5]]]


def _inside(points: NDArray, outline: NDArray) -> NDArray:
    """Which of the points (n, 2) an outline goes round."""
    first = outline[None] - points[:, None]
    last = np.roll(first, -1, axis=1)
    turned = first[..., 0] * last[..., 1] - first[..., 1] * last[..., 0]
    return np.arctan2(turned, (first * last).sum(axis=-1)).sum(axis=1) > math.pi


def _depth(points: NDArray, outline: NDArray) -> NDArray:
    """Distance of points (n, 2) from an outline, m."""
    side = np.roll(outline, -1, axis=0) - outline
    from_start = points[:, None] - outline[None]
    share = np.clip((from_start * side).sum(axis=-1) / (side**2).sum(axis=-1), 0.0, 1.0)
    return np.hypot(*np.moveaxis(from_start - share[..., None] * side, 2, 0)).min(axis=1)
