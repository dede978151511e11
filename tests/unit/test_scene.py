"""Plain geometry: outlines, equivalent square conductors, bounds. Expected values from first principles."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simharness.constants import EPS0
from simharness.em.guide.electrostatics import line_capacitance
from simharness.geometry.scene import Scene, Spectrum
from simharness.geometry.solids import (
    METAL,
    SQUARE_CAPACITY,
    Outline,
    block,
    circle,
    equivalent_square_bore,
    equivalent_square_side,
    rectangle,
)
from simharness.records.outlines import constant_width_outline

STRAIGHT = ((3e-3, 1e-3), (3e-3, 16e-3))
# A half circle drawn by 64 chords has an area smaller by 1 - sin(p)/p, p = pi/64: 4.0e-4.
CHORDS = 5e-4


def test_square_ended_slot_is_its_rectangle():
    outline = constant_width_outline(STRAIGHT, 2e-3, "square")
    assert outline.area == pytest.approx(15e-3 * 2e-3, rel=1e-12)
    assert outline.bounds == pytest.approx((2e-3, 1e-3, 4e-3, 16e-3), abs=1e-12)


def test_round_ended_slot_keeps_its_overall_length():
    outline = constant_width_outline(STRAIGHT, 2e-3, "round")
    exact = 13e-3 * 2e-3 + math.pi * 1e-6
    assert outline.bounds == pytest.approx((2e-3, 1e-3, 4e-3, 16e-3), abs=1e-9)
    assert exact - CHORDS * math.pi * 1e-6 < outline.area < exact


@pytest.mark.parametrize("ends", ["square", "round"])
def test_bent_slot_has_the_same_width_everywhere(ends):
    angle = np.linspace(-0.6, 0.6, 121)
    line = tuple((20e-3 * (1 - math.cos(t)), 20e-3 * math.sin(t)) for t in angle)
    outline = constant_width_outline(line, 2e-3, ends)
    # The sides of a strip about an arc of radius 20 mm lie 1 mm from it.
    length = 20e-3 * 1.2
    exact = 2e-3 * length if ends == "square" else 2e-3 * (length - 2e-3) + math.pi * 1e-6
    # Chords of the centre line: (0.01)^2 / 24 of the length; chords of the ends as above.
    assert outline.area == pytest.approx(exact, rel=1e-4)
    sides = [
        math.hypot(x - 20e-3, z) for x, z in outline.exterior.coords if abs(math.atan2(z, 20e-3 - x)) < 0.5
    ]
    # Chords of 0.2 mm on a radius of 20 mm leave it by 0.25 um.
    assert np.abs(np.abs(np.array(sides) - 20e-3) - 1e-3).max() < 0.5e-6
    assert len(sides) > 100


def test_outline_keeps_its_holes():
    outline = rectangle(
        -10e-3,
        10e-3,
        0.0,
        30e-3,
        (circle(2e-3, 10e-3, 4e-3), constant_width_outline(((-5e-3, 5e-3), (-5e-3, 20e-3)), 1e-3, "square")),
    )
    assert len(outline.holes) == 2
    assert outline.exterior[0] != outline.exterior[-1]
    assert Outline.of(outline.polygon()) == outline
    # 64 sides of the inscribed polygon: area of the disc times sin(p)/p, p = 2 pi / 64.
    disc = math.pi * 4e-6 * math.sin(math.pi / 32) / (math.pi / 32)
    assert outline.polygon().area == pytest.approx(600e-6 - 15e-6 - disc, rel=1e-12)


def test_bounds_of_a_prism_put_its_axis_in_place():
    solid = block("part", METAL, (1.0, 2.0, 3.0, 5.0, 7.0, 11.0))
    assert solid.bounds() == (1.0, 2.0, 3.0, 5.0, 7.0, 11.0)
    scene = Scene(
        "one",
        (solid, block("two", METAL, (0.0, 1.0, 4.0, 9.0, 8.0, 9.0))),
        (),
        (),
        Spectrum(1e9, 0.9e9, 1.1e9),
    )
    assert scene.bounds() == (0.0, 2.0, 3.0, 9.0, 7.0, 11.0)


def _extrapolated(values: list[float]) -> float:
    """Limit of a series on three meshes, each twice as fine: Aitken, any order of convergence."""
    one, two, three = values
    return three - (three - two) ** 2 / (three - 2 * two + one)


def test_equivalent_square_of_a_wire():
    """Logarithmic capacity of the unit square: Gamma(1/4)^2 / (4 pi^1.5) = 0.590 170.

    Independent route: capacitance of a centred square in a square bore on three lattices, continued to none.
    The bore of side S looks like a circle of radius 0.539 353 S to a small wire, so that C = 2 pi eps0 /
    ln(0.539 353 S / r); with s = S/8 corrections of fourth order, (s/S)^4 = 2.4e-4 of the radius.
    """
    capacitance = []
    for across in (4, 8, 16):
        line = np.linspace(0.0, 1.0, 8 * across + 1)
        middle = (7 * across // 2, 9 * across // 2)
        capacitance.append(line_capacitance(line, line, middle, middle))
    radius = 8 * 0.539353 * math.exp(-2 * math.pi * EPS0 / _extrapolated(capacitance))
    # 1e-3: the finite bore as above, the rest the extrapolation.
    assert radius == pytest.approx(SQUARE_CAPACITY, rel=1e-3)
    assert pytest.approx(0.590170, abs=5e-7) == SQUARE_CAPACITY
    assert equivalent_square_side(2 * 0.590170) == pytest.approx(1.0, rel=1e-6)


def test_equivalent_square_of_a_bore():
    """Side of the square bore for a round one of unit diameter: 0.9270 (conformal radius 0.539 353 S).

    Independent route: the value at the centre of the harmonic function that is ln r on the border of
    the square, by a series of harmonic polynomials r^4n cos 4n phi fitted to that border.
    """
    v = np.linspace(0.0, 1.0, 400)  # one eighth of the border of the square of side 2
    radius, angle = np.hypot(1.0, v), np.arctan(v)
    orders = 4 * np.arange(12)
    basis = (radius[:, None] / math.sqrt(2)) ** orders * np.cos(orders * angle[:, None])
    fit, *_ = np.linalg.lstsq(basis, np.log(radius), rcond=None)
    conformal = math.exp(fit[0]) / 2  # for unit side
    # The fit's misfit on the border bounds its error inside (maximum principle).
    misfit = np.abs(basis @ fit - np.log(radius)).max()
    assert misfit < 2e-5
    assert equivalent_square_bore(1.0) == pytest.approx(0.5 / conformal, rel=2 * misfit)
    assert equivalent_square_bore(1.0) == pytest.approx(0.9270, abs=5e-5)
