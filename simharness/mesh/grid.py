"""The mesh of a scene: lines on three axes, absorbing cells, the box where near fields are recorded."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from simharness.constants import C0
from simharness.errors import InputError
from simharness.geometry.scene import Scene
from simharness.mesh.edge_correction import POSTS, with_edge_correction
from simharness.mesh.lines import SizeHint, axis_lines, cell_ratios
from simharness.mesh.settings import MeshSettings


@dataclass(frozen=True)
class Grid:
    """Mesh lines in m, absorbing cells at each face, and what had to be moved.

    `absorber`: cells of the absorbing layer for x-, x+, y-, y+, z-, z+ (0 at metal faces).
    `surface`: index pairs of the near-field recording box on each axis, or None.
    `moved`: largest distance by which a hard edge left its place, m; `moved_kind`: of what.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    absorber: tuple[int, int, int, int, int, int]
    surface: tuple[tuple[int, int], tuple[int, int], tuple[int, int]] | None
    moved: float
    moved_kind: str

    @property
    def lines(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Mesh lines of the three axes, m."""
        return self.x, self.y, self.z

    @property
    def cells(self) -> int:
        """Number of cells, absorbing ones too."""
        return math.prod(len(line) - 1 for line in self.lines)

    @property
    def time_step(self) -> float:
        """Courant limit of the smallest cells meeting, s; the solver may find a little more."""
        return 1.0 / (C0 * math.sqrt(sum(1.0 / np.min(np.diff(line)) ** 2 for line in self.lines)))

    @property
    def largest_ratio(self) -> float:
        """Largest ratio of neighbouring cells on any axis."""
        return max(float(np.max(cell_ratios(line), initial=1.0)) for line in self.lines)

    def index(self, axis: int, position: float) -> int:
        """Index of the line nearest to a position in m."""
        return int(np.argmin(np.abs(self.lines[axis] - position)))


def grid(scene: Scene, settings: MeshSettings) -> Grid:
    """Mesh of a scene.

    Raises
    ------
    InputError
        The two faces of an axis have different boundaries.
    """
    bounds, wave = scene.bounds(), C0 / scene.spectrum.centre
    spans = [(bounds[2 * axis], bounds[2 * axis + 1]) for axis in range(3)]
    lines, absorber, moves = [], [], []
    for axis, span in enumerate(spans):
        faces = scene.boundaries[2 * axis : 2 * axis + 2]
        if faces[0] != faces[1]:
            raise InputError("boundaries", faces, "both faces of an axis must be alike")
        line, move = _axis(scene, settings, axis, span)
        layers = settings.absorber_cells if faces[0] == "open" else 0
        lines.append(_with_absorber(line, layers))
        absorber.append(layers)
        moves.append(move)
    x, y, z = lines
    surface = None
    if scene.radiates:
        pairs = [_recording_pair(line, span, wave, settings) for line, span in zip(lines, spans)]
        surface = pairs[0], pairs[1], pairs[2]
    i, j, k = absorber
    return Grid(x, y, z, (i, i, j, j, k, k), surface, *max(moves))


def _axis(
    scene: Scene, settings: MeshSettings, axis: int, metal: tuple[float, float]
) -> tuple[np.ndarray, tuple[float, str]]:
    """Lines of one axis without absorbing cells, and the largest move of a hard edge; see `axis_lines`."""
    wave = C0 / scene.spectrum.centre
    coarse, far = (
        C0 / scene.spectrum.high / count for count in (settings.per_wavelength, settings.air_per_wavelength)
    )
    away = settings.surface_wavelengths * wave
    is_open = scene.boundaries[2 * axis] == "open"
    margin = settings.margin_wavelengths * wave if scene.radiates and is_open else 0.0
    ends = (metal[0] - margin, metal[1] + margin)
    near = SizeHint(metal[0] - away, metal[1] + away, coarse)
    wanted = [f for f in scene.features if f.axis == axis]

    def lines(last: np.ndarray | None) -> tuple[np.ndarray, tuple[float, str]]:
        features = [with_edge_correction(f, settings, last) for f in wanted]
        return axis_lines(features, ends, near, max(coarse, far), settings)

    found = lines(None)
    # The correction of a post depends on the cells about it, which depend on the correction.
    for _ in range(2 if any(f.kind in POSTS for f in wanted) else 0):
        found = lines(found[0])
    return found


def _recording_pair(
    line: np.ndarray, metal: tuple[float, float], wave: float, settings: MeshSettings
) -> tuple[int, int]:
    """Indices of the near-field recording box on one axis: near the metal, clear of the end of the air."""
    clear = settings.absorber_cells + settings.surface_cells
    away = settings.surface_wavelengths * wave
    low, high = (int(np.argmin(np.abs(line - p))) for p in (metal[0] - away, metal[1] + away))
    return max(low, clear), min(high, len(line) - 1 - clear)


def _with_absorber(line: np.ndarray, layers: int) -> np.ndarray:
    """Uniform cells of the border's own size added at both ends."""
    if not layers:
        return line
    step = np.arange(1, layers + 1)
    return np.concatenate(
        [line[0] - step[::-1] * (line[1] - line[0]), line, line[-1] + step * (line[-1] - line[-2])]
    )
