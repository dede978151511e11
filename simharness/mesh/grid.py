"""Mesh lines from a scene: pure, no solver.

Lines stand on every hard feature edge. Between them cells follow a size field that starts at the
size a feature asks for and grows with distance, so neighbours differ by a bounded ratio. Hard
edges closer together than a share of the local cell are merged into one line, and how far they
moved is reported: a sliver would set the time step of the whole run.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simharness.constants import C0
from simharness.errors import InputError
from simharness.geometry.scene import Feature, Scene
from simharness.mesh.edge_correction import POSTS, on_lattice
from simharness.mesh.settings import MeshSettings
from simharness.mesh.staircasing import stair_cell

PRIORITY = {
    "guide width": 3,
    "guide height": 3,
    "guide length": 3,
    "tube": 3,
    "front wall": 2,
    "back wall": 2,
    "substrate": 2,
    "slot width": 2,
    "slot length": 2,
    "slot extent": 2,
}
"""Whose edge keeps its place when edges merge; 1 for all others."""


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
    coarse, far = (
        C0 / scene.spectrum.high / count for count in (settings.per_wavelength, settings.air_per_wavelength)
    )
    away = settings.surface_wavelengths * wave
    bounds = scene.bounds()
    lines, absorber, moves = [], [], []
    for axis in range(3):
        faces = scene.boundaries[2 * axis : 2 * axis + 2]
        if faces[0] != faces[1]:
            raise InputError("boundaries", faces, "both faces of an axis must be alike")
        is_open = faces[0] == "open"
        margin = settings.margin_wavelengths * wave if scene.radiates and is_open else 0.0
        ends = (bounds[2 * axis] - margin, bounds[2 * axis + 1] + margin)
        wanted = [f for f in scene.features if f.axis == axis]
        line = None
        for _ in range(3 if any(f.kind in POSTS for f in wanted) else 1):
            near = _Hint(bounds[2 * axis] - away, bounds[2 * axis + 1] + away, coarse)
            line, move = _axis_lines(
                [on_lattice(f, settings, line) for f in wanted], ends, near, max(coarse, far), settings
            )
        layers = settings.absorber_cells if is_open else 0
        lines.append(_with_absorber(line, layers))
        absorber += [layers, layers]
        moves.append(move)
    surface = None
    if scene.radiates:
        surface = tuple(
            _recording_pair(line, bounds[2 * i : 2 * i + 2], wave, settings) for i, line in enumerate(lines)
        )
    return Grid(*lines, tuple(absorber), surface, *max(moves))


def _recording_pair(
    line: np.ndarray, metal: tuple[float, float], wave: float, settings: MeshSettings
) -> tuple[int, int]:
    """Indices of the near-field recording box on one axis: near the metal, clear of the end of the air."""
    clear = settings.absorber_cells + settings.surface_cells
    away = settings.surface_wavelengths * wave
    low, high = (int(np.argmin(np.abs(line - p))) for p in (metal[0] - away, metal[1] + away))
    return max(low, clear), min(high, len(line) - 1 - clear)


@dataclass(frozen=True)
class _Hint:
    """Cells between low and high are to be no larger than size."""

    low: float
    high: float
    size: float


def _axis_lines(
    features: list[Feature], ends: tuple[float, float], near: _Hint, coarse: float, settings: MeshSettings
) -> tuple[np.ndarray, tuple[float, str]]:
    """Lines of one axis; how far the hard edge farthest from its line has moved, and of what it is."""
    hints = [near] + [h for f in features for h in _feature_hints(f, settings) if h.size > 0]
    anchors = _anchors(features, ends, hints, coarse, settings)
    hints += _alike(features, _filled(anchors, hints, coarse, settings.growth))
    for _ in range(20):
        line = _filled(anchors, hints, coarse, settings.growth)
        steps = np.diff(line)
        bad = np.flatnonzero(_ratios(line) > settings.ratio_limit)
        if not len(bad):
            break
        for i in bad:
            hints.append(_Hint(line[i], line[i + 2], 1.05 * min(steps[i], steps[i + 1])))
    moves = [
        (float(np.min(np.abs(line - p))), f.kind) for f in features if not f.soft for p in (f.low, f.high)
    ]
    return line, max((m for m in moves if m[0] > 0), default=(0.0, ""))


def _alike(features: list[Feature], line: np.ndarray) -> list[_Hint]:
    """As many cells in and beside one slotted wall as in the other, be it only the coax that made those finer."""
    walls = [f for f in features if f.kind in ("front wall", "back wall") and f.scale > 0 and f.high > f.low]
    if len(walls) < 2:
        return []
    cells = max(np.count_nonzero((line > f.low) & (line <= f.high)) for f in walls)
    return [_Hint(f.low, f.high, (f.high - f.low) / cells) for f in walls]


def _feature_hints(f: Feature, settings: MeshSettings) -> list[_Hint]:
    """Cell sizes that one feature asks for."""
    width = f.high - f.low
    slot_cell = f.scale / settings.slot_cells
    match f.kind:
        case "slot width":
            return [_Hint(f.low, f.high, width / settings.slot_cells)]
        case "slot length":
            return [
                _Hint(f.low, f.low, slot_cell),
                _Hint(f.high, f.high, slot_cell),
                _Hint(f.low, f.high, max(slot_cell, width / 14)),
            ]
        case "slot extent":
            return [_Hint(f.low, f.high, stair_cell(f.scale, settings))]
        case "front wall" | "back wall" if f.scale > 0:
            layers = max(1, round(width / slot_cell))
            return [
                _Hint(f.low, f.high, width / layers),
                _Hint(f.low, f.low, slot_cell),
                _Hint(f.high, f.high, slot_cell),
            ]
        case "substrate":
            layers = max(2, round(width / slot_cell))
            return [_Hint(f.low, f.high, width / layers)] + (
                [_Hint(f.low, f.low, slot_cell)] if f.scale > 0 else []
            )
        case "post":
            beside = [_Hint(f.low - f.scale, f.low, f.scale), _Hint(f.high, f.high + f.scale, f.scale)]
            return [_Hint(f.low, f.high, width / settings.post_cells)] + (beside if f.scale else [])
        case "bore":
            return [_Hint(f.low, f.high, width / (2 * settings.bore_cells + settings.post_cells))]
        case "tube":
            return [_Hint(f.low, f.high, width / settings.tube_cells)]
        case "coax line":
            return [_Hint(f.low, f.high, width / 11)]
        case "coax gap" | "gap" | "cell":
            return [_Hint(f.low, f.high, width)]
        case "tip":
            return [_Hint(f.low, f.high, f.scale / settings.post_cells)]
    return []


def _size(at: np.ndarray, hints: list[_Hint], coarse: float, growth: float) -> np.ndarray:
    """Cell size wanted at each place, m."""
    size = np.full(at.shape, coarse)
    for h in hints:
        away = np.maximum(0.0, np.maximum(h.low - at, at - h.high))
        np.minimum(size, h.size + growth * away, out=size)
    return size


def _anchors(
    features: list[Feature],
    ends: tuple[float, float],
    hints: list[_Hint],
    coarse: float,
    settings: MeshSettings,
) -> np.ndarray:
    """Lines that must stand, merged where too close.

    The highest priority settles first. An edge within reach (`merge` local cells) of a settled line
    joins it; the others of the same priority merge among themselves (`_merged`).
    """

    def reach(at: ArrayLike) -> np.ndarray:
        return settings.merge * _size(np.asarray(at, dtype=float), hints, coarse, settings.growth)

    hard = [(p, PRIORITY.get(f.kind, 1)) for f in features if not f.soft for p in (f.low, f.high)]
    kept = list(ends)
    for level in sorted({priority for _, priority in hard}, reverse=True):
        edges = [p for p, priority in hard if priority == level]
        kept += _merged(
            [p for p, near in zip(edges, reach(edges)) if all(abs(p - k) >= near for k in kept)], reach
        )
    for f in features:
        for p in (f.low, f.high) if f.soft else ():
            if min(abs(p - k) for k in kept) > 0.6 / settings.merge * reach(p):
                kept.append(p)
    return np.array(sorted(kept))


def _merged(edges: list[float], reach: Callable[[ArrayLike], np.ndarray]) -> list[float]:
    """Places of the lines that stand for some edges: half-way between the outermost ones each has taken in.

    The nearest two lines unite until all are at least a reach apart. As edges of two lines do not
    interleave, no edge then moves by more than its reach. Equal gaps unite at once, so that a mirrored
    set of edges has the mirrored lines.
    """
    spans = [(p, p) for p in sorted(edges)]
    while len(spans) > 1:
        places = np.array([(low + high) / 2 for low, high in spans])
        allowed = reach(places)
        gaps = np.diff(places) / np.minimum(allowed[1:], allowed[:-1])
        if gaps.min() >= 1:
            break
        joined = [spans[0]]
        for gap, span in zip(gaps, spans[1:]):
            if gap <= gaps.min() + 1e-6:
                joined[-1] = (joined[-1][0], span[1])
            else:
                joined.append(span)
        spans = joined
    return [(low + high) / 2 for low, high in spans]


def _filled(anchors: np.ndarray, hints: list[_Hint], coarse: float, growth: float) -> np.ndarray:
    """Anchors with graded cells between them, each interval a whole number of cells."""
    pieces = [anchors[:1]]
    places = np.linspace(anchors[:-1], anchors[1:], 801, axis=1)
    sizes = _size(places, hints, coarse, growth)
    for low, high, at, size in zip(anchors[:-1], anchors[1:], places, sizes):
        density = 1.0 / size
        count = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(at))])
        cells = max(1, math.ceil(count[-1] - 0.35))
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
    return np.concatenate(
        [line[0] - step[::-1] * (line[1] - line[0]), line, line[-1] + step * (line[-1] - line[-2])]
    )
