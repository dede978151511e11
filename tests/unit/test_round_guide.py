"""Closed forms of TE11 against published roots and against numerical integration of the mode's own fields."""

import numpy as np
import pytest
from scipy.special import j1, jv, jvp

from simharness.constants import C0, ETA0, MU0, TWO_PI
from simharness.em.guide import round
from simharness.em.guide.rectangular import cutoff_frequency, phase_constant, surface_resistance

DIAMETER, RADIUS = 90e-3, 45e-3


def _mode(count=200):
    """TE11 of H_z = J1(kc r) sin(phi), phi from the direction of E: nodes, weights and E_r, E_phi over them
    (arbitrary unit).
    """
    node, weight = np.polynomial.legendre.leggauss(count)
    r, wr = RADIUS * (node + 1) / 2, RADIUS * weight / 2
    phi = TWO_PI * np.arange(64) / 64
    kc = round.TE11_ROOT / RADIUS
    e_r = np.outer(j1(kc * r) / r, np.cos(phi)) / kc
    e_phi = -np.outer(jvp(1, kc * r), np.sin(phi))
    return r, wr, phi, e_r, e_phi, np.outer(wr * r, np.full(64, TWO_PI / 64))


def test_roots_are_the_published_ones():
    """1.841184 and 2.404826: Abramowitz and Stegun, tables 9.5 (print in many texts); half a unit of the last
    digit.
    """
    assert pytest.approx(1.841184, abs=5e-7) == round.TE11_ROOT
    assert pytest.approx(2.404826, abs=5e-7) == round.TM01_ROOT
    assert jvp(2, round.TE21_ROOT) == pytest.approx(0, abs=1e-14)
    assert jvp(1, round.TE11_ROOT) == pytest.approx(0, abs=1e-14) and jv(0, round.TM01_ROOT) == pytest.approx(
        0, abs=1e-14
    )


def test_cutoffs_of_a_filled_guide():
    """Pozar, example 3.2 (memory; recomputed with the book's c of 3e8 m/s): radius 0.5 cm, Teflon of 2.08:
    TE11 12.19 GHz, TM01 15.92 GHz; half a unit of the last digit and the book's rounding of the roots to four
    digits."""
    filled = np.array([round.te11_cutoff(10e-3), round.tm01_cutoff(10e-3)]) * 3e8 / C0 / np.sqrt(2.08) / 1e9
    np.testing.assert_allclose(filled, [12.19, 15.92], atol=6e-3)


def test_the_equivalent_rectangle_has_the_cutoff_of_te11():
    a, _ = round.equivalent_rectangle(DIAMETER)
    assert cutoff_frequency(a) == pytest.approx(round.te11_cutoff(DIAMETER), rel=1e-12)


def test_the_equivalent_rectangle_has_the_wall_field_of_te11_at_equal_power():
    """Integral of H_z^2 over the section, by Gauss points: the ratio to its value at the wall is that of
    sin^2(pi x/a) over a b.
    """
    r, _, phi, _, _, area = _mode()
    kc = round.TE11_ROOT / RADIUS
    square = np.sum(np.outer(j1(kc * r), np.sin(phi)) ** 2 * area)
    a, b = round.equivalent_rectangle(DIAMETER)
    angle = np.array([0.1, 0.4, 1.2])
    round_wall = (j1(kc * RADIUS) * np.sin(angle)) ** 2 / square
    rectangular = np.sin(np.pi * round.equivalent_offset(DIAMETER, angle) / a) ** 2 * 2 / (a * b)
    np.testing.assert_allclose(round_wall, rectangular, rtol=1e-9)


def test_the_first_evanescent_modes_have_their_cutoffs_and_their_weight():
    """TE01 for TE21 (both orientations together, the same at every angle): cutoff exact, H_z^2 at the wall
    for one unit of its integral over the section within 3 %; TM11 for TM01 at the probe: cutoff exact."""
    a, b = round.equivalent_rectangle(DIAMETER)
    assert np.pi / b == pytest.approx(round.TE21_ROOT / RADIUS, rel=1e-12)
    r, _, phi, _, _, area = _mode()
    kc = round.TE21_ROOT / RADIUS
    square = np.sum(np.outer(jv(2, kc * r), np.sin(2 * phi)) ** 2 * area)
    assert jv(2, kc * RADIUS) ** 2 / square == pytest.approx(2 / (a * b), rel=0.03)
    width, height = round.probe_rectangle(DIAMETER)
    assert np.hypot(np.pi / width, np.pi / height) == pytest.approx(round.TM01_ROOT / RADIUS, rel=1e-12)


def test_field_on_the_axis_and_along_the_diameter_of_the_normalised_mode():
    r, _, _, e_r, e_phi, area = _mode()
    norm = np.sqrt(np.sum((e_r**2 + e_phi**2) * area))
    assert 0.5 / norm == pytest.approx(round.te11_axis_field(DIAMETER), rel=1e-9)
    np.testing.assert_allclose(e_r[:, 0] / 0.5, round.te11_field(DIAMETER, r), rtol=1e-9)


def test_attenuation_is_the_power_lost_by_the_wall_currents():
    """Power-loss method from the fields themselves: R_s/2 of |H_t|^2 round the wall over twice the power
    carried.
    """
    frequency, conductivity = 2.45e9, 1.1e6
    _, _, phi, e_r, e_phi, area = _mode()
    k, kc = TWO_PI * frequency / C0, round.TE11_ROOT / RADIUS
    beta = phase_constant(round.equivalent_rectangle(DIAMETER)[0], frequency)
    impedance = TWO_PI * frequency * MU0 / beta
    power = np.sum((e_r**2 + e_phi**2) * area) / (2 * impedance)
    h_phi = j1(kc * RADIUS) / RADIUS / kc * np.cos(phi) / impedance
    h_z = kc / (k * ETA0) * j1(kc * RADIUS) * np.sin(phi)
    lost = surface_resistance(conductivity, frequency) / 2 * np.mean(h_phi**2 + h_z**2) * TWO_PI * RADIUS
    assert round.te11_attenuation(DIAMETER, frequency, conductivity) == pytest.approx(
        lost / (2 * power), rel=1e-9
    )
