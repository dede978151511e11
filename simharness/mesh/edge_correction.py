"""Where metal seems to end on a lattice of cells, and where its mesh lines must stand to make up for it.

Tables from electrostatics on the lattice against the limit of fine cells; `em.laplace` makes them anew.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simharness.geometry.scene import Feature
from simharness.geometry.solids import SQUARE_CAPACITY
from simharness.mesh.settings import MeshSettings

POSTS = ("post", "pin")

LATTICE_RADIUS = (
    (0.6, 0.7, 0.85, 1.0, 1.2, 1.4),
    (
        (0.6853, 0.6994, 0.7223, 0.7464, 0.7803, 0.8154),
        (0.6389, 0.6452, 0.6542, 0.6648, 0.6791, 0.6941),
        (0.6255, 0.6290, 0.6347, 0.6407, 0.6492, 0.6582),
    ),
)
"""Electrostatic radius of a square post of unit side on the lattice with 1, 2 or 3 cells across (rows),
against the size of the first cell outside in cells of the post (from `em.laplace.line_capacitance`, cells
growing by 1.2 each; 0.5902 without a lattice)."""

LATTICE_TIP = (
    ((0.0, 0.4, 0.8, 1.2), (0.0, 0.07, 0.145, 0.235)),
    ((0.0, 0.45, 0.9, 1.35), (0.0, 0.022, 0.12, 0.25)),
    ((0.0, 0.45, 0.9, 1.4), (0.0, 0.03, 0.14, 0.275)),
)
"""How far a post reaches beyond the mesh line of its tip on the lattice, in sides of the square post that
stands for the wire, against the cell along it at its tip; rows as in `LATTICE_RADIUS`. From three-dimensional
electrostatics: the charge on a post six sides long over a ground plane, on the lattice and in the limit, divided
by that on one side of its length; to about 0.02."""

KEPT = 1.2
"""Cells beside a post grow by no more than this from pass to pass: the space around it, once cut in more
cells, stays so, or the post's size and their number would chase each other for ever. Never asked for below
0.7 of the post's own cell: an opening's edge that happens to stand nearer must not make slivers."""

LATTICE_EDGE = {
    "slot width": ((0.0, 0.2, 0.4, 0.8, 1.6, 3.2), (0.39, 0.335, 0.275, 0.24, 0.175, 0.15)),
    "slot length": (
        (0.0, 0.1, 0.2, 0.4, 0.66, 0.8, 1.3, 1.6, 3.2),
        (0.376, 0.34, 0.31, 0.27, 0.224, 0.21, 0.165, 0.135, 0.085),
    ),
}
"""How far metal whose edge stands on a mesh line reaches beyond it on the lattice, in cells, against the
thickness of the wall in cells. From two-dimensional electrostatics of a gap on lattice and in the limit:
capacitance across it for the sides of a slot, flux through it for the ends."""

EDGE_SHARE = (0.25, 0.8), (0.5, 0.72)
"""Share of `LATTICE_EDGE` that is right for a slot, whose sides and ends are near each other, against the
thickness of the wall in widths of the slot. Found on three slots with 2, 3 and 4 cells across: WR-90,
15.345 x 1.5875 mm in 1.27 mm and 15 x 1.6 mm in 0.4 mm; a guide of 90 x 45 mm, 60 x 6 mm in 0.5 mm. Proven on
others in tests/solver."""


def on_lattice(f: Feature, settings: MeshSettings, line: np.ndarray | None) -> Feature:
    """A post and its tip drawn in, an opening drawn out, by as much as the lattice makes the metal look larger."""
    middle, half = (f.low + f.high) / 2, (f.high - f.low) / 2
    if f.kind in POSTS:
        cells, inside, beside = _post_cells(f, settings, line)
        half *= SQUARE_CAPACITY / _lattice_radius(cells, beside / inside)
        if line is not None:
            f = replace(f, scale=max(KEPT * beside, 1.4 * half / settings.post_cells))
    elif f.kind in LATTICE_EDGE and f.depth >= 0:
        width = f.scale or f.high - f.low
        cell = width / settings.slot_cells
        half += cell * float(
            np.interp(f.depth / width, *EDGE_SHARE) * np.interp(f.depth / cell, *LATTICE_EDGE[f.kind])
        )
    elif f.kind == "tip":
        row = LATTICE_TIP[min(settings.post_cells, len(LATTICE_TIP)) - 1]
        middle -= f.outward * f.scale * float(np.interp(1 / settings.post_cells, *row))
    return replace(f, low=middle - half, high=middle + half)


def _lattice_radius(cells: int, outside: float) -> float:
    """Radius of a unit post with some cells across, the first ones outside in cells of the post."""
    sizes, rows = LATTICE_RADIUS
    return float(np.interp(outside, sizes, rows[min(cells, len(rows)) - 1]))


def _post_cells(f: Feature, settings: MeshSettings, line: np.ndarray | None) -> tuple[int, float, float]:
    """Number and size of the cells across a post and size of those beside it: in the last pass, or as asked for."""
    low, high = (0, 0) if line is None else (int(np.argmin(np.abs(line - p))) for p in (f.low, f.high))
    if low == high:
        cell = (f.high - f.low) / settings.post_cells
        return settings.post_cells, cell, cell
    beside = (line[low] - line[low - 1] + line[high + 1] - line[high]) / 2
    return high - low, float(line[high] - line[low]) / (high - low), float(beside)
