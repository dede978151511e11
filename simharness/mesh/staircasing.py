"""Staircasing correction: slots off the mesh lines are shortened by what their staircase adds.

Along a staircase of cells a wave in the slot is slow: the electric field across the slot ends at the tips of
the steps, the magnetic field fills their notches too, so that the capacitance is that of a narrower gap than
the inductance. The slot resonates low by a share that falls with the number of cells across it, and its tips
are drawn in by as much.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from shapely.geometry import LineString, Polygon
from shapely.ops import substring

from simharness.geometry.scene import Scene, extent_features
from simharness.geometry.solids import Outline, Prism
from simharness.mesh.settings import MeshSettings
from simharness.records.outlines import OffGridOpening, constant_width_outline

EXTRA_CELLS = 2
"""Cells across such a slot in addition to those across a slot along the mesh."""

STAIRCASE_NARROWING = (
    (0.0, 7.5, 15.0, 20.0, 27.0, 35.0, 45.0, 63.0, 90.0),
    (0.2, 0.32, 0.41, 0.55, 0.65, 0.73, 0.75, 0.63, 0.5),
)
"""By how many cells a gap between staircases acts narrower for the electric field, both edges together,
against the slope of the gap in degrees: two-dimensional electrostatics on the mesh, mean over positions of
the gap, 3 to 8 cells across."""

STAIRCASE_LENGTHENING = 0.38
"""Excess length of a slot between staircases over what `STAIRCASE_NARROWING` takes from its width, weighted
by the square of its voltage. Half would be right where all the field lies between two walls. Fitted with
2, 3, 4 and 6 cells across a bent slot of 15.3 x 1.6 mm in WR-90, arc of 47 degrees either way, which
resonated 9.6, 5.7, 5.2 and 3.1 % below the limit. An S-shaped slot of the same size was not used; so
corrected, both scatter by 0.6 % from 3 cells up, which is the error to be expected of a single slot."""


def staircase_cell(width: float, settings: MeshSettings) -> float:
    """Size of the cells over the whole extent of a slot off the grid, m."""
    return width / (settings.slot_cells + EXTRA_CELLS)


def with_staircasing_correction(scene: Scene, settings: MeshSettings) -> Scene:
    """The scene with the meshed outlines of its off-grid openings drawn in at their tips."""
    if not any(prism.off_grid for prism in scene.prisms):
        return scene
    features = [f for f in scene.features if f.kind != "slot extent"]
    prisms = []
    for prism in scene.prisms:
        holes = [meshed_opening(hole, settings) for hole in prism.off_grid]
        if prism.material.metal:
            wall = prism.high - prism.low
            features += [
                f for hole, own in zip(holes, prism.off_grid) for f in extent_features(hole, own.width, wall)
            ]
        prisms.append(_with_openings(prism, holes) if holes else prism)
    return replace(scene, prisms=tuple(prisms), features=tuple(features))


def meshed_opening(hole: OffGridOpening, settings: MeshSettings) -> Polygon:
    """Outline of an opening on the mesh; m."""
    line = LineString(hole.line)
    cut = 0.5 * excess_length(hole.line, hole.width / staircase_cell(hole.width, settings)) * line.length
    return constant_width_outline(
        tuple(substring(line, cut, line.length - cut).coords), hole.width, hole.ends, hole.taper
    )


def excess_length(line: tuple[tuple[float, float], ...], across: float) -> float:
    """Excess length of a slot between staircases, over its length, with `across` cells across it."""
    steps = np.diff(np.array(line), axis=0)
    slope = np.degrees(np.arctan2(np.abs(steps[:, 0]), np.abs(steps[:, 1])))
    if not np.any(slope > _STRAIGHT):
        return 0.0
    length = np.hypot(*steps.T)
    weight = length * np.cos(math.pi * ((np.cumsum(length) - length / 2) / length.sum() - 0.5)) ** 2
    return (
        STAIRCASE_LENGTHENING
        * float(np.average(np.interp(slope, *STAIRCASE_NARROWING), weights=weight))
        / across
    )


_STRAIGHT = 1e-6
"""Degrees; a straight slot with tapered tips has a staircase only where it has no voltage."""


def _with_openings(wall: Prism, holes: list[Polygon]) -> Prism:
    """The wall with its off-grid openings replaced by those on the mesh."""
    plain = (wall.meshed or wall.outline).polygon()
    rings = [ring for ring in plain.interiors if not any(Polygon(ring).intersects(hole) for hole in holes)]
    meshed = Polygon(plain.exterior, rings)
    for hole in holes:
        meshed = meshed.difference(hole)
    return replace(wall, meshed=Outline.of(meshed))
