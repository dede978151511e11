"""Guide, coax, wall loss and materials: limits and identities that must hold."""

import math

import numpy as np
import pytest
from plated import effective_conductivity, plated_surface_impedance

from simharness.constants import C0, ETA0
from simharness.em.guide import coax, coax_mode, rectangular
from simharness.errors import InputError
from simharness.records import RectangularGuide
from simharness.records.materials import material, materials, wall_conductivity

ROUNDING = 1e-12


def test_dispersion_relation_holds():
    f = np.linspace(7e9, 12e9, 11)
    free, long = C0 / f, rectangular.guide_wavelength(22.86e-3, f)
    np.testing.assert_allclose(1 / free**2, 1 / long**2 + 1 / (2 * 22.86e-3) ** 2, rtol=ROUNDING)
    np.testing.assert_allclose(rectangular.wave_impedance(22.86e-3, f), ETA0 * long / free, rtol=ROUNDING)


def test_frequency_at_cutoff_is_refused():
    with pytest.raises(InputError, match="above the cutoff"):
        rectangular.phase_constant(90e-3, [1.5e9, 2.45e9])


def test_next_mode_changes_at_half_height():
    assert rectangular.next_mode(90e-3, 44.9e-3)[0] == "TE20"
    assert rectangular.next_mode(90e-3, 45.1e-3)[0] == "TE01"


def test_attenuation_equals_wall_integral_of_te10():
    # Power-loss method carried out numerically: |H_tangential|^2 over the outline.
    a, b, f, sigma = 90e-3, 45e-3, 2.45e9, 2.564e7
    beta, impedance = rectangular.phase_constant(a, f), rectangular.wave_impedance(a, f)
    kc = math.pi / a
    x = (np.arange(4000) + 0.5) / 4000 * a
    across, along = np.sin(kc * x) / impedance, kc / (beta * impedance) * np.cos(kc * x)
    walls = 2 * np.mean(across**2 + along**2) * a + 2 * b * (kc / (beta * impedance)) ** 2
    flow = np.mean(np.sin(kc * x) ** 2) * a * b / impedance
    expected = rectangular.surface_resistance(sigma, f) * walls / (2 * flow)
    # The mid-point rule is exact for these trigonometric squares; only rounding remains.
    assert rectangular.attenuation(a, b, f, sigma) == pytest.approx(expected, rel=1e-9)


def test_perfect_wall_has_no_loss():
    assert rectangular.attenuation(90e-3, 45e-3, 2.45e9, math.inf) == 0.0


def test_thin_gap_coax_cutoff_is_mean_circumference():
    # A thin annulus is a rolled-up parallel plate line; corrections are of second order in the gap, 1e-4
    # here.
    cutoff = coax_mode.coax_cutoff_frequency(9.9e-3, 10.1e-3)
    assert cutoff == pytest.approx(C0 / (math.pi * 10e-3), rel=1e-4)


def test_thin_wire_coax_cutoff_is_that_of_the_empty_pipe():
    # Round guide TE11: kc r = 1.8412 (first zero of J1'); the wire of 1/1000 shifts it by about 1e-6.
    cutoff = coax_mode.coax_cutoff_frequency(1e-5, 1e-2)
    assert cutoff == pytest.approx(C0 * 1.841184 / (2 * math.pi * 5e-3), rel=1e-5)


def test_coax_refuses_touching_conductors():
    with pytest.raises(InputError, match="greater than"):
        coax.coax_impedance(4.1e-3, 4.1e-3)


def test_tin_plate_range_is_the_computed_one():
    low, high = (
        float(effective_conductivity(plated_surface_impedance(2.45e9, [(9.2e6, t)], 7e6, mu).real, 2.45e9))
        for t, mu in ((0.4e-6, 100), (0.8e-6, 1))
    )
    tin = material("tin plate")
    # The table holds two digits.
    assert (tin.low, tin.high) == (pytest.approx(low, rel=0.02), pytest.approx(high, rel=0.02))
    assert tin.low < tin.conductivity < tin.high and tin.uncertain


def test_materials_match_the_record_and_are_ordered():
    names = set(RectangularGuide.model_fields["material"].annotation.__args__)
    assert {m.name for m in materials()} == names
    assert all(m.low <= m.conductivity <= m.high for m in materials())


def test_conductivity_in_the_record_overrides():
    box = {"a_mm": 90, "b_mm": 45, "length_mm": 500, "front_wall_mm": 0.5, "other_walls_mm": 0.5}
    assert wall_conductivity(RectangularGuide(**box, conductivity_s_per_m=1e7)) == (1e7, 1e7, 1e7)
    assert wall_conductivity(RectangularGuide(**box, material="perfect"))[0] == math.inf
