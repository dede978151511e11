"""Which cells are bore and which are wall of a round tube: a staircase with the cutoff of the circle.

A cell belongs to the bore where its centre lies inside the circle, moved outwards by a share of the cell's
own extent along the normal. One share for the whole section gives TE11 on this mesh (`em.guide.meshed_mode`)
its true cutoff, as nearly as whole cells allow: within about 0.1 % with 24 cells across;
`raster.vacuum_factor` takes up the rest. The wall is what lies between the circles, and every cell that
touches the bore: a wall thinner than a cell stays closed.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from simharness.em.guide.meshed_mode import te_cutoff_square
from simharness.em.guide.round import TE11_ROOT
from simharness.geometry.solids import TubePart
from simharness.mesh.grid import Grid

MAX_SHARE = 0.5
"""Of a cell: how far the circle is moved at most; beyond, the section has too few cells for a round tube."""


def tube_mask(part: TubePart, grid: Grid) -> NDArray:
    """Cells (x, y) that a part of a round tube covers."""
    bore = bore_mask(part.inner, part.centre_y, grid)
    if part.kind == "filling":
        return bore
    wall = _wall_mask(part, bore, grid)
    if part.kind == "end":
        return bore | wall
    return wall if part.stop - part.start > 2 * np.pi - 1e-9 else _sector(part, wall, grid)


def bore_mask(radius: float, centre_y: float, grid: Grid) -> NDArray:
    """Cells (x, y) of the inside of a round tube with its axis at x = 0."""
    return _bore_cells(radius, centre_y, grid.x.tobytes(), grid.y.tobytes())


def bore_cutoff_square(radius: float, centre_y: float, grid: Grid) -> float:
    """kc^2 of TE11, E along y, on the mesh; 1/m2."""
    return te_cutoff_square(grid.x, grid.y, bore_mask(radius, centre_y, grid))


@lru_cache(maxsize=16)
def _bore_cells(radius: float, centre_y: float, x_bytes: bytes, y_bytes: bytes) -> NDArray:
    x, y = np.frombuffer(x_bytes), np.frombuffer(y_bytes)
    depth = _depth(x, y, centre_y, radius)
    shares = np.unique(np.round(depth[np.abs(depth) <= MAX_SHARE], 9))
    wanted = (TE11_ROOT / radius) ** 2

    def excess(index: int) -> float:
        return te_cutoff_square(x, y, depth <= shares[index] + 1e-9) - wanted

    low, high = 0, shares.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if excess(middle) > 0 else (low, middle)
    best = min((low, high), key=lambda index: abs(excess(index)))
    mask = depth <= shares[best] + 1e-9
    mask.flags.writeable = False
    return mask


def _centres(x: NDArray, y: NDArray, centre_y: float) -> tuple[NDArray, NDArray]:
    """Centres of the cells from the axis, (n, 1) and (1, m); m."""
    return ((x[1:] + x[:-1]) / 2)[:, None], ((y[1:] + y[:-1]) / 2 - centre_y)[None, :]


def _depth(x: NDArray, y: NDArray, centre_y: float, radius: float) -> NDArray:
    """How far the centres lie outside a circle, in extents of their own cell along the normal."""
    u, v = _centres(x, y, centre_y)
    away = np.hypot(u, v)
    extent = (np.abs(u) * np.diff(x)[:, None] + np.abs(v) * np.diff(y)[None, :]) / np.maximum(away, 1e-12)
    return (away - radius) / np.maximum(extent, 1e-12)


def _wall_mask(part: TubePart, bore: NDArray, grid: Grid) -> NDArray:
    """Cells between the circles, and all that share a face with the bore."""
    near = np.zeros_like(bore)
    near[1:] |= bore[:-1]
    near[:-1] |= bore[1:]
    near[:, 1:] |= bore[:, :-1]
    near[:, :-1] |= bore[:, 1:]
    return (near | (_depth(grid.x, grid.y, part.centre_y, part.outer) <= 0)) & ~bore


def _sector(part: TubePart, wall: NDArray, grid: Grid) -> NDArray:
    """Cells of a sector of the wall, whose edges in the front half stand on the mesh lines next to them.

    Beside an opening the metal stands at the level of what was taken out, so that the opening goes through a
    wall of its thickness and not between two steps of the staircase.
    """
    u, v = _centres(grid.x, grid.y, part.centre_y)
    middle = (part.inner + part.outer) / 2
    low, high = (grid.index(0, middle * np.sin(angle)) for angle in (part.start, part.stop))
    front, round_the_back = (v > 0)[0], part.stop > np.pi / 2
    aside = (
        (u > grid.x[low]) | (u < grid.x[high]) if round_the_back else (u > grid.x[low]) & (u < grid.x[high])
    )
    mask = wall & np.where(front, aside, round_the_back)
    mask[low] |= wall[low - 1] & front
    mask[high - 1] |= wall[high] & front
    return mask
