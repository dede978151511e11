"""Slotted line and tube: circuits solved by hand, power balance, pattern limits."""

import dataclasses

import numpy as np
import pytest

from simharness.constants import C0
from simharness.em import pattern, slot
from simharness.em.array import SlottedLine, line_constant, line_state
from simharness.em.guide import guide_wavelength
from simharness.em.slot import SlotShape
from simharness.em.tube import Aperture, Tube, radiated_field, slot_response

A, B, F = 22.86e-3, 10.16e-3, 9.375e9
WAVE = float(guide_wavelength(A, F))
SHAPE = SlotShape(2.5e-3, 15.3e-3, 1.5875e-3, 1.27e-3)
FREQUENCY = np.linspace(9.0e9, 9.8e9, 9)


def _line(count=4, **changes):
    shapes = tuple(SlotShape((-1) ** i * SHAPE.offset, SHAPE.length, SHAPE.width, SHAPE.wall) for i in range(count))
    places = tuple(WAVE * (0.75 + 0.5 * i) for i in range(count))
    line = SlottedLine(A, B, WAVE * (1 + 0.5 * count), places, shapes, near_short=False)
    return dataclasses.replace(line, **changes)


def test_one_slot_before_a_short_is_the_shunt_circuit():
    line = _line(1)
    state = line_state(line, FREQUENCY, 0.0)
    gamma = line_constant(line, FREQUENCY)
    behind = 1 / np.tanh(gamma * (line.length - line.positions[0]))
    y = slot.shunt_admittance(A, B, SHAPE, FREQUENCY) + behind
    at_slot = (1 - y) / (1 + y)
    expected = at_slot * np.exp(-2 * gamma * line.positions[0])
    # Two formulations of one circuit; rounding only.
    np.testing.assert_allclose(2 * state.source_impedance - 1, expected, rtol=0, atol=1e-9)


def test_uncoupled_slots_half_a_guide_wavelength_apart_add_up():
    state = line_state(_line(4), np.array([F]), 0.0, coupling=False)
    total = 4 * slot.shunt_admittance(A, B, SHAPE, np.array([F]))[0]
    # Slots at voltage maxima: y_in = sum at the first slot, three quarters of a wave from the source plane.
    expected = (1 - total) / (1 + total) * np.exp(-2j * 2 * np.pi * 0.75)
    assert 2 * state.source_impedance[0] - 1 == pytest.approx(expected, abs=1e-6)  # loss floor 1e-8


def test_alternating_slots_radiate_in_phase():
    state = line_state(_line(4), np.array([F]), 0.0, coupling=False)
    v = state.slot_voltage[0] / state.slot_voltage[0, 0]
    np.testing.assert_allclose(v, 1, atol=1e-5)  # loss floor 1e-8 on a high standing wave


@pytest.mark.parametrize("near_short", [True, False])
def test_lossless_shorted_line_radiates_all_it_takes(near_short):
    line = _line(4, near_short=near_short)
    state = line_state(line, FREQUENCY, WAVE / 4 if near_short else 0.0)
    np.testing.assert_allclose(state.efficiency, 1, atol=1e-5)  # loss floor 1e-8 over a standing wave
    assert np.all(state.source_impedance.real > 0)


def test_matched_end_takes_what_the_slots_leave():
    # Equal power: radiated + transmitted = 1 for a matched far end; |S21|^2 from one slot is |2/(2+y)|^2.
    state = line_state(_line(1, far_short=False), FREQUENCY, 0.0)
    y = slot.shunt_admittance(A, B, SHAPE, FREQUENCY)
    accepted = 1 - np.abs(y / (2 + y)) ** 2
    through = np.abs(2 / (2 + y)) ** 2
    np.testing.assert_allclose(state.efficiency, 1 - through / accepted, atol=1e-5)


def test_wall_loss_lowers_efficiency():
    good = line_state(_line(4, conductivity=5.8e7), FREQUENCY, 0.0).efficiency
    bad = line_state(_line(4, conductivity=1e6), FREQUENCY, 0.0).efficiency
    assert np.all(bad < good) and np.all(good < 1) and np.all(bad > 0)


