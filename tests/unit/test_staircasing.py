"""Slots askew to the mesh: the table from electrostatics on stairs, what is drawn in, and what the mesh then
holds.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import spsolve
from shaped_records import SHIPPED, varied

from simharness.geometry import antenna_scene
from simharness.geometry.solids import SUBSTRATE
from simharness.mesh.grid import grid
from simharness.mesh.raster import outline_mask
from simharness.mesh.settings import QUALITIES
from simharness.mesh.staircasing import (
    STAIRCASE_NARROWING,
    excess_length,
    meshed_opening,
    with_staircasing_correction,
)

BENT = "bent-slot-5g8"


def narrowing(across: int, rise: int, run: int, place: float) -> float:
    """By how many cells a gap of slope rise/run between stairs seems narrower: Laplace's equation on the
    lattice, one period.
    """
    slope = math.atan2(rise, run)
    reach = int(across / math.cos(slope) + 8)

    def away(i: float, k: float) -> float:
        return (i - place) * math.cos(slope) - k * math.sin(slope)

    def fixed(i: int, k: int) -> float | None:
        metal = any(abs(away(i + a, k + b)) >= across / 2 - 1e-9 for a in (-0.5, 0.5) for b in (-0.5, 0.5))
        return (1.0 if away(i, k) > 0 else 0.0) if metal else None

    nodes = [(i, k) for k in range(run) for i in range(-reach, reach + rise)]
    free = {node: n for n, node in enumerate(n for n in nodes if fixed(*n) is None)}
    links = [
        ((i, k), (i + di - rise * ((k + dk) // run), (k + dk) % run))
        for i, k in nodes
        for di, dk in ((1, 0), (0, 1))
    ]
    matrix, known = lil_matrix((len(free), len(free))), np.zeros(len(free))
    for one, two in links:
        for here, there in ((one, two), (two, one)):
            if here in free:
                matrix[free[here], free[here]] += 1
                if there in free:
                    matrix[free[here], free[there]] -= 1
                else:
                    known[free[here]] += fixed(*there)
    found = spsolve(matrix.tocsr(), known)
    potential = {node: found[free[node]] if node in free else fixed(*node) for link in links for node in link}
    energy = sum((potential[one] - potential[two]) ** 2 for one, two in links)
    return across - run / math.cos(slope) / energy


@pytest.mark.parametrize("rise, run", [(1, 4), (1, 2), (1, 1), (2, 1)])
def test_table_from_electrostatics_on_stairs(rise, run):
    """Mean over places of the gap, 4 to 6 cells across: the table is smooth, single gaps scatter by 0.1
    cells.
    """
    found = np.mean(
        [
            narrowing(across, rise, run, place)
            for across in (4, 5, 6)
            for place in (0.0, 0.13, 0.37, 0.61, 0.83)
        ]
    )
    assert found == pytest.approx(
        np.interp(math.degrees(math.atan2(rise, run)), *STAIRCASE_NARROWING), abs=0.1
    )


def test_excess_falls_with_the_cells_across_and_is_none_without_stairs():
    line = antenna_scene(SHIPPED[BENT]).prisms[0].off_grid[0].line
    assert excess_length(line, 8) == pytest.approx(excess_length(line, 4) / 2, rel=1e-12)
    assert 0.01 < excess_length(line, 4) < 0.06
    assert excess_length(((0.0, 0.0), (0.0, 1e-2)), 4) == 0.0


@pytest.mark.parametrize("quality", ["draft", "normal"])
def test_open_cells_have_the_area_of_the_meshed_outline(quality):
    """Cells count by their centres; over an outline of some 45 border cells of 0.1 to 0.15 of the width that
    is good for 2 %.
    """
    settings = QUALITIES[quality]
    scene = with_staircasing_correction(antenna_scene(SHIPPED[BENT]), settings)
    mesh, wall = grid(scene, settings), scene.prisms[0]
    metal = outline_mask(wall, mesh)
    for hole in wall.off_grid:
        outline = meshed_opening(hole, settings)
        x, z = (
            slice(mesh.index(axis, outline.bounds[i]), mesh.index(axis, outline.bounds[i + 2]))
            for i, axis in ((0, 0), (1, 2))
        )
        area = np.sum(~metal[x, z] * np.outer(np.diff(mesh.x)[x], np.diff(mesh.z)[z]))
        assert area == pytest.approx(outline.area, rel=0.02)


def test_each_broad_wall_draws_in_its_own_slots():
    """A row in both walls: the extents of the front come again for the back, and each wall is as open as that
    of the front alone.
    """
    one, both = (
        varied(SHIPPED[BENT], slot_rule={"faces": faces}, feed={"wall": "front"})
        for faces in ("front", "both")
    )
    alone, scene = (
        with_staircasing_correction(antenna_scene(record), QUALITIES["draft"]) for record in (one, both)
    )
    front, back = (next(p for p in scene.prisms if p.part == f"{face} wall") for face in ("front", "back"))
    assert front == next(p for p in alone.prisms if p.part == "front wall")
    assert back.off_grid == front.off_grid
    # without the feed hole of the front
    assert set(back.meshed.holes) <= set(front.meshed.holes)
    count = [sum(f.kind == "slot extent" for f in found.features) for found in (alone, scene)]
    assert count == [2 * len(one.slots), 4 * len(one.slots)]


def test_routed_board_is_open_where_its_copper_is():
    board = {"permittivity": 3.4, "loss_tangent": 0.003, "slots": "routed"}
    scene = with_staircasing_correction(
        antenna_scene(varied(SHIPPED[BENT], guide={"laminate": board})), QUALITIES["draft"]
    )
    copper, sheet = (next(p for p in scene.prisms if p.part == part) for part in ("front wall", SUBSTRATE))
    assert sheet.meshed.holes == copper.meshed.holes and len(copper.meshed.holes) == len(scene.slots)
    assert sum(f.kind == "slot extent" for f in scene.features) == 2 * len(scene.slots)


def test_scenes_without_such_slots_stay_as_they_are():
    scene = antenna_scene(SHIPPED["five-slot-2g45"])
    assert with_staircasing_correction(scene, QUALITIES["draft"]) is scene
