"""Mesh lines from a scene: pure, no solver.

Lines stand on every hard feature edge. Between them cells follow a size field that starts at the
size a feature asks for and grows with distance, so neighbours differ by a bounded ratio. Hard
edges closer together than a share of the local cell are merged into one line, and how far they
moved is reported: a sliver would set the time step of the whole run.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from simharness.constants import C0
from simharness.errors import InputError
from simharness.scene import SQUARE_CAPACITY, Feature, Scene

PRIORITY = {"guide width": 3, "guide height": 3, "guide length": 3, "front wall": 2,
            "slot width": 2, "slot length": 2}
"""Whose edge keeps its place when edges merge; 1 for all others."""

POSTS = ("post", "pin")

LATTICE_RADIUS = (
    (0.6, 0.7, 0.85, 1.0, 1.2, 1.4),
    ((0.6853, 0.6994, 0.7223, 0.7464, 0.7803, 0.8154),
     (0.6389, 0.6452, 0.6542, 0.6648, 0.6791, 0.6941),
     (0.6255, 0.6290, 0.6347, 0.6407, 0.6492, 0.6582)),
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
    "slot length": ((0.0, 0.1, 0.2, 0.4, 0.66, 0.8, 1.3, 1.6, 3.2), (0.376, 0.34, 0.31, 0.27, 0.224, 0.21, 0.165, 0.135, 0.085)),
}
"""How far metal whose edge stands on a mesh line reaches beyond it on the lattice, in cells, against the
thickness of the wall in cells. From two-dimensional electrostatics of a gap on lattice and in the limit:
capacitance across it for the sides of a slot, flux through it for the ends."""

EDGE_SHARE = (0.25, 0.8), (0.5, 0.72)
"""Share of `LATTICE_EDGE` that is right for a slot, whose sides and ends are near each other, against the
thickness of the wall in widths of the slot. Found on three slots with 2, 3 and 4 cells across: WR-90,
15.345 x 1.5875 mm in 1.27 mm and 15 x 1.6 mm in 0.4 mm; a guide of 90 x 45 mm, 60 x 6 mm in 0.5 mm. Proven on
others in tests/solver."""


@dataclass(frozen=True)
class MeshSettings:
    """How fine. Counts are cells across a feature; `per_wavelength` holds at the highest frequency, in
    the antenna and up to the recording box, `air_per_wavelength` beyond, where waves only leave.

    `growth` is the slope of the cell size with distance, `merge` the share of a local cell below
    which two edges become one, `margin_wavelengths` the air at the centre frequency. Open faces have
    a perfectly matched layer of `absorber_cells`, or with 0 of them Mur's first-order condition, which
    wants more air but no layer. `surface_wavelengths` is the distance of the near-field recording box
    from the metal, `surface_cells` its least distance from the end of the air.
    """

    per_wavelength: float = 18.0
    air_per_wavelength: float = 12.0
    slot_cells: int = 4
    post_cells: int = 1
    bore_cells: int = 2
    growth: float = 0.3
    ratio_limit: float = 1.6
    merge: float = 0.35
    margin_wavelengths: float = 0.25
    absorber_cells: int = 8
    surface_wavelengths: float = 0.12
    surface_cells: int = 2


QUALITIES = {
    "draft": MeshSettings(per_wavelength=15, slot_cells=2, bore_cells=1, margin_wavelengths=0.75, absorber_cells=0),
    "normal": MeshSettings(per_wavelength=28, slot_cells=3, margin_wavelengths=0.75, absorber_cells=0),
    "fine": MeshSettings(per_wavelength=36, slot_cells=4, post_cells=2, bore_cells=3, growth=0.2),
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
    coarse, far = (C0 / scene.spectrum.high / count for count in (settings.per_wavelength, settings.air_per_wavelength))
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
            line, move = _axis_lines([_on_lattice(f, settings, line) for f in wanted], ends, near, max(coarse, far), settings)
        layers = settings.absorber_cells if is_open else 0
        lines.append(_with_absorber(line, layers))
        absorber += [layers, layers]
        moves.append(move)
    surface = None
    if scene.radiates:
        surface = tuple(_recording_pair(line, bounds[2 * i : 2 * i + 2], wave, settings) for i, line in enumerate(lines))
    return Grid(*lines, tuple(absorber), surface, *max(moves))


def _recording_pair(line: np.ndarray, metal: tuple[float, float], wave: float, settings: MeshSettings) -> tuple[int, int]:
    """Indices of the near-field recording box on one axis: near the metal, clear of the end of the air."""
    clear = settings.absorber_cells + settings.surface_cells
    away = settings.surface_wavelengths * wave
    low, high = (int(np.argmin(np.abs(line - p))) for p in (metal[0] - away, metal[1] + away))
    return max(low, clear), min(high, len(line) - 1 - clear)


def _on_lattice(f: Feature, settings: MeshSettings, line: np.ndarray | None) -> Feature:
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
        half += cell * float(np.interp(f.depth / width, *EDGE_SHARE) * np.interp(f.depth / cell, *LATTICE_EDGE[f.kind]))
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
    hints = [near] + [h for f in features for h in _feature_hints(f, settings)]
    anchors = _anchors(features, ends, hints, coarse, settings)
    for _ in range(20):
        line = _filled(anchors, hints, coarse, settings.growth)
        steps = np.diff(line)
        bad = np.flatnonzero(_ratios(line) > settings.ratio_limit)
        if not len(bad):
            break
        for i in bad:
            hints.append(_Hint(line[i], line[i + 2], 1.05 * min(steps[i], steps[i + 1])))
    moves = [(float(np.min(np.abs(line - p))), f.kind) for f in features if not f.soft for p in (f.low, f.high)]
    return line, max((m for m in moves if m[0] > 0), default=(0.0, ""))


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
        case "post":
            beside = [_Hint(f.low - f.scale, f.low, f.scale), _Hint(f.high, f.high + f.scale, f.scale)]
            return [_Hint(f.low, f.high, width / settings.post_cells)] + (beside if f.scale else [])
        case "bore":
            return [_Hint(f.low, f.high, width / (2 * settings.bore_cells + settings.post_cells))]
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
    features: list[Feature], ends: tuple[float, float], hints: list[_Hint], coarse: float, settings: MeshSettings
) -> np.ndarray:
    """Lines that must stand, merged where too close.

    The highest priority settles first. An edge within reach (`merge` local cells) of a settled line
    joins it; the others of the same priority merge among themselves (`_merged`).
    """
    def reach(at: float) -> float:
        return settings.merge * float(_size(np.array(at), hints, coarse, settings.growth))

    hard = [(p, PRIORITY.get(f.kind, 1)) for f in features if not f.soft for p in (f.low, f.high)]
    kept = list(ends)
    for level in sorted({priority for _, priority in hard}, reverse=True):
        edges = [p for p, priority in hard if priority == level]
        kept += _merged([p for p in edges if all(abs(p - k) >= reach(p) for k in kept)], reach)
    for f in features:
        for p in (f.low, f.high) if f.soft else ():
            if min(abs(p - k) for k in kept) > 0.6 / settings.merge * reach(p):
                kept.append(p)
    return np.array(sorted(kept))


def _merged(edges: list[float], reach: Callable[[float], float]) -> list[float]:
    """Places of the lines that stand for some edges: half-way between the outermost ones each has taken in.

    The nearest two lines unite until all are at least a reach apart. As edges of two lines do not
    interleave, no edge then moves by more than its reach. Equal gaps unite at once, so that a mirrored
    set of edges has the mirrored lines.
    """
    spans = [(p, p) for p in sorted(edges)]
    while len(spans) > 1:
        places = np.array([(low + high) / 2 for low, high in spans])
        allowed = np.array([reach(p) for p in places])
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
    return np.concatenate([
        line[0] - step[::-1] * (line[1] - line[0]), line, line[-1] + step * (line[-1] - line[-2])
    ])
