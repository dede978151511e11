"""What the mesh asks of each shape of guide: its lowest mode in theory and on the mesh."""

from __future__ import annotations

import math
from typing import Protocol

import numpy as np

from simharness.em.guide.round import TE11_ROOT
from simharness.geometry.scene import Scene
from simharness.geometry.solids import Bounds
from simharness.mesh.grid import Grid
from simharness.mesh.tube_cells import bore_cutoff_square


class GuideShape(Protocol):
    """The lowest mode of a guide of one shape."""

    staircase: bool
    """Whether the wall is a staircase of cells."""

    def cutoff_wavenumber(self, scene: Scene) -> float:
        """Of the lowest mode in theory, 1/m."""
        ...

    def meshed_cutoff_square(self, scene: Scene, grid: Grid) -> float:
        """Square of the cutoff wavenumber on the mesh, 1/m2."""
        ...


class RectangularShape:
    """TE10, which the mesh lines across decide."""

    staircase = False

    def cutoff_wavenumber(self, scene: Scene) -> float:
        """Of TE10, 1/m."""
        x0, x1, *_ = _inside(scene)
        return math.pi / (x1 - x0)

    def meshed_cutoff_square(self, scene: Scene, grid: Grid) -> float:
        """Square of the cutoff wavenumber on the mesh, 1/m2."""
        x0, x1, *_ = _inside(scene)
        return _transverse_eigenvalue(grid.x[grid.index(0, x0) : grid.index(0, x1) + 1])


class RoundShape:
    """TE11, which the cells of the bore decide."""

    staircase = True

    def cutoff_wavenumber(self, scene: Scene) -> float:
        """Of TE11, 1/m."""
        return 2 * TE11_ROOT / scene.bore

    def meshed_cutoff_square(self, scene: Scene, grid: Grid) -> float:
        """Square of the cutoff wavenumber on the mesh, 1/m2."""
        _, _, y0, *_ = _inside(scene)
        return bore_cutoff_square(scene.bore / 2, y0 + scene.bore / 2, grid)


_SHAPES: dict[str, GuideShape] = {"rectangular": RectangularShape(), "round": RoundShape()}


def guide_shape(scene: Scene) -> GuideShape:
    """The shape of the guide of a scene."""
    return _SHAPES[scene.shape]


def _inside(scene: Scene) -> Bounds:
    assert scene.inside is not None
    return scene.inside


def _transverse_eigenvalue(x: np.ndarray) -> float:
    """Lowest eigenvalue of -d2/dx2 between metal walls on graded lines, 1/m2."""
    steps = np.diff(x)
    dual = (steps[1:] + steps[:-1]) / 2
    diagonal = (1 / steps[1:] + 1 / steps[:-1]) / dual
    beside = -1 / (steps[1:-1] * np.sqrt(dual[1:] * dual[:-1]))
    # The matrix is small, and numpy's solver is there without a wait for scipy.
    return float(np.linalg.eigvalsh(np.diag(diagonal) + np.diag(beside, 1) + np.diag(beside, -1))[0])
