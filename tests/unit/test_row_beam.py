"""Beam of a row before it is designed, against the full sphere, line-source theory and limits."""

from __future__ import annotations

import numpy as np
import pytest

from simharness.constants import C0, TWO_PI
from simharness.em.pattern.aperture import Aperture, radiated_field
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.pattern.row_beam import MAX_SLOTS, minimum_slots, row_beamwidth, row_directivity
from simharness.em.row.taper import dolph_chebyshev_weights
from simharness.errors import InputError

FREQUENCY = 5.8e9
WAVE = C0 / FREQUENCY
TUBE = RectangularTube(43.6e-3, 23.5e-3)
SPACING = 33.6e-3


def sphere_directivity(voltages):
    """Broadside power over the mean of the whole sphere, by the tube model on a grid."""
    count = len(voltages)
    aperture = Aperture(
        np.zeros(count),
        SPACING * np.arange(count),
        np.full(count, 0.48 * WAVE),
        np.asarray(voltages, dtype=complex),
    )
    cosine, weight = np.polynomial.legendre.leggauss(120)
    phi = TWO_PI * np.arange(60) / 60
    power = np.abs(radiated_field(TUBE, aperture, FREQUENCY, np.arccos(cosine), phi)) ** 2
    top = (
        np.abs(radiated_field(TUBE, aperture, FREQUENCY, np.array([np.pi / 2]), np.array([np.pi / 2]))[0, 0])
        ** 2
    )
    return top / (weight @ power.mean(axis=1) / 2)


@pytest.mark.parametrize("count", [4, 8, 12])
def test_directivity_is_that_of_the_sphere(count):
    voltages = dolph_chebyshev_weights(count, 20)
    found = row_directivity(voltages, SPACING * np.arange(count), FREQUENCY, TUBE)
    # the product of the cuts leaves out how the cut across changes off broadside: as documented
    assert abs(10 * np.log10(found / sphere_directivity(voltages))) < 0.3


def test_beamwidth_of_a_long_row_is_that_of_a_line_source():
    # 0.886 lambda / L (print, references in tests/unit/test_pattern.py), L = N d. Sampling adds terms of
    # order 1/N^2 and sin x = x fails by x^2 / 6 at x = 1.1 degrees: both below 0.1 %; the slot's own pattern
    # narrows it by as much
    count = 40
    found = row_beamwidth(np.ones(count), SPACING * np.arange(count), FREQUENCY)
    assert found == pytest.approx(0.886 * WAVE / (count * SPACING), rel=3e-3)


def test_tapering_widens_the_beam_and_costs_directivity():
    place = SPACING * np.arange(8)
    even, tapered = np.ones(8), dolph_chebyshev_weights(8, 30)
    assert row_beamwidth(tapered, place, FREQUENCY) > row_beamwidth(even, place, FREQUENCY)
    assert row_directivity(tapered, place, FREQUENCY, TUBE) < row_directivity(even, place, FREQUENCY, TUBE)


def test_least_slots_is_the_first_that_is_enough():
    for wanted in (1, 2, 17, MAX_SLOTS):
        assert minimum_slots(lambda count: count >= wanted, "gain", "x") == wanted


def test_a_beam_too_narrow_for_any_row_is_refused():
    with pytest.raises(InputError, match=f"more than {MAX_SLOTS} slots"):
        minimum_slots(lambda count: False, "beamwidth", "0.5 deg")
