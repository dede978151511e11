"""Pattern figures against line sources and arrays whose figures are published or exact."""

from __future__ import annotations

import numpy as np
import pytest
from each_case import each_case
from ludwig import ludwig3

from simharness.constants import ETA0, TWO_PI
from simharness.em.pattern.cuts import cut_across, cut_along, polarization
from simharness.em.pattern.far_field import FarField, radiation_intensity
from simharness.em.pattern.levels import front_to_back, half_power_beamwidth, peak
from simharness.em.pattern.side_lobes import side_lobe_level
from simharness.errors import InputError

TURN = np.radians(np.arange(-180, 180.25, 0.5))
THETA = np.radians(np.arange(0, 181, 2.0))
PHI = np.radians(np.arange(0, 360, 2.0))


def line_source(angle, wavelengths):
    """Power pattern of a uniform line source along the guide, isotropic elements."""
    return np.sinc(wavelengths * np.sin(angle)) ** 2


def uniform_array(angle, count, spacing=0.5):
    """Power pattern of a uniform broadside array, spacing in wavelengths."""
    phase = TWO_PI * spacing * np.outer(np.sin(angle), np.arange(count) - (count - 1) / 2)
    return np.abs(np.exp(1j * phase).mean(axis=1)) ** 2


def test_uniform_line_source_has_the_published_beamwidth_and_side_lobe():
    # Print: 0.886 lambda / L; memory, recomputed: -13.26 dB. L = 20 wavelengths, where
    # arcsin differs from its argument by 8e-5. Tolerance: half of the last digit.
    # Steps of 0.1 deg, a 25th of the beamwidth, so that interpolation does not count.
    x = np.radians(np.arange(-90, 90.05, 0.1))
    power = line_source(x, 20.0)
    assert 20 * half_power_beamwidth(x, power) == pytest.approx(0.886, abs=0.0005)
    assert side_lobe_level(x, power) == pytest.approx(-13.26, abs=0.005)


def test_figures_do_not_depend_on_the_sampling():
    # 10 wavelengths, beam 5.1 deg wide: a 1 deg grid against a hundred times finer one.
    fine = np.radians(np.arange(-90, 90.005, 0.01))
    power = line_source(fine, 10.0)
    width, level = half_power_beamwidth(fine, power), side_lobe_level(fine, power)
    for shift in (0.0, 0.3, 0.5):
        x = np.radians(np.arange(-90 + shift, 90, 1.0))
        coarse = line_source(x, 10.0)
        # A cubic (width) and a parabola (level) through samples h = 1 deg apart, that is
        # 0.17 of a lobe: h^4 and h^3 terms of a sinc^2 stay below 1 % and 0.1 dB.
        assert half_power_beamwidth(x, coarse) == pytest.approx(width, rel=0.01)
        assert side_lobe_level(x, coarse) == pytest.approx(level, abs=0.1)


@pytest.mark.parametrize(
    ("count", "level"), [(4, -11.30), (6, -12.43), (8, -12.80), (10, -12.97), (16, -13.15)]
)
def test_first_side_lobe_of_uniform_arrays(count, level):
    # Computed from the array factor (first principles), two decimals: half a unit of the
    # last. The grid of 0.1 deg makes the parabola's error negligible.
    x = np.radians(np.arange(-90, 90.05, 0.1))
    assert side_lobe_level(x, uniform_array(x, count)) == pytest.approx(level, abs=0.005)


def test_side_lobe_search_on_a_full_turn_sees_the_back_only_without_a_limit():
    # An array of isotropic elements radiates alike to the front and the back: 0 dB.
    # Half a unit of the last digit and 0.02 dB for the parabola through 0.5 deg steps.
    power = uniform_array(TURN, 8)
    assert side_lobe_level(TURN, power) == pytest.approx(0.0, abs=1e-9)
    assert side_lobe_level(TURN, power, np.pi / 2) == pytest.approx(-12.80, abs=0.005 + 0.02)
    # The first side lobe stands at 21.1 deg: closer in there is only its flank.
    assert side_lobe_level(TURN, power, np.radians(17)) < -13.5


