"""Mesh lines of one axis, from the features on it and the cell sizes that they ask for.

Lines stand on every hard edge of a feature. Between them the cells follow a size field that starts at the
size that a feature asks for and grows with distance, so that neighbouring cells differ by a bounded ratio.
Hard edges closer together than a share of the local cell are merged into one line, and how far they moved is
reported: a very thin cell would set the time step of the whole run.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from simharness.geometry.scene import Feature
from simharness.mesh.settings import MeshSettings, cells_across
from simharness.mesh.staircasing import staircase_cell

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
    "tape edge": 2,
    "slot extent": 2,
}
"""Whose edge keeps its place when edges merge; 1 for all others."""


POLE_CELLS = 24
"""Cells across a pole beside the antenna at least. The level behind is sensitive to where its surface is, by
some 0.4 dB for a millimetre: with 10 cells six slots before a pole were 1.5 dB off, with 30 cells 1.2 dB."""


@dataclass(frozen=True)
class SizeHint:
    """Cells between low and high are to be no larger than size."""

    low: float
    high: float
    size: float


def axis_lines(
    features: list[Feature], ends: tuple[float, float], near: SizeHint, coarse: float, settings: MeshSettings
) -> tuple[np.ndarray, tuple[float, str]]:
    """Lines of one axis; how far the hard edge farthest from its line has moved, and of what it is."""
    hints = [near] + [h for f in features for h in _feature_hints(f, settings) if h.size > 0]
    anchors = _anchors(features, ends, hints, coarse, settings)
    hints += _alike(features, _filled(anchors, hints, coarse, settings.growth))
    for _ in range(20):
        line = _filled(anchors, hints, coarse, settings.growth)
        steps = np.diff(line)
        bad = np.flatnonzero(cell_ratios(line) > settings.ratio_limit)
        if not len(bad):
            break
        for i in bad:
            hints.append(SizeHint(line[i], line[i + 2], 1.05 * min(steps[i], steps[i + 1])))
    moves = [
        (float(np.min(np.abs(line - p))), f.kind) for f in features if not f.soft for p in (f.low, f.high)
    ]
    return line, max((m for m in moves if m[0] > 0), default=(0.0, ""))


def _alike(features: list[Feature], line: np.ndarray) -> list[SizeHint]:
    """As many cells in one slotted wall as in the other, even where only the coax made those finer."""
    walls = [f for f in features if f.kind in ("front wall", "back wall") and f.scale > 0 and f.high > f.low]
    if len(walls) < 2:
        return []
    cells = max(np.count_nonzero((line > f.low) & (line <= f.high)) for f in walls)
    return [SizeHint(f.low, f.high, (f.high - f.low) / cells) for f in walls]


def _feature_hints(f: Feature, settings: MeshSettings) -> list[SizeHint]:
    """Cell sizes that one feature asks for."""
    width = f.high - f.low
    slot_cell = f.scale / settings.slot_cells
    match f.kind:
        case "slot width":
            return [SizeHint(f.low, f.high, width / settings.slot_cells)]
        case "slot length":
            return [
                SizeHint(f.low, f.low, slot_cell),
                SizeHint(f.high, f.high, slot_cell),
                SizeHint(f.low, f.high, max(slot_cell, width / 14)),
            ]
        case "tape edge":
            return [SizeHint(f.low, f.high, slot_cell)]
        case "slot extent":
            return [SizeHint(f.low, f.high, staircase_cell(f.scale, settings))]
        case "front wall" | "back wall" if f.scale > 0:
            layers = max(1, round(width / slot_cell))
            return [
                SizeHint(f.low, f.high, width / layers),
                SizeHint(f.low, f.low, slot_cell),
                SizeHint(f.high, f.high, slot_cell),
            ]
        case "substrate":
            layers = max(2, round(width / slot_cell))
            return [SizeHint(f.low, f.high, width / layers)] + (
                [SizeHint(f.low, f.low, slot_cell)] if f.scale > 0 else []
            )
        case "cover":
            return [SizeHint(f.low, f.high, max(slot_cell / 4, min(width / 2, slot_cell + 0.3 * f.depth)))]
        case "post" | "screw":
            beside = [SizeHint(f.low - f.scale, f.low, f.scale), SizeHint(f.high, f.high + f.scale, f.scale)]
            return [SizeHint(f.low, f.high, width / cells_across(f.kind, settings))] + (
                beside if f.scale else []
            )
        case "bore":
            return [SizeHint(f.low, f.high, width / (2 * settings.bore_cells + settings.post_cells))]
        case "tube":
            return [SizeHint(f.low, f.high, width / settings.tube_cells)]
        case "wing" | "wing edge":
            return [SizeHint(f.low, f.high, f.scale)]
        case "pole":
            return [SizeHint(f.low, f.high, width / POLE_CELLS)]
        case "coax line":
            return [SizeHint(f.low, f.high, width / 11)]
        case "coax gap" | "gap" | "cell":
            return [SizeHint(f.low, f.high, width)]
        case "tip" | "screw tip":
            return [SizeHint(f.low, f.high, f.scale / cells_across(f.kind, settings))]
    return []


def _size(at: np.ndarray, hints: list[SizeHint], coarse: float, growth: float) -> np.ndarray:
    """Cell size wanted at each place, m."""
    size = np.full(at.shape, coarse)
    for h in hints:
        away = np.maximum(0.0, np.maximum(h.low - at, at - h.high))
        np.minimum(size, h.size + growth * away, out=size)
    return size


def _anchors(
    features: list[Feature],
    ends: tuple[float, float],
    hints: list[SizeHint],
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


def _filled(anchors: np.ndarray, hints: list[SizeHint], coarse: float, growth: float) -> np.ndarray:
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


def cell_ratios(line: np.ndarray) -> np.ndarray:
    """Ratios of neighbouring cells, at least 1 each."""
    d = np.diff(line)
    return np.maximum(d[1:] / d[:-1], d[:-1] / d[1:])
