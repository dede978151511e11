"""One-term slot model: Booker's limit, convergence, and an independent moment-method slot."""

import numpy as np
import pytest

from simharness.constants import C0, ETA0
from simharness.em.slot import one_term
from simharness.em.slot.shape import SlotShape
from simharness.errors import InputError

A, B, F = 22.86e-3, 10.16e-3, 9.375e9
FREQUENCY = np.array([F])


def _tuned(offset, wall=1.27e-3):
    trial = SlotShape(offset, 15e-3, 1.5875e-3, wall)
    return SlotShape(offset, one_term.resonant_length(A, B, trial, F), 1.5875e-3, wall)


def test_booker_relation_gives_the_half_wave_dipole():
    # 73 + j42.5 ohm (print): Z_dipole = eta^2/4 times the admittance of both sides. Half a unit of the last
    # digit.
    y = one_term.half_space_admittance(FREQUENCY, C0 / F / 2, 1e-9)[0]
    impedance = ETA0**2 / 4 * 2 * y
    assert impedance.real == pytest.approx(73, abs=0.5)
    assert impedance.imag == pytest.approx(42.5, abs=0.05)


def test_resonant_length_against_moment_method():
    # Moment-method slot in an infinite flange: 15.345 mm, g 0.1973 (computed elsewhere). One
    # expansion function instead of many: 1 % in length was found, 2 % is claimed.
    tuned = _tuned(3e-3)
    assert tuned.length == pytest.approx(15.345e-3, rel=0.01)
    assert one_term.shunt_admittance(A, B, tuned, FREQUENCY)[0] == pytest.approx(0.1973, abs=0.004)


def test_resonant_frequency_against_full_wave():
    # Full-wave meshes of 2, 4, 6 cells across: 9.493, 9.375, 9.357 GHz, falling; 2 % covers the rest.
    f = one_term.resonant_frequency(A, B, SlotShape(3e-3, 15.345e-3, 1.5875e-3, 1.27e-3))
    assert f == pytest.approx(9.357e9, rel=0.02)


def test_wall_lengthens_the_resonant_slot():
    # Moment method: 0.5 to 0.7 mm; the uniform mouth field of the one-term model gives less.
    longer = _tuned(3e-3).length - _tuned(3e-3, wall=0.0).length
    assert 0.2e-3 < longer < 0.7e-3


def test_conductance_follows_stevenson_at_small_offset():
    # Same sinusoidal field, infinite plane; the length differs from half a wave by 5 %, which
    # enters cos^2(beta L/2) and the external conductance in opposite ways.
    tuned = _tuned(2e-3)
    g = one_term.shunt_admittance(A, B, tuned, FREQUENCY)[0].real
    assert g == pytest.approx(float(one_term.stevenson_conductance(A, B, 2e-3, F)), rel=0.02)


def test_radiated_power_is_conductance_of_the_shunt():
    # Power balance: 1 - |S11|^2 - |S21|^2 equals Re(y)|v|^2, radiated only through Re(Y) >= 0.
    f = np.linspace(8.6e9, 10e9, 29)
    y = one_term.shunt_admittance(A, B, SlotShape(4e-3, 15.3e-3, 1.6e-3, 1e-3), f)
    s11 = -y / (2 + y)
    balance = 1 - np.abs(s11) ** 2 - np.abs(1 + s11) ** 2
    np.testing.assert_allclose(balance, y.real * np.abs(2 / (2 + y)) ** 2, rtol=1e-12)
    assert np.all(y.real > 0)


def test_guide_side_radiates_only_te10_below_the_next_mode():
    # The real part of the whole modal sum must be G10 alone; the nudged singularities cost 1e-9.
    shape = SlotShape(3e-3, 15.3e-3, 1.6e-3, 0.0)
    f = np.linspace(8.2e9, 12e9, 20)
    whole, te10 = one_term.guide_admittance(A, B, shape, f), one_term.guide_conductance(A, B, shape, f)
    np.testing.assert_allclose(whole.real, te10, rtol=1e-9)


def test_slot_on_the_centre_line_is_dark():
    assert one_term.shunt_admittance(A, B, SlotShape(0.0, 15e-3, 1.6e-3, 1e-3), FREQUENCY)[
        0
    ] == pytest.approx(0, abs=1e-20)


def test_short_slot_has_no_resonance():
    with pytest.raises(InputError, match="no resonance"):
        one_term.resonant_frequency(22.86e-3, 10.16e-3, SlotShape(3e-3, 40e-3, 1.6e-3, 1e-3))