def test_mirrored_array_has_the_same_match():
    line = _line(4)
    mirrored = dataclasses.replace(line, shapes=tuple(dataclasses.replace(s, offset=-s.offset) for s in line.shapes))
    one, two = (line_state(each, FREQUENCY, 0.0).source_impedance for each in (line, mirrored))
    np.testing.assert_allclose(one, two, rtol=1e-10)


def test_response_of_a_vanishing_tube_is_one():
    # Outline of 0.01 wavelength: scattering by the area, of the order (kr)^2 = 0.4 %.
    h = slot_response(Tube(1e-3, 1e-3), 2 * np.pi / 0.1, np.array([0.0]), np.radians([0.0, 90, 180, 270]))
    np.testing.assert_allclose(np.abs(h), 1, atol=0.01)


def test_response_of_a_wide_tube_is_two_in_front_and_small_behind():
    # 12 wavelengths wide: the edge waves leave a ripple of order 1/sqrt(k W) (0.12) times the
    # diffraction coefficient (below 1).
    h = np.abs(slot_response(Tube(1.2, 0.2), 2 * np.pi / 0.1, np.array([0.0]), np.radians([45.0, 90, 135, 270])))[0]
    np.testing.assert_allclose(h[:3], 2, atol=0.12)
    assert h[3] < 0.3


def test_response_converges_and_is_symmetric():
    tube, k = Tube(91e-3, 46e-3), 2 * np.pi / 0.1224
    phi = np.radians(np.arange(0, 360, 10.0))
    coarse, fine = (slot_response(tube, k, np.array([13.7e-3, -13.7e-3]), phi, n) for n in (20, 60))
    # The stated 1 % of the largest value, 2.6.
    np.testing.assert_allclose(coarse, fine, atol=0.026)
    mirrored = np.abs(slot_response(tube, k, np.array([-13.7e-3]), np.pi - phi))
    np.testing.assert_allclose(np.abs(coarse[0]), mirrored[0], atol=0.002)  # inner points are not symmetric


@pytest.mark.parametrize(("count", "level"), [(4, -11.30), (8, -12.80), (16, -13.15)])
def test_uniform_array_first_side_lobe(count, level):
    # Uniform isotropic arrays: N 4, 8, 16 (computed elsewhere). At a spacing of 0.5 wavelength the slot and
    # the tube weigh the lobe down a little; lengths of 0 and a vanishing tube leave only sin(theta).
    free, place = 0.1, np.arange(count) * 0.05
    angle = np.radians(np.arange(-720, 721) / 8.0)
    aperture = Aperture(np.zeros(count), place, np.full(count, 1e-4), np.ones(count))
    theta = np.arccos(np.clip(np.sin(angle), -1, 1))
    field = radiated_field(Tube(1e-4, 1e-4), aperture, C0 / free, theta, np.array([np.pi / 2]))[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        alone = np.where(np.cos(angle) > 1e-9, np.abs(field) / np.sin(theta), 0.0)
    assert pattern.side_lobe_level(angle, alone**2) == pytest.approx(level, abs=0.01)  # half digit and the grid


def test_directivity_of_a_half_wave_slot_alone_is_the_dipole():
    # Half-wave dipole: D = 1.64 (print), here without any tube around it; half a unit of the last digit.
    cosine, weights = np.polynomial.legendre.leggauss(80)
    aperture = Aperture(np.zeros(1), np.zeros(1), np.array([0.05]), np.ones(1))
    field = radiated_field(Tube(1e-5, 1e-5), aperture, C0 / 0.1, np.arccos(cosine), np.array([np.pi / 2]))[:, 0]
    top = radiated_field(Tube(1e-5, 1e-5), aperture, C0 / 0.1, np.array([np.pi / 2]), np.array([np.pi / 2]))
    power = np.abs(field) ** 2
    assert np.abs(top[0, 0]) ** 2 / (weights @ power / 2) == pytest.approx(1.64, abs=0.005)
