"""Mesh lines as a careful user sets them by hand: a line on every true edge, graded by a fixed ratio in
between.

None of the edge corrections of `mesh`: slots and posts keep their drawn size. Pure, no solver.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from simharness.constants import C0
from simharness.geometry.scene import Feature, Scene
from simharness.mesh.grid import Grid

RATIO = 1.5
"""Largest ratio of neighbouring cells, the usual advice for this solver."""

SLOPE = 0.97 * math.log(RATIO)
"""Growth of the cell size with distance: cells in a field s + g x grow by exp(g) from one to the next.
The 3 per cent are for the numerical inversion of the field."""

CLOSEST, CLOSEST_SOFT = 0.2, 0.6
"""Share of the local cell below which an edge that must stand, or one that may move, shares its neighbour's
line.
"""

FIRST = ("guide width", "guide height", "guide length", "front wall", "slot width", "slot length", "post")
"""Whose edges are set first and so never move."""


@dataclass(frozen=True)
class PlainMesh:
    """The mesh a user asks for: cells across a slot, cells in a wavelength at the top of the band, air,
    absorber.

    Post and coax follow the slots: a quarter as many cells across the post, half as many in the coax gap.
    """

    slot_cells: int = 4
    per_wavelength: float = 20.0
    margin_wavelengths: float = 0.25
    absorber_cells: int = 8

    @classmethod
    def refined(cls, slot_cells: int) -> PlainMesh:
        """The mesh with so many cells across a slot, and all else refined alike."""
        return cls(slot_cells=slot_cells, per_wavelength=20.0 * slot_cells / 4)

    @property
    def post_cells(self) -> int:
        """Cells across the probe's wire."""
        return max(1, round(self.slot_cells / 4))

    @property
    def gap_cells(self) -> int:
        """Cells between pin and bore of the coax line."""
        return max(2, round(self.slot_cells / 2))


Hint = tuple[float, float, float]
"""From, to, largest cell between them; m."""


def plain_grid(scene: Scene, mesh: PlainMesh) -> Grid:
    """Mesh lines of a radiating scene with six absorbing faces."""
    wave = C0 / scene.spectrum.centre
    coarse = C0 / scene.spectrum.high / mesh.per_wavelength
    bounds, margin = scene.bounds(), mesh.margin_wavelengths * wave
    lines, moved = [], (0.0, "")
    for axis in range(3):
        features = [f for f in scene.features if f.axis == axis]
        ends = (bounds[2 * axis] - margin, bounds[2 * axis + 1] + margin)
        line = axis_lines(features, ends, coarse, mesh)
        lines.append(_with_absorber(line, mesh.absorber_cells))
        moved = max(
            moved,
            *(
                (float(np.min(np.abs(line - p))), f.kind)
                for f in features
                if not f.soft
                for p in (f.low, f.high)
            ),
        )
    return Grid(*lines, (mesh.absorber_cells,) * 6, None, *moved)


def axis_lines(
    features: list[Feature], ends: tuple[float, float], coarse: float, mesh: PlainMesh
) -> np.ndarray:
    """Lines of one axis without absorber, m.

    Raises
    ------
    ValueError
        The ratio of neighbouring cells cannot be kept.
    """
    hints = [hint for f in features for hint in cell_hints(f, mesh)]
    anchors = edges(features, ends, hints, coarse)
    # Whole numbers of cells shrink one interval more than the next; the larger side gives way until all is
    # well.
    for _ in range(200):
        line = _filled(anchors, hints, coarse)
        steps = np.diff(line)
        larger = np.flatnonzero(np.maximum(steps[1:] / steps[:-1], steps[:-1] / steps[1:]) > RATIO)
        if not len(larger):
            return line
        for i in larger:
            hints.append((line[i], line[i + 2], 1.02 * min(steps[i], steps[i + 1])))
    raise ValueError(f"neighbouring cells cannot be kept within a ratio of {RATIO}")


def cell_hints(f: Feature, mesh: PlainMesh) -> list[Hint]:
    """Cell sizes that one feature asks for."""
    width, slot_cell = f.high - f.low, f.scale / mesh.slot_cells
    match f.kind:
        case "slot width":
            return [(f.low, f.high, width / mesh.slot_cells)]
        case "slot length":
            return [(f.low, f.low, slot_cell), (f.high, f.high, slot_cell)]
        case "front wall" if f.scale > 0:
            return [(f.low, f.high, width / max(1, round(width / slot_cell)))]
        case "post" | "pin":
            return [(f.low, f.high, width / mesh.post_cells)]
        case "bore":
            return [(f.low, f.high, width / (2 * mesh.gap_cells + mesh.post_cells))]
        case "coax line":
            return [(f.low, f.high, width / 11)]
        case "coax gap":
            return [(f.low, f.high, width)]
        case "tip":
            return [(f.low, f.high, f.scale)]
    return []


def edges(features: list[Feature], ends: tuple[float, float], hints: list[Hint], coarse: float) -> np.ndarray:
    """Places where a line must stand, sorted, m."""
    kept = list(ends)
    for f in sorted(features, key=lambda f: (f.soft, f.kind not in FIRST)):
        for place in (f.low, f.high):
            share = CLOSEST_SOFT if f.soft else CLOSEST
            if min(abs(place - k) for k in kept) > share * float(cell_size(np.array(place), hints, coarse)):
                kept.append(place)
    return np.array(sorted(kept))


def cell_size(at: np.ndarray, hints: list[Hint], coarse: float) -> np.ndarray:
    """Cell size wanted at each place, m."""
    size = np.full(at.shape, coarse)
    for low, high, cell in hints:
        away = np.maximum(0.0, np.maximum(low - at, at - high))
        np.minimum(size, cell + SLOPE * away, out=size)
    return size


def _filled(anchors: np.ndarray, hints: list[Hint], coarse: float) -> np.ndarray:
    """A whole number of graded cells in each interval."""
    pieces = [anchors[:1]]
    for low, high in itertools.pairwise(anchors):
        at = np.linspace(low, high, 1601)
        density = 1 / cell_size(at, hints, coarse)
        count = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(at))])
        cells = max(1, math.ceil(count[-1] - 1e-6))
        inner = np.interp(np.arange(1, cells + 1) * count[-1] / cells, count, at)
        inner[-1] = high
        pieces.append(inner)
    return np.concatenate(pieces)


def _with_absorber(line: np.ndarray, layers: int) -> np.ndarray:
    """Uniform cells of the border's own size added at both ends."""
    step = np.arange(1, layers + 1)
    return np.concatenate(
        [line[0] - step[::-1] * (line[1] - line[0]), line, line[-1] + step * (line[-1] - line[-2])]
    )