def test_squinted_beam_is_found_between_samples_also_across_the_back():
    for wanted in (3.3, -76.4, 179.6, -179.9):
        power = np.cos((TURN - np.radians(wanted)) / 2) ** 40
        top = peak(TURN, power)
        # cos^40 near its top: the fourth-order term shifts a parabola of 0.5 deg steps
        # by less than 1e-3 of a step.
        assert np.degrees(top.angle) == pytest.approx(wanted, abs=1e-3)
        assert top.power == pytest.approx(1.0, abs=1e-5)
        # First principles: cos^40(w / 4) = 1/2.
        exact = 4 * np.arccos(0.5 ** (1 / 40))
        assert half_power_beamwidth(TURN, power) == pytest.approx(exact, rel=1e-5)


def test_beamwidth_of_a_pattern_without_half_power_is_not_a_number():
    assert np.isnan(half_power_beamwidth(TURN, 4 + np.cos(TURN)))
    one_sided = TURN[TURN >= 0]
    assert np.isnan(half_power_beamwidth(one_sided, np.cos(one_sided / 2) ** 8))


def test_half_wave_dipole_beamwidth():
    # Print: 78 deg; pattern cos(pi/2 sin x)/cos x about broadside (first principles).
    x = np.radians(np.arange(-88, 89, 2.0))
    power = (np.cos(np.pi / 2 * np.sin(x)) / np.cos(x)) ** 2
    assert np.degrees(half_power_beamwidth(x, power)) == pytest.approx(78, abs=0.5)


def test_front_to_back_of_a_cardioid_and_of_a_rear_sector():
    cardioid = (0.55 + 0.45 * np.cos(TURN)) ** 2
    # First principles: (1 / 0.1)^2 = 20 dB; +-60 deg behind: 0.55 - 0.225 = 0.325.
    assert front_to_back(TURN, cardioid) == pytest.approx(20.0, abs=1e-9)
    assert front_to_back(TURN, cardioid, np.radians(60.0001)) == pytest.approx(
        -20 * np.log10(0.325), abs=1e-9
    )
    assert front_to_back(TURN, np.maximum(np.cos(TURN), 0)) == float("inf")
    # Turned by 40 deg (on the grid), the back turns with it.
    turned = (0.55 + 0.45 * np.cos(TURN - np.radians(40))) ** 2
    assert front_to_back(TURN, turned) == pytest.approx(20.0, abs=1e-6)
    with pytest.raises(InputError):
        front_to_back(TURN[:-10], cardioid[:-10])


@each_case(
    ("angle", "power"),
    [
        (TURN, TURN),
        (TURN[::-1], np.ones(TURN.size)),
        (TURN, np.zeros(TURN.size)),
        (TURN[:4], np.ones(4)),
        (TURN, np.ones(7)),
        (TURN, np.full(TURN.size, np.nan)),
    ],
)
def test_unusable_cuts_are_refused(angle, power):
    for figure in (peak, half_power_beamwidth, side_lobe_level, front_to_back):
        with pytest.raises(InputError):
            figure(angle, power)


def vector_far(theta=THETA, phi=PHI):
    """A smooth field with both polarisations: fixed vector seen across the line of sight,
    weighted by a beam that differs along every axis (invented)."""
    t, p = np.meshgrid(theta, phi, indexing="ij")
    r = np.stack([np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)], axis=-1)
    at = np.stack([np.cos(t) * np.cos(p), np.cos(t) * np.sin(p), -np.sin(t)], axis=-1)
    ap = np.stack([-np.sin(p), np.cos(p), 0 * p], axis=-1)
    beam = np.exp(r @ [0.3, 1.5, 0.7]) * np.exp(1j * (r @ [0.5, 0.2, 2.0]))
    e_theta, e_phi = (beam * (unit @ [1.0, 0.2j, 0.4]) for unit in (at, ap))
    return FarField(np.array([3e9]), theta, phi, e_theta[None], e_phi[None])


