"""Coax probe by the method of moments: power, closed-form limits, convergence, its three-port."""

import dataclasses
import math

import numpy as np
import pytest
from collin import matched_resistance, shorted_resistance
from scipy.special import hankel2, k0

from simharness.constants import C0, TWO_PI
from simharness.em.guide.coax import coax_impedance
from simharness.em.guide.rectangular import phase_constant
from simharness.em.probe import kernel, straight
from simharness.em.probe.network import CoaxLine
from simharness.em.probe.straight import ProbeShape, probe_network

A, B = 22.86e-3, 10.16e-3
F = np.array([9e9, 10.37e9, 12e9])
K = TWO_PI * F / C0
WIRE = ProbeShape(0.0, 6.1e-3, 1.27e-3)
COAX = CoaxLine(1.27e-3, 4.1e-3, 2.03, 1.27e-3)


def _input(count=10, wire=WIRE, coax=COAX, **shorts):
    return 1 / probe_network(A, B, wire, coax, F, count=count, **shorts).admittance(0.5)


@pytest.mark.parametrize(
    ("wire", "coax", "shorts"),
    [
        (WIRE, COAX, {}),
        (WIRE, COAX, {"near_short": 6.7e-3, "far_short": 40e-3}),
        (ProbeShape(5e-3, 9.9e-3, 0.4e-3), COAX, {"near_short": 4e-3}),
        (ProbeShape(0.0, B, 1.0e-3), CoaxLine(1.27e-3, 4.1e-3, 1.0), {}),
        (ProbeShape(-2e-3, 3e-3, 3.0e-3), CoaxLine(1.27e-3, 4.1e-3, 2.03, 20e-3), {}),
    ],
)
def test_lossless_three_port_is_unitary(wire, coax, shorts):
    s = probe_network(A, B, wire, coax, F, **shorts).s_matrix(50.0)
    # Resistance of the matrix (n = 0, k0 part), TE10 field and normalisation come from different formulas.
    np.testing.assert_allclose(s.conj().swapaxes(1, 2) @ s, np.eye(3) + 0 * s, rtol=0, atol=1e-10)


def test_thin_short_probe_has_collins_resistance():
    # A thin wire carries sin k(d - y); the departure falls with 1/ln(d/r). Without wire thickness the
    # moment method must come to the closed form: 2 % for r = d/6000 with half the departure of r = d/80.
    departures = []
    for radius in (75e-6, 1e-6):
        wire, coax = ProbeShape(1e-3, 6e-3, 2 * radius), CoaxLine(2 * radius, 4.6 * radius, 1.0)
        resistance = _input(wire=wire, coax=coax, count=14).real
        departures.append(np.abs(resistance / matched_resistance(A, B, wire, F) - 1).max())
    assert departures[1] < 0.05 and departures[1] < 0.6 * departures[0]


def test_shorted_line_gives_collins_factor():
    # A short at l multiplies the resistance by 2 sin^2(beta l), but for its evanescent images and the
    # scattering of the wire, which vanish for a thin short wire: 1 % is their size for one of 3 mm.
    back, wire, coax = 12e-3, ProbeShape(0.0, 3e-3, 20e-6), CoaxLine(20e-6, 46e-6, 1.0)
    network = probe_network(A, B, wire, coax, F, back)
    line = 1 / (1 - 1j / np.tan(phase_constant(A, F) * back))
    ratio = (1 / network.admittance(line)).real / _input(wire=wire, coax=coax).real
    expected = shorted_resistance(A, B, wire, back, F) / matched_resistance(A, B, wire, F)
    np.testing.assert_allclose(ratio, expected, rtol=0.01)


def test_converges_with_functions_and_harmonics(monkeypatch):
    usual = _input(near_short=6.7e-3)
    # 10 functions against 20: the edge of the flat end converges slowly; 0.5 % of |Z| was found.
    np.testing.assert_allclose(usual, _input(count=20, near_short=6.7e-3), rtol=0.005)
    true_ceil = math.ceil
    monkeypatch.setattr(straight.math, "ceil", lambda value: 2 * true_ceil(value))
    np.testing.assert_allclose(
        usual, _input(near_short=6.7e-3), rtol=0.002
    )  # tail of 1/n^2 after 192 harmonics


def test_side_walls_by_the_mode_sum_at_a_distance():
    # Modes of a line source seen z away along the guide, less its field in free space; C_n is the limit z ->
    # 0 and even in z, (z/a)^2 = 1e-4 of it. 4000 modes fade as exp(-4000 pi z/a).
    offset, z = 3e-3, 0.01 * A
    m = np.arange(1, 4001)
    shape = np.sin(m * np.pi * (offset / A + 0.5)) ** 2 / A
    gamma = np.sqrt((np.arange(4) * np.pi / B) ** 2 - K[:, None] ** 2 + 0j)
    found = kernel.side_wall_part(A, offset, K, gamma.real)
    for n in range(4):
        rate = np.sqrt((m * np.pi / A) ** 2 + gamma[:, n, None] ** 2)
        free = hankel2(0, K * z) / 4j if n == 0 else k0(gamma[:, n].real * z) / TWO_PI
        expected = (shape * np.exp(-rate * z) / rate).sum(axis=1) - free
        np.testing.assert_allclose(found[:, n], expected, rtol=0, atol=1e-3)


