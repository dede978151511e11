"""A row of slots from its single slots: the same as the row computed at once, and limits that must hold."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simharness.em.pattern.aperture import Aperture, radiated_field
from simharness.em.pattern.element import ElementFields
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.pattern.side_lobes import side_lobe_level

FREQUENCY = 5.8e9
TUBE = RectangularTube(0.044, 0.024)
APERTURE = Aperture(
    np.array([0.004, -0.004, 0.005]),
    np.array([0.03, 0.062, 0.095]),
    np.array([0.025, 0.0255, 0.026]),
    np.ones(3),
)
VOLTAGES = np.array([[1.0, 0.9 - 0.2j, 1.1 + 0.3j], [1.0, 1.0, 1.0]])


@pytest.fixture(scope="module")
def elements() -> ElementFields:
    return ElementFields(TUBE, APERTURE, FREQUENCY)


def test_the_row_is_the_sum_of_its_slots(elements):
    """The field of the whole row at once, integrated with other points; 0.2 % for the interpolation over
    theta in both.
    """
    angle = np.radians(np.arange(-360, 361) / 4.0)
    cosine, weights = np.polynomial.legendre.leggauss(90)
    phi = np.arange(60) * 2 * math.pi / 60
    for row, voltages in enumerate(VOLTAGES):
        whole = Aperture(APERTURE.offsets, APERTURE.positions, APERTURE.lengths, voltages)
        front = (
            np.abs(
                radiated_field(TUBE, whole, FREQUENCY, np.arccos(np.sin(angle)), np.array([math.pi / 2]))[
                    :, 0
                ]
            )
            ** 2
        )
        sphere = np.abs(radiated_field(TUBE, whole, FREQUENCY, np.arccos(cosine), phi)) ** 2
        directivity = 2 * front.max() / (weights @ sphere.mean(axis=1))
        assert elements.directivity(VOLTAGES)[row] == pytest.approx(directivity, rel=0.002)
        assert elements.side_lobe_levels(VOLTAGES)[row] == pytest.approx(
            side_lobe_level(angle, front, math.pi / 2), abs=1e-9
        )  # rounding


def test_a_common_factor_of_the_voltages_changes_nothing(elements):
    np.testing.assert_allclose(
        elements.directivity(2j * VOLTAGES), elements.directivity(VOLTAGES), rtol=1e-12
    )  # rounding


def test_a_slot_alone_has_no_side_lobe():
    one = Aperture(np.array([0.004]), np.array([0.03]), np.array([0.025]), np.ones(1))
    elements = ElementFields(TUBE, one, FREQUENCY)
    assert np.isnan(elements.side_lobe_levels(np.ones((1, 1), complex))[0])
    assert (
        elements.directivity(np.ones((1, 1), complex))[0] > 1.5
    )  # more than a slot in free space: the tube is behind it
