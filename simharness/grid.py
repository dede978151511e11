"""Mesh lines from a scene: pure, no solver.

Lines stand on every hard feature edge. Between them cells follow a size field that starts at the
size a feature asks for and grows with distance, so neighbours differ by a bounded ratio. Hard
edges closer together than a share of the local cell are merged into one line, and how far they
moved is reported: a sliver would set the time step of the whole run.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from simharness.constants import C0
from simharness.errors import InputError
from simharness.scene import SQUARE_CAPACITY, Feature, Scene

PRIORITY = {"guide width": 3, "guide height": 3, "guide length": 3, "front wall": 3,
            "slot width": 2, "slot length": 2}
"""Whose edge keeps its place when edges merge; 1 for all others."""

LATTICE_RADIUS = {1: 0.7516, 2: 0.6673, 3: 0.6421, 4: 0.6303}
"""Electrostatic radius of a square post of unit side with 1 to 4 cells across on the lattice, cells
outside growing by 1.2 each (from `em.laplace.line_capacitance`; 0.5902 without a lattice)."""


@dataclass(frozen=True)
class MeshSettings:
    """How fine. Counts are cells across a feature; `per_wavelength` holds at the highest frequency.

    `growth` is the slope of the cell size with distance, `merge` the share of a local cell below
    which two edges become one, `margin_wavelengths` the air at the centre frequency,
    `surface_cells` the distance of the near-field recording box from the absorber.
    """

    per_wavelength: float = 18.0
    slot_cells: int = 4
    post_cells: int = 1
    bore_cells: int = 2
    growth: float = 0.3
    ratio_limit: float = 1.6
    merge: float = 0.35
    margin_wavelengths: float = 0.25
    absorber_cells: int = 8
    surface_cells: int = 2


QUALITIES = {
    "draft": MeshSettings(per_wavelength=14, slot_cells=2, bore_cells=1, margin_wavelengths=0.2),
    "normal": MeshSettings(),
    "fine": MeshSettings(per_wavelength=24, slot_cells=6, post_cells=2, bore_cells=3, growth=0.25),
}


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
        return max(float(np.max(_ratios(line), initial=1.0)) for line in self.lines)

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
    wave = C0 / scene.spectrum.centre
    coarse = C0 / scene.spectrum.high / settings.per_wavelength
    bounds = scene.bounds()
    lines, absorber, moves = [], [], []
    for axis in range(3):
        faces = scene.boundaries[2 * axis : 2 * axis + 2]
        if faces[0] != faces[1]:
            raise InputError("boundaries", faces, "both faces of an axis must be alike")
        is_open = faces[0] == "open"
        margin = settings.margin_wavelengths * wave if scene.radiates and is_open else 0.0
        ends = (bounds[2 * axis] - margin, bounds[2 * axis + 1] + margin)
        features = [_on_lattice(f, settings) for f in scene.features if f.axis == axis]
        line, move = _axis_lines(features, ends, coarse, settings)
        layers = settings.absorber_cells if is_open else 0
        lines.append(_with_absorber(line, layers))
        absorber += [layers, layers]
        moves.append(move)
    surface = None
    if scene.radiates:
        k = settings.absorber_cells + settings.surface_cells
        surface = tuple((k, len(line) - 1 - k) for line in lines)
    return Grid(*lines, tuple(absorber), surface, *max(moves))


def _on_lattice(f: Feature, settings: MeshSettings) -> Feature:
    """A post drawn in by as much as the lattice makes it look larger."""
    if f.kind not in ("post", "pin"):
        return f
    share = SQUARE_CAPACITY / LATTICE_RADIUS[min(settings.post_cells, max(LATTICE_RADIUS))]
    middle, half = (f.low + f.high) / 2, share * (f.high - f.low) / 2
    return replace(f, low=middle - half, high=middle + half)


@dataclass(frozen=True)
class _Hint:
    """Cells between low and high are to be no larger than size."""

    low: float
    high: float
    size: float


def _axis_lines(
    features: list[Feature], ends: tuple[float, float], coarse: float, settings: MeshSettings
) -> tuple[np.ndarray, tuple[float, str]]:
    hints = [h for f in features for h in _feature_hints(f, settings)]
    anchors, move = _anchors(features, ends, hints, coarse, settings)
    for _ in range(20):
        line = _filled(anchors, hints, coarse, settings.growth)
        steps = np.diff(line)
        bad = np.flatnonzero(_ratios(line) > settings.ratio_limit)
        if not len(bad):
            break
        for i in bad:
            hints.append(_Hint(line[i], line[i + 2], 1.05 * min(steps[i], steps[i + 1])))
    return line, move


def _feature_hints(f: Feature, settings: MeshSettings) -> list[_Hint]:
    """Cell sizes that one feature asks for."""
    width = f.high - f.low
    slot_cell = f.scale / settings.slot_cells
    match f.kind:
        case "slot width":
            return [_Hint(f.low, f.high, width / settings.slot_cells)]
        case "slot length":
            return [_Hint(f.low, f.low, slot_cell), _Hint(f.high, f.high, slot_cell),
                    _Hint(f.low, f.high, max(slot_cell, width / 14))]
        case "front wall" if f.scale > 0:
            layers = max(1, round(width / slot_cell))
            return [_Hint(f.low, f.high, width / layers), _Hint(f.low, f.low, slot_cell), _Hint(f.high, f.high, slot_cell)]
        case "post" | "pin":
            return [_Hint(f.low, f.high, width / settings.post_cells)]
        case "bore":
            return [_Hint(f.low, f.high, width / (2 * settings.bore_cells + settings.post_cells))]
        case "coax line":
            return [_Hint(f.low, f.high, width / 11)]
        case "coax gap" | "gap" | "cell":
            return [_Hint(f.low, f.high, width)]
        case "tip":
            return [_Hint(f.low, f.high, f.scale)]
    return []


def _size(at: np.ndarray, hints: list[_Hint], coarse: float, growth: float) -> np.ndarray:
    """Cell size wanted at each place, m."""
    size = np.full(at.shape, coarse)
    for h in hints:
        away = np.maximum(0.0, np.maximum(h.low - at, at - h.high))
        np.minimum(size, h.size + growth * away, out=size)
    return size


def _anchors(
    features: list[Feature], ends: tuple[float, float], hints: list[_Hint], coarse: float, settings: MeshSettings
) -> tuple[np.ndarray, tuple[float, str]]:
    """Lines that must stand, merged where too close; the farthest move and its feature."""
    hard = [(p, PRIORITY.get(f.kind, 1), f.kind) for f in features if not f.soft for p in (f.low, f.high)]
    hard = sorted([(ends[0], 4, "border"), (ends[1], 4, "border"), *hard])
    clusters: list[list[tuple[float, int, str]]] = []
    for edge in hard:
        local = float(_size(np.array(edge[0]), hints, coarse, settings.growth))
        if clusters and edge[0] - clusters[-1][0][0] < settings.merge * local:
            clusters[-1].append(edge)
        else:
            clusters.append([edge])
    kept, move = [], (0.0, "")
    for cluster in clusters:
        best = max(priority for _, priority, _ in cluster)
        place = float(np.mean([p for p, priority, _ in cluster if priority == best]))
        kept.append(place)
        move = max([move, *((abs(p - place), kind) for p, _, kind in cluster)])
    for f in features:
        for p in (f.low, f.high) if f.soft else ():
            local = float(_size(np.array(p), hints, coarse, settings.growth))
            if min(abs(p - k) for k in kept) > 0.6 * local:
                kept.append(p)
    return np.array(sorted(kept)), move


def _filled(anchors: np.ndarray, hints: list[_Hint], coarse: float, growth: float) -> np.ndarray:
    """Anchors with graded cells between them, each interval a whole number of cells."""
    pieces = [anchors[:1]]
    for low, high in zip(anchors[:-1], anchors[1:]):
        at = np.linspace(low, high, 801)
        density = 1.0 / _size(at, hints, coarse, growth)
        count = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(at))])
        cells = max(1, math.ceil(count[-1] - 0.2))
        if density.max() < 1.001 * density.min():
            inner = np.linspace(low, high, cells + 1)[1:]
        else:
            inner = np.interp(np.arange(1, cells + 1) * count[-1] / cells, count, at)
        inner[-1] = high
        pieces.append(inner)
    return np.concatenate(pieces)


def _ratios(line: np.ndarray) -> np.ndarray:
    d = np.diff(line)
    return np.maximum(d[1:] / d[:-1], d[:-1] / d[1:])


def _with_absorber(line: np.ndarray, layers: int) -> np.ndarray:
    """Uniform cells of the border's own size added at both ends."""
    if not layers:
        return line
    step = np.arange(1, layers + 1)
    return np.concatenate([
        line[0] - step[::-1] * (line[1] - line[0]), line, line[-1] + step * (line[-1] - line[-2])
    ])
