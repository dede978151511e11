"""Edge and wire correction: metal acts as if larger than its cells, so its mesh lines are drawn in.

The tables come from electrostatics on a mesh of a few cells against the limit of fine cells;
`em.guide.electrostatics` computes them anew (tests/unit/test_edge_correction.py).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simharness.geometry.scene import Feature
from simharness.geometry.solids import SQUARE_CAPACITY
from simharness.mesh.settings import MeshSettings, cells_across

POSTS = ("post", "pin", "screw")

WIRE_RADIUS = (
    (0.6, 0.7, 0.85, 1.0, 1.2, 1.4),
    (
        (0.6853, 0.6994, 0.7223, 0.7464, 0.7803, 0.8154),
        (0.6389, 0.6452, 0.6542, 0.6648, 0.6791, 0.6941),
        (0.6255, 0.6290, 0.6347, 0.6407, 0.6492, 0.6582),
    ),
)
"""Electrostatic radius of a square post of unit side, meshed with 1, 2 or 3 cells across (rows), against the
size of the first cell outside in cells of the post (from `em.guide.electrostatics.line_capacitance`, cells
growing by 1.2 each; 0.5902 in the limit of fine cells)."""

TIP_CORRECTION = (
    ((0.0, 0.4, 0.8, 1.2), (0.0, 0.07, 0.145, 0.235)),
    ((0.0, 0.45, 0.9, 1.35), (0.0, 0.022, 0.12, 0.25)),
    ((0.0, 0.45, 0.9, 1.4), (0.0, 0.03, 0.14, 0.275)),
)
"""How far a post acts beyond the mesh line of its tip, in sides of the square post that stands for the wire,
against the cell along it at its tip; rows as in `WIRE_RADIUS`. From three-dimensional electrostatics: the
charge on a post six sides long over a ground plane, on the mesh less that in the limit, divided by the charge
on one side of its length; to about 0.02."""

MAX_NEIGHBOUR_GROWTH = 1.2
"""The cells beside a post grow by no more than this from pass to pass. The space around it, once divided into
more cells, stays so; otherwise the size of the post and the number of cells would never settle. The limit
never falls below 0.7 of the post's own cell: the edge of an opening nearby must not cause very thin cells."""

EDGE_CORRECTION = {
    "slot width": ((0.0, 0.2, 0.4, 0.8, 1.6, 3.2), (0.39, 0.335, 0.275, 0.24, 0.175, 0.15)),
    "slot length": (
        (0.0, 0.1, 0.2, 0.4, 0.66, 0.8, 1.3, 1.6, 3.2),
        (0.376, 0.34, 0.31, 0.27, 0.224, 0.21, 0.165, 0.135, 0.085),
    ),
}
"""How far metal whose edge stands on a mesh line acts beyond it, in cells, against the thickness of the wall
in cells. From two-dimensional electrostatics of a gap on the mesh and in the limit of fine cells:
capacitance across it for the sides of a slot, flux through it for the ends."""

EDGE_CORRECTION_SHARE = (0.25, 0.8), (0.5, 0.72)
"""Share of `EDGE_CORRECTION` that is right for a slot, whose sides and ends are near each other, against the
thickness of the wall in widths of the slot. Fitted to three slots with 2, 3 and 4 cells across: WR-90,
15.345 x 1.5875 mm in 1.27 mm and 15 x 1.6 mm in 0.4 mm; a guide of 90 x 45 mm, 60 x 6 mm in 0.5 mm.
Checked on other slots in tests/solver."""


def with_edge_correction(f: Feature, settings: MeshSettings, line: np.ndarray | None) -> Feature:
    """The feature as it is meshed: posts drawn in, openings widened, by the excess size of the metal.

    Parameters
    ----------
    f : Feature
    settings : MeshSettings
    line : ndarray, shape (n,), or None
        Mesh lines of the last pass on the axis of the feature, m; None in the first.
    """
    middle, half = (f.low + f.high) / 2, (f.high - f.low) / 2
    if f.kind in POSTS:
        cells, inside, beside = _post_cells(f, settings, line)
        half *= SQUARE_CAPACITY / _wire_radius(cells, beside / inside)
        if line is not None:
            f = replace(
                f, scale=max(MAX_NEIGHBOUR_GROWTH * beside, 1.4 * half / cells_across(f.kind, settings))
            )
    elif f.kind in EDGE_CORRECTION and f.depth >= 0:
        width = f.scale or f.high - f.low
        cell = width / settings.slot_cells
        half += cell * float(
            np.interp(f.depth / width, *EDGE_CORRECTION_SHARE)
            * np.interp(f.depth / cell, *EDGE_CORRECTION[f.kind])
        )
    elif f.kind == "tape edge":
        # The edge of a foil over the end of a slot: one end of an opening in a wall of no thickness.
        beyond = EDGE_CORRECTION_SHARE[1][0] * EDGE_CORRECTION["slot length"][1][0]
        middle -= f.outward * beyond * f.scale / settings.slot_cells
    elif f.kind in ("tip", "screw tip"):
        cells = cells_across(f.kind, settings)
        row = TIP_CORRECTION[min(cells, len(TIP_CORRECTION)) - 1]
        middle -= f.outward * f.scale * float(np.interp(1 / cells, *row))
    return replace(f, low=middle - half, high=middle + half)


def _wire_radius(cells: int, outside: float) -> float:
    """Radius of a post of unit side; `outside`: size of the first cell beside it, in cells of the post."""
    sizes, rows = WIRE_RADIUS
    return float(np.interp(outside, sizes, rows[min(cells, len(rows)) - 1]))


def _post_cells(f: Feature, settings: MeshSettings, line: np.ndarray | None) -> tuple[int, float, float]:
    """Number and size of the cells across a post, size of those beside it: of the last pass, or as asked."""
    if line is not None:
        low, high = (int(np.argmin(np.abs(line - p))) for p in (f.low, f.high))
        if low < high:
            beside = (line[low] - line[low - 1] + line[high + 1] - line[high]) / 2
            return high - low, float(line[high] - line[low]) / (high - low), float(beside)
    cells = cells_across(f.kind, settings)
    cell = (f.high - f.low) / cells
    return cells, cell, cell
