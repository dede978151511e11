"""Radiation from the tube: limits of the outline, known arrays and the dipole."""

import numpy as np
import pytest

from simharness.constants import C0
from simharness.em.pattern.aperture import Aperture, radiated_field
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.pattern.side_lobes import side_lobe_level


def test_response_of_a_vanishing_tube_is_one():
    # Outline of 0.01 wavelength: scattering by the area, of the order (kr)^2 = 0.4 %.
    h = RectangularTube(1e-3, 1e-3).response(
        2 * np.pi / 0.1, np.array([0.0]), np.radians([0.0, 90, 180, 270])
    )
    np.testing.assert_allclose(np.abs(h), 1, atol=0.01)


def test_response_of_a_wide_tube_is_two_in_front_and_small_behind():
    # 12 wavelengths wide: the edge waves leave a ripple of order 1/sqrt(k W) (0.12) times the
    # diffraction coefficient (below 1).
    h = np.abs(
        RectangularTube(1.2, 0.2).response(2 * np.pi / 0.1, np.array([0.0]), np.radians([45.0, 90, 135, 270]))
    )[0]
    np.testing.assert_allclose(h[:3], 2, atol=0.12)
    assert h[3] < 0.3


def test_response_converges_and_is_symmetric():
    tube, k = RectangularTube(91e-3, 46e-3), 2 * np.pi / 0.1224
    phi = np.radians(np.arange(0, 360, 10.0))
    coarse, fine = (tube.response(k, np.array([13.7e-3, -13.7e-3]), phi, n) for n in (20, 60))
    # The stated 1 % of the largest value, 2.6.
    np.testing.assert_allclose(coarse, fine, atol=0.026)
    mirrored = np.abs(tube.response(k, np.array([-13.7e-3]), np.pi - phi))
    np.testing.assert_allclose(np.abs(coarse[0]), mirrored[0], atol=0.002)  # inner points are not symmetric


@pytest.mark.parametrize(("count", "level"), [(4, -11.30), (8, -12.80), (16, -13.15)])
def test_uniform_array_first_side_lobe(count, level):
    # Uniform isotropic arrays: N 4, 8, 16 (computed elsewhere). At a spacing of 0.5 wavelength the slot and
    # the tube weigh the lobe down a little; lengths of 0 and a vanishing tube leave only sin(theta).
    free, place = 0.1, np.arange(count) * 0.05
    angle = np.radians(np.arange(-720, 721) / 8.0)
    aperture = Aperture(np.zeros(count), place, np.full(count, 1e-4), np.ones(count))
    theta = np.arccos(np.clip(np.sin(angle), -1, 1))
    field = radiated_field(RectangularTube(1e-4, 1e-4), aperture, C0 / free, theta, np.array([np.pi / 2]))[
        :, 0
    ]
    with np.errstate(divide="ignore", invalid="ignore"):
        alone = np.where(np.cos(angle) > 1e-9, np.abs(field) / np.sin(theta), 0.0)
    assert side_lobe_level(angle, alone**2) == pytest.approx(level, abs=0.01)  # half digit and the grid


def test_directivity_of_a_half_wave_slot_alone_is_the_dipole():
    # Half-wave dipole: D = 1.64 (print), here without any tube around it; half a unit of the last digit.
    cosine, weights = np.polynomial.legendre.leggauss(80)
    aperture = Aperture(np.zeros(1), np.zeros(1), np.array([0.05]), np.ones(1))
    field = radiated_field(
        RectangularTube(1e-5, 1e-5), aperture, C0 / 0.1, np.arccos(cosine), np.array([np.pi / 2])
    )[:, 0]
    top = radiated_field(
        RectangularTube(1e-5, 1e-5), aperture, C0 / 0.1, np.array([np.pi / 2]), np.array([np.pi / 2])
    )
    power = np.abs(field) ** 2
    assert np.abs(top[0, 0]) ** 2 / (weights @ power / 2) == pytest.approx(1.64, abs=0.005)
