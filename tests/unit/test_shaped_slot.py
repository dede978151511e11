"""Curved slots against closed forms, symmetries and limits of the straight slot; all from first
principles.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from shaped_records import with_slots

from simharness.em.guide.rectangular import phase_constant
from simharness.em.slot.curved import (
    CentreLine,
    cross_polar_level,
    guide_moment,
    outer_moments,
    straight_equivalent,
    tapered_length,
)
from simharness.estimate import cross_polar

A, F, L = 22.86e-3, 9.3e9, 15e-3
BETA = float(phase_constant(A, F))
ROUNDING = {"rel": 1e-9, "abs": 1e-15}


def line(shape: str, aside: float = 0.0, offset: float = 3e-3) -> CentreLine:
    return CentreLine(shape, L, aside, offset)


def test_moments_of_a_straight_slot_in_closed_form():
    """int cos(pi z/L) cos(beta z) dz = 2 (pi/L) cos(beta L/2) / ((pi/L)^2 - beta^2)."""
    p = math.pi / L
    within = 2 * p * math.cos(BETA * L / 2) / (p**2 - BETA**2)
    assert guide_moment(line("straight"), A, F) == pytest.approx(
        math.sin(math.pi * 3e-3 / A) * within, **ROUNDING
    )
    along, across = outer_moments(line("straight"), 0.0)
    assert along == pytest.approx(2 * L / math.pi, **ROUNDING) and across == 0


@pytest.mark.parametrize("shape, aside", [("bent", 2e-3), ("s", 1e-3)])
def test_a_mirrored_slot_has_the_opposite_moment_and_radiates_the_opposite_field_along_the_guide(
    shape, aside
):
    here, there = line(shape, aside), line(shape, -aside, -3e-3)
    assert guide_moment(here, A, F) == pytest.approx(-guide_moment(there, A, F), **ROUNDING)
    (along, across), (along_there, across_there) = outer_moments(here, 40.0), outer_moments(there, 40.0)
    assert along == pytest.approx(along_there, **ROUNDING) and across == pytest.approx(
        -across_there, **ROUNDING
    )


def test_a_bent_slot_is_in_shunt_and_has_no_field_along_the_guide_at_broadside():
    moment = guide_moment(line("bent", 2e-3), A, F)
    assert abs(moment.imag) < 1e-12 * abs(moment)
    along, across = outer_moments(line("bent", 2e-3), 0.0)
    assert abs(across) < 1e-12 * abs(along)


def test_an_s_on_the_centre_line_is_in_series():
    """It has no shunt part by symmetry, and as a straight slot it lies a quarter of a guide wavelength
    away.
    """
    moment = guide_moment(line("s", 1e-3, 0.0), A, F)
    assert abs(moment.real) < 1e-12 * abs(moment)
    found = straight_equivalent(line("s", 1e-3, 0.0), L, A, F)
    assert abs(found.shift) == pytest.approx(math.pi / 2 / BETA, rel=1e-9)


def test_the_field_of_an_s_along_the_guide_against_the_slender_limit():
    """By parts m_x = (pi/L) int sin(pi s/L) x ds; two parabolas of height h give -(16/pi) (4/pi - 1) h... to
    first order in h/L.

    x = 16 h u (1/2 - |u|) with u = s/L from -1/2 to 1/2, sign reversed for the arc near the lower tip; the
    slope of the arcs adds terms of order (h/L)^2, 1e-4 here.
    """
    height = 1e-2 * L
    u = np.linspace(-0.5, 0.5, 20001)
    x = -np.sign(u) * 16 * height * np.abs(u) * (0.5 - np.abs(u))
    expected = math.pi * np.trapezoid(np.sin(math.pi * u) * x, u)
    assert outer_moments(line("s", height), 0.0)[1].real == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("shape", ["bent", "s"])
def test_a_hardly_curved_slot_is_its_straight_equivalent(shape):
    found = straight_equivalent(line(shape, 1e-7), L, A, F)
    # a tenth of a micrometre moves offset and centre by micrometres at most
    assert found.length == pytest.approx(L, rel=1e-6)
    assert found.offset == pytest.approx(3e-3, abs=1e-6) and abs(found.shift) < 2e-6


def test_equivalent_keeps_the_side():
    right, left = (straight_equivalent(line("bent", side * 2e-3, side * 3e-3), L, A, F) for side in (1, -1))
    assert right.offset == pytest.approx(-left.offset, rel=1e-12) and right.shift == pytest.approx(
        left.shift, abs=1e-12
    )


def test_mirrored_neighbours_cancel_at_broadside_and_add_up_off_it():
    """Half a guide wavelength apart they add up at sin(angle) = lambda over guide wavelength."""
    count, wave = 8, 2 * math.pi / BETA
    lines = [line("s", (-1) ** i * 1e-3, (-1) ** i * 3e-3) for i in range(count)]
    found = cross_polar_level(lines, np.arange(count) * wave / 2, np.ones(count), F)
    assert found.broadside < 1e-12
    # element patterns lean the lobe by a few degrees
    assert math.degrees(abs(found.angle)) == pytest.approx(
        math.degrees(math.asin(299792458 / F / wave)), abs=6
    )
    assert 0.05 < found.largest < 0.5


def test_s_slots_of_one_hand_tilt_the_beam():
    one = line("s", 1e-3)
    found = cross_polar_level([one] * 4, np.arange(4) * 2.2e-2, np.ones(4), F)
    along, across = outer_moments(one, 0.0)
    assert found.broadside == pytest.approx(
        abs(across / along), rel=1e-3
    )  # the beam is sampled each quarter degree


def test_level_in_front_is_that_of_the_front_wall():
    """The plane hides slots of the back wall: they change nothing, and alone they have no level."""
    slots = [
        {
            "position_mm": 30.0 + 20 * i,
            "offset_mm": 3.0,
            "length_mm": 14.0,
            "width_mm": 1.6,
            "shape": "s",
            "aside_mm": 1.0,
        }
        for i in range(2)
    ]
    behind = [{**slot, "face": "back", "aside_mm": -1.0} for slot in slots]
    alone = cross_polar.estimated(with_slots(slots), np.array([1.0, 1j]), F)
    assert cross_polar.estimated(with_slots(slots + behind), np.array([1.0, 5.0, 1j, 7.0]), F) == alone != {}
    assert cross_polar.estimated(with_slots(behind), np.ones(2), F) == {}


def test_tapered_tips_shorten():
    assert L - 2 * 2e-3 < tapered_length(L, 2e-3) < L
