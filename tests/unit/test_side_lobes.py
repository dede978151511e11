"""Side lobes, and side lobes that have grown together with the main lobe."""

import math

import numpy as np
import pytest
from scipy.signal.windows import chebwin, taylor

from simharness.em.pattern.side_lobes import side_lobe, side_lobe_level

SINE = np.linspace(-1.0, 1.0, 4001)
ANGLE = np.arcsin(SINE)


def array_factor(weights, spacing=0.5):
    """Power pattern of a broadside array over ANGLE, spacing in wavelengths."""
    place = np.arange(len(weights)) - (len(weights) - 1) / 2
    return np.abs(np.exp(2j * np.pi * spacing * np.outer(SINE, place)) @ weights) ** 2


def out_of_focus(phase, length=8.0, taper=0.0):
    """Power of a line source of some wavelengths, its ends lower by `taper` and ahead by `phase`, rad."""
    place, weight = np.polynomial.legendre.leggauss(80)
    field = (1 - taper * place**2) * np.exp(1j * phase * place**2) * weight
    return np.abs(np.exp(1j * np.pi * length * np.outer(SINE, place)) @ field) ** 2


@pytest.mark.filterwarnings("ignore:This window is not suitable for spectral analysis")
@pytest.mark.parametrize("count", [6, 8, 16])
@pytest.mark.parametrize("level", [15.0, 20.0, 30.0])
def test_a_chebyshev_array_has_the_side_lobes_it_was_made_for(count, level):
    # Windows of scipy.signal, equal ripple by definition; 0.01 dB: a parabola through fine steps.
    assert side_lobe_level(ANGLE, array_factor(chebwin(count, level))) == pytest.approx(-level, abs=0.01)


def test_a_taylor_array_has_the_side_lobes_it_was_made_for():
    # The continuous design of 25 dB, sampled at 32 points by scipy.signal: common practice is within 0.3 dB.
    weights = taylor(32, nbar=5, sll=25, norm=False)
    assert side_lobe_level(ANGLE, array_factor(weights)) == pytest.approx(-25, abs=0.3)


def test_the_highest_lobe_of_a_uniform_line_source_is_where_theory_has_it():
    # sinc: first side lobe at u = 1.4303 pi (tan u = u), -13.26 dB.
    lobe = side_lobe(ANGLE, out_of_focus(0.0))
    assert abs(math.sin(lobe.angle)) == pytest.approx(1.4303 / 8.0, abs=1e-4)
    assert lobe.level == pytest.approx(-13.26, abs=0.005)
    assert not lobe.shoulder


def test_a_lobe_that_grows_together_with_the_beam_keeps_its_level():
    """A line source out of focus: its first minimum fills up and vanishes (textbooks, from memory). A level
    that counts from the minimum on would fall in one step to that of the second lobe, by 7 dB."""
    phases = np.radians(np.arange(0.0, 105.0, 1.0))
    found = [side_lobe(ANGLE, out_of_focus(phase, taper=0.8)) for phase in phases]
    levels = np.array([lobe.level for lobe in found])
    shoulders = np.array([lobe.shoulder for lobe in found])
    assert not shoulders[0] and shoulders.any()
    # Physics: a degree of phase at the ends moves the field of a lobe by a small part of 1.7 % of the peak.
    assert np.abs(np.diff(levels)).max() < 0.6
    assert np.all(np.diff(levels) > 0)


def test_coarse_steps_see_the_same_shoulder():
    power = out_of_focus(np.radians(100.0), taper=0.8)
    fine = side_lobe(ANGLE, power)
    coarse = np.radians(np.arange(-90, 91, 1.0))  # a sixth of the beamwidth
    seen = side_lobe(coarse, np.interp(coarse, ANGLE, power))
    assert fine.shoulder and seen.shoulder
    assert seen.level == pytest.approx(fine.level, abs=0.3)
    assert abs(seen.angle) == pytest.approx(abs(fine.angle), abs=np.radians(0.5))


@pytest.mark.parametrize(
    "power", [np.exp(-((ANGLE / 0.2) ** 2)), np.cos(ANGLE) ** 2, np.cos(ANGLE) ** 30, np.cos(ANGLE / 2) ** 8]
)
def test_a_beam_that_falls_evenly_has_no_side_lobe(power):
    assert side_lobe(ANGLE, power) is None
    assert side_lobe_level(ANGLE, power) == float("-inf")


def test_a_pedestal_under_the_beam_is_a_side_lobe_of_about_its_own_level():
    # At the place found the pedestal is 0.05 exp(-(x/0.8)^2), with the beam on top of it.
    power = np.exp(-((ANGLE / 0.2) ** 2)) + 0.05 * np.exp(-((ANGLE / 0.8) ** 2))
    lobe = side_lobe(ANGLE, power)
    pedestal = 10 * math.log10(0.05 / 1.05 * math.exp(-((lobe.angle / 0.8) ** 2)))
    assert lobe.shoulder and lobe.level == pytest.approx(pedestal, abs=0.2)


def test_a_shoulder_behind_does_not_count_in_front():
    turn = np.radians(np.arange(-180, 181, 0.25))
    power = np.cos(turn / 2) ** 8 + 0.02 * np.exp(-(((np.abs(turn) - 2.2) / 0.1) ** 2))
    assert side_lobe(turn, power, np.pi / 2) is None
    assert abs(side_lobe(turn, power).angle) == pytest.approx(2.2, abs=0.05)