def test_shorts_by_images_of_shorts():
    # One short far away changes nothing; two equal ones are each other's mirror.
    gamma = np.sqrt(np.maximum((np.arange(4) * np.pi / B) ** 2 - K[:, None] ** 2, 1.0))
    one = kernel.short_part(A, 0.0, gamma, K, 5e-3, math.inf)
    np.testing.assert_allclose(kernel.short_part(A, 0.0, gamma, K, 5e-3, 0.5), one, rtol=1e-9)
    np.testing.assert_array_equal(kernel.short_part(A, 0.0, gamma, K, 0.5, 5e-3), one + 0)
    # A wall weakens the field of a current along it: all terms negative.
    assert np.all(one.real < 0) and np.all(one.imag == 0)


def test_flat_end_near_the_wall_is_a_plate_capacitor():
    # Gap h << r: the end's charge makes the potential q h / (eps0 pi r^2) (parallel plates, uniform charge).
    # Fringing lowers it by about (h / pi r) ln(16 pi r / h) = 0.03 for 0.02 mm, and in proportion to h but
    # for the logarithm.
    radius, n = 2e-3, np.arange(40000)
    gamma = np.maximum(n * np.pi / B, 1.0) + np.zeros((1, 1))
    tip = kernel.radial_terms(gamma, K[:1], np.zeros((1, 1), complex), radius, 2.1e-3, 4e-3).tip[0].real

    def departure(gap):
        potential = 2 / B * (np.sin(n * np.pi * (B - gap) / B) ** 2 * tip).sum()
        return 1 - potential * np.pi * radius**2 / gap

    assert 0 < departure(0.02e-3) < 0.04 and departure(0.02e-3) < 0.6 * departure(0.04e-3)


def test_soldered_post_is_the_thin_inductive_post():
    # Shunt j X of the uniform current: X = (a / 2 lambda_g) [ln(4a / pi d) - 2 + 2 sum over odd m >= 3 of
    # (m^2 - (2a/lambda)^2)^-1/2 - 1/m], leading term of Marcuvitz, Waveguide Handbook, sec. 5.11 (memory, and
    # the mode sum of a line current on the centre line). Terms of (k r)^2 are left out: 0.1 % here.
    wire = ProbeShape(0.0, B, 0.2e-3)
    s11 = -0.5 * probe_network(A, B, wire, CoaxLine(0.2e-3, 1e-3, 1.0), F).scatter
    m = np.arange(3, 20001, 2)
    wavelength = TWO_PI / K
    series = (1 / np.sqrt(m**2 - (2 * A / wavelength[:, None]) ** 2) - 1 / m).sum(axis=1)
    x = (
        A
        * phase_constant(A, F)
        / (2 * TWO_PI)
        * (math.log(4 * A / (math.pi * wire.diameter)) - 2 + 2 * series)
    )
    np.testing.assert_allclose(s11, -1 / (1 + 2j * x), rtol=0.002)


def test_offset_probe_couples_less_and_alike_on_both_sides():
    short, coax = ProbeShape(0.0, 2e-3, 20e-6), CoaxLine(20e-6, 46e-6, 1.0)
    left, right = (_input(wire=dataclasses.replace(short, offset=x), coax=coax) for x in (-A / 4, A / 4))
    np.testing.assert_allclose(left, right, rtol=1e-9)
    # cos^2(45 deg) of the coupling; the current of a short thin wire hardly depends on its place.
    np.testing.assert_allclose(left.real / _input(wire=short, coax=coax).real, 0.5, rtol=0.02)


def test_reflection_is_that_of_the_three_port_between_matched_ends():
    network = probe_network(A, B, WIRE, COAX, F)
    np.testing.assert_allclose(network.reflection(0.5, 50.0), network.s_matrix(50.0)[:, 0, 0], rtol=1e-12)


def test_coax_in_the_wall_turns_the_impedance():
    # A quarter wave inverts: Z_c^2 / Z, in a guide matched both ways.
    own = coax_impedance(COAX.inner, COAX.outer, COAX.eps_r)
    for i, f in enumerate(F):
        line = dataclasses.replace(COAX, length=C0 / (4 * f * math.sqrt(COAX.eps_r)))
        s11 = probe_network(A, B, WIRE, line, F[i : i + 1]).reflection(0.5, 50.0)[0]
        assert 50 * (1 + s11) / (1 - s11) == pytest.approx(own**2 / _input()[i], rel=1e-9)


def test_reactance_rises_with_height():
    x = [_input(wire=dataclasses.replace(WIRE, height=h)).imag[1] for h in (4e-3, 5e-3, 6e-3, 7e-3)]
    assert x[0] < 0 and np.all(np.diff(x) > 0)


def test_wire_thicker_than_the_bore_stays_finite():
    z = _input(wire=dataclasses.replace(WIRE, diameter=6e-3))
    assert np.all(np.isfinite(z)) and np.all(z.real > 0)
