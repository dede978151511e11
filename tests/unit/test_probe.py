"""Probe: the modal sum against its parts and limits."""

import numpy as np
import pytest

from simharness.em import probe
from simharness.em.guide import phase_constant
from simharness.em.probe import ProbeShape

A, B = 22.86e-3, 10.16e-3
F = np.array([9e9, 10e9])
WIRE = ProbeShape(0.0, 6e-3, 1.27e-3)


def test_shorted_line_gives_collin():
    # Resistance for a short at l and a matched guide: the line impedance 1/(1 - j cot beta l) and
    # Collin's sin^2 are the same expression; rounding only.
    back = 6e-3
    line = 1 / (1 - 1j / np.tan(phase_constant(A, F) * back))
    z = probe.input_impedance(A, B, WIRE, F, line, back)
    np.testing.assert_allclose(z.real, probe.shorted_resistance(A, B, WIRE, back, F), rtol=1e-12)


def test_offset_probe_couples_by_field_squared():
    moved = ProbeShape(A / 3, WIRE.height, WIRE.diameter)
    ratio = probe.matched_resistance(A, B, moved, F) / probe.matched_resistance(A, B, WIRE, F)
    np.testing.assert_allclose(ratio, 0.25, rtol=1e-12)  # cos^2(60 deg)


def test_far_short_has_no_evanescent_image():
    # TE30 decays fastest felt mode on the centre line: exp(-2 gamma l) < 1e-9 at two widths.
    free = probe.evanescent_reactance(A, B, WIRE, F)
    np.testing.assert_allclose(probe.evanescent_reactance(A, B, WIRE, F, 2 * A), free, rtol=1e-6)


def test_reactance_is_negative_when_short_and_rises_with_height():
    heights = np.array([4e-3, 5e-3, 6e-3, 7e-3])
    x = [probe.evanescent_reactance(A, B, ProbeShape(0.0, h, 1.27e-3), 10e9) for h in heights]
    assert x[0] < 0 and np.all(np.diff(x) > 0)


def test_short_probe_is_a_capacitor_of_the_wire_over_a_plane():
    # Static limit: a monopole with linearly falling current has C = 2 pi eps0 h / (ln(h/r) - 1)
    # (average-potential method, memory) over an open plane. Walls add capacitance: 5-25 % less reactance
    # magnitude is the bracket for h = b/3.
    h, r, f = B / 3, 0.1e-3, 7e9
    x = float(probe.evanescent_reactance(A, B, ProbeShape(0.0, h, 2 * r), f))
    capacitance = 2 * np.pi * 8.854e-12 * h / (np.log(h / r) - 1)
    assert 0.75 < -x * 2 * np.pi * f * capacitance < 1.05


@pytest.mark.parametrize("diameter", [0.5e-3, 1.5e-3])
def test_mode_sum_does_not_depend_on_its_length(diameter, monkeypatch):
    # Doubling both mode numbers (through a finer radius in the limits) must not move X by 1 ohm.
    wire = ProbeShape(0.0, 6e-3, diameter)
    short = probe.evanescent_reactance(A, B, wire, F)
    true_ceil = probe.math.ceil
    monkeypatch.setattr(probe.math, "ceil", lambda value: 2 * true_ceil(value))
    np.testing.assert_allclose(probe.evanescent_reactance(A, B, wire, F), short, rtol=0, atol=1.0)


def test_coax_section_turns_the_impedance():
    # A quarter wave inverts: 50^2/Z.
    quarter = 299792458.0 / (4 * np.sqrt(2.08) * 10e9)
    z = probe.through_coax(np.array([25 + 10j]), np.array([10e9]), quarter, 50.0, 2.08)
    np.testing.assert_allclose(z, 2500 / (25 + 10j), rtol=1e-9)
