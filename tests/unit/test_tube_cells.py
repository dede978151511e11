"""The cells of a round tube: closed, and with the cutoff of the circle."""

import math

import numpy as np
import pytest
from each_case import each_case
from scipy.ndimage import label

from simharness.advice.shapes import SPLIT
from simharness.em.guide.meshed_mode import te_cutoff_square
from simharness.em.guide.round import TE11_ROOT
from simharness.geometry.solids import METAL, tube_part
from simharness.mesh.grid import Grid
from simharness.mesh.tube_cells import bore_cutoff_square, bore_mask, tube_mask

RADIUS, WALL = 44e-3, 0.5e-3


def _grid(cells, stretch=1.0):
    """Lines over a tube of `RADIUS` and beyond; cells grow by `stretch` from one side of y to the other."""
    half = RADIUS + 6e-3
    x = np.linspace(-half, half, 2 * round(half / (2 * RADIUS / cells)) + 1)
    y = np.linspace(0, 1, x.size)
    y = -RADIUS - half + 2 * half * (y + (stretch - 1) * y**2) / stretch
    return Grid(x, y, np.linspace(0, 0.1, 11), (0,) * 6, None, 0.0, "")


@each_case("cells, allowed", [(24, 2e-3), (36, 1.2e-3), (48, 1e-3)])
@each_case("stretch", [1.0, 1.4])
def test_stairs_have_the_cutoff_of_the_circle(cells, allowed, stretch):
    """First zero of J1' over R. The stairs change by whole cells: half a row of them, of which there are four
    or eight alike; the largest seen is 0.12 % (24 cells), and what is left is taken up by
    `raster.vacuum_factor`."""
    found = math.sqrt(bore_cutoff_square(RADIUS, -RADIUS, _grid(cells, stretch)))
    assert found == pytest.approx(TE11_ROOT / RADIUS, rel=allowed)


def test_a_wall_thinner_than_a_cell_is_closed():
    """Cells outside and inside touch nowhere, not over a face."""
    grid = _grid(24)
    wall = tube_mask(tube_part("tube", "wall", METAL, (RADIUS, RADIUS + WALL), -RADIUS, (0, 0.1)), grid)
    bore = bore_mask(RADIUS, -RADIUS, grid)
    regions, count = label(~wall)
    assert count == 2 and not (wall & bore).any()
    assert len(set(regions[bore])) == 1 and len(set(regions[~wall & ~bore])) == 1


def test_an_end_covers_wall_and_bore_and_a_filling_the_bore():
    grid = _grid(24)
    radii, span = (RADIUS, RADIUS + WALL), (0, 0.1)
    wall, end, filling = (
        tube_mask(tube_part("tube", kind, METAL, radii, -RADIUS, span), grid)
        for kind in ("wall", "end", "filling")
    )
    np.testing.assert_array_equal(end, wall | filling)
    np.testing.assert_array_equal(filling, bore_mask(RADIUS, -RADIUS, grid))


def test_a_sector_leaves_the_opening_and_nothing_else():
    """Between its sectors the wall is open over the columns of the slot alone, and at their sides as deep as
    it was.
    """
    grid = _grid(48)
    radii = (RADIUS, RADIUS + WALL)
    middle = RADIUS + WALL / 2
    low, high = grid.x[[np.searchsorted(grid.x, 12e-3), np.searchsorted(grid.x, 16e-3)]]
    gap = math.asin(low / middle), math.asin(high / middle)
    whole = tube_mask(tube_part("tube", "wall", METAL, radii, -RADIUS, (0, 0.1)), grid)
    cut = tube_mask(
        tube_part("tube", "wall", METAL, radii, -RADIUS, (0, 0.1), (gap[1], gap[0] + 2 * math.pi)), grid
    )
    i, j = np.nonzero(whole & ~cut)
    assert set(i) == set(range(grid.index(0, low), grid.index(0, high)))
    assert np.all(grid.y[j] > -RADIUS)
    for column, beside in ((i.min(), i.min() - 1), (i.max(), i.max() + 1)):
        assert np.all(cut[beside, j[i == column]])


def test_split_of_an_elliptic_tube():
    """Perturbation against the lattice: 400 cells across, diameters 2 % apart; stairs leave 3 % of the
    difference itself.
    """
    x = np.linspace(-1.05, 1.05, 421)
    u, v = np.meshgrid((x[1:] + x[:-1]) / 2, (x[1:] + x[:-1]) / 2, indexing="ij")
    free = (u / 1.01) ** 2 + (v / 0.99) ** 2 < 1
    one, two = (math.sqrt(te_cutoff_square(x, x, cells)) for cells in (free, free.T))
    assert (two - one) / TE11_ROOT / 0.02 == pytest.approx(SPLIT, rel=0.03)
    assert pytest.approx((1 + 1 / TE11_ROOT**2) / (2 * (1 - 1 / TE11_ROOT**2)), abs=5e-4) == SPLIT