@pytest.mark.parametrize("extract", [cut_along, cut_across])
def test_cuts_hold_the_field_of_their_directions(extract):
    far = vector_far()
    cut = extract(far, 0)
    np.testing.assert_allclose(np.degrees(cut.angle), np.arange(-180, 181, 2.0), atol=1e-9)
    co, cross = (np.abs(part[0]) ** 2 / (2 * ETA0) for part in ludwig3(far, "+y", "+x"))
    total = radiation_intensity(far)[0]
    for k, angle in enumerate(cut.angle):
        # Direction of the definition: along = (0, cos, sin), across = (sin, cos, 0).
        s, c = np.sin(angle), np.cos(angle)
        r = np.array([0, c, s]) if extract is cut_along else np.array([s, c, 0])
        i = round(np.degrees(np.arccos(np.clip(r[2], -1, 1))) / 2)
        j = round(np.degrees(np.arctan2(r[1], r[0])) / 2) % PHI.size
        if abs(r[2]) > 1 - 1e-9:
            j = 45  # the pole belongs to every phi
        assert cut.total[k] == pytest.approx(total[i, j], rel=1e-9)
        if abs(abs(angle) - np.pi) > 1e-6:  # Ludwig's split is undefined behind
            assert cut.co[k] == pytest.approx(co[i, j], rel=1e-9, abs=1e-12)
            assert cut.cross[k] == pytest.approx(cross[i, j], rel=1e-9, abs=1e-12)
    # Behind, the split continues that of the neighbours along the cut.
    assert cut.co[0] == cut.co[-1]
    assert cut.co[-1] == pytest.approx(2 * cut.co[-2] - cut.co[-3], rel=0.02)


def test_the_two_cuts_meet_at_broadside():
    far = vector_far()
    along, across = cut_along(far, 0), cut_across(far, 0)
    middle = along.angle.size // 2
    assert along.co[middle] == pytest.approx(across.co[middle], rel=1e-12)
    # The field at +y is (1, -, 0.4) exp(1.5): co along x, cross along z.
    assert along.co[middle] == pytest.approx(np.exp(3.0) / (2 * ETA0), rel=1e-12)
    assert along.cross[middle] == pytest.approx(0.16 * np.exp(3.0) / (2 * ETA0), rel=1e-12)


def test_cuts_accept_a_transform_of_only_their_directions():
    whole = vector_far()
    two = vector_far(phi=np.radians([90.0, 270.0]))
    np.testing.assert_allclose(cut_along(two, 0).co, cut_along(whole, 0).co, rtol=1e-12)
    one = vector_far(theta=np.radians([90.0]))
    np.testing.assert_allclose(cut_across(one, 0).co, cut_across(whole, 0).co, rtol=1e-12)


def test_cuts_refuse_a_grid_that_misses_them():
    with pytest.raises(InputError):
        cut_along(vector_far(phi=PHI + np.radians(1)), 0)
    with pytest.raises(InputError):
        cut_across(vector_far(theta=np.radians(np.arange(0, 181, 4.0))), 0)


@each_case(("ratio_db", "tilt"), [(0.5, 20.0), (3.0, -65.0), (12.0, 90.0), (40.0, 0.0)])
@each_case("sense", [1, -1])
def test_polarisation_of_an_ellipse_built_from_its_axes(ratio_db, tilt, sense):
    # First principles: major axis 1, minor axis j / AR, turned by the tilt.
    minor = sense * 1j * 10 ** (-ratio_db / 20)
    c, s = np.cos(np.radians(tilt)), np.sin(np.radians(tilt))
    phase = 3.1 * np.exp(1.2j)
    found = polarization(phase * (c - minor * s), phase * (s + minor * c))
    assert found[0] == pytest.approx(ratio_db, abs=1e-10)
    # Rounding may turn +90 into -90 deg, the same axis.
    assert (np.degrees(found[1]) - tilt + 90) % 180 == pytest.approx(90, abs=1e-10)


def test_linear_and_circular_polarisation():
    ratio, _ = polarization(np.array([1.0, 1.0]), np.array([1j, -1j]))
    np.testing.assert_allclose(ratio, 0.0, atol=1e-12)
    ratio, tilt = polarization(np.array([1.0, 0.0]), np.array([0.0, 1.0]))
    assert np.all(np.isinf(ratio))
    np.testing.assert_allclose(tilt, [0.0, np.pi / 2])
    assert np.isnan(polarization(0.0, 0.0)[0])
