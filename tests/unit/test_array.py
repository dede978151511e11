"""Slotted guide with its feed: sweep, power, loss, and the probe joined by another route."""

import math

import numpy as np
import pytest

from simharness.constants import C0
from simharness.em.guide.rectangular import attenuation, guide_wavelength, phase_constant
from simharness.em.probe.network import CoaxLine
from simharness.em.probe.straight import ProbeShape, probe_network
from simharness.em.row.response import empty_reflection, slot_state, swept_network, swept_reflection
from simharness.em.slot.basis import MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.moment import SlotMoment

A, B, F = 22.86e-3, 10.16e-3, 9.375e9
WAVE = float(guide_wavelength(A, F))
FEW = MomentBasis(orders=(1, 2, 3), modes=(40, 20))


def _model(count=4, offset=2.5e-3, **ends):
    slots = tuple(
        SlotAperture(15.3e-3, 1.5875e-3, (-1) ** i * offset, WAVE * (0.75 + 0.5 * i)) for i in range(count)
    )
    ends = {"far_short": WAVE * (0.5 + 0.5 * count)} | ends
    return SlotMoment(SlottedGuide(A, B, 1.27e-3, slots, **ends), FEW)


def test_sweep_is_the_exact_solution():
    model, frequency = _model(), np.linspace(8.8e9, 9.9e9, 61)
    swept, error = swept_reflection(model, frequency)
    assert error < 1e-5
    exact = model.solve(frequency[::7]).s[:, 0, 0]
    np.testing.assert_allclose(swept[::7], exact, rtol=0, atol=1e-5)  # the tolerance asked for


def test_swept_probe_is_the_exact_one():
    f = np.linspace(7e9, 12.5e9, 101)

    def network(some):
        return probe_network(
            A, B, ProbeShape(0.0, 6e-3, 1.27e-3), CoaxLine(1.27e-3, 4.1e-3, 2.03), some, 7e-3
        )

    swept, error = swept_network(network, f)
    assert 0 < error < 1e-5
    exact = network(f)
    for z in (0.5, 0.2 + 1j):
        # the tolerance asked for, of each of three parts
        np.testing.assert_allclose(swept.reflection(z, 50.0), exact.reflection(z, 50.0), rtol=0, atol=3e-5)


def test_short_sweep_is_exact_and_says_so():
    swept, error = swept_reflection(_model(1), np.linspace(9e9, 9.5e9, 5))
    assert error == 0.0 and np.all(np.abs(swept) < 1)


@pytest.mark.parametrize(
    "ends", [{}, {"near_short": 0.0, "feed": WAVE / 4}, {"near_short": 0.0, "feed": WAVE}]
)
def test_lossless_shorted_array_radiates_all_it_takes(ends):
    # By slot from the outside matrix, against what the port keeps: 1e-8 is the balance of the moment method.
    # A feed in the middle of a gap, or over a slot (0.75 wavelengths is the middle of the first).
    state = slot_state(_model(**ends), F)
    assert state.efficiency == pytest.approx(1.0, abs=1e-7)


def test_feed_over_a_slot():
    near = slot_state(_model(near_short=0.0, feed=0.76 * WAVE), F)
    assert near.efficiency == pytest.approx(1.0, abs=1e-7)
    # Across the end of the slot nothing jumps: a step of a micrometre moves S by about 2 beta 1e-6 / (1 -
    # |z|).
    edge = 0.75 * WAVE - 0.5 * 15.3e-3
    left, right = (_model(near_short=0.0, feed=edge + d).solve(F).s[0, 0, 0] for d in (-1e-6, 1e-6))
    assert abs(left - right) < 2e-3


def test_alternating_slots_share_power_and_phase():
    state = slot_state(_model(), F)
    np.testing.assert_allclose(state.power, 0.25, atol=0.03)  # coupling of uneven neighbours
    assert np.all(np.abs(np.angle(state.voltages / state.voltages[0])) < 0.2)
    assert np.abs(state.voltages).max() == pytest.approx(1.0, rel=1e-12)


def test_matched_end_takes_what_the_slots_leave():
    model = _model(1, far_short=None, far_plane=WAVE)
    s = model.solve(F).s[0, :, 0]
    through = abs(s[1]) ** 2 / (1 - abs(s[0]) ** 2)
    assert slot_state(model, F).efficiency == pytest.approx(1 - through, abs=1e-7)


def test_slots_on_the_centre_line_are_dark():
    state = slot_state(_model(2, offset=0.0), F)
    assert state.efficiency == 0.0 and not np.any(state.voltages)


def test_wall_loss_is_that_of_the_guide_without_slots():
    # Dark slots far from the ends: |S11| of a shorted line, alpha by the power-loss method. The complex
    # wavenumber is right to first order in alpha/beta = 2e-4, and the slots' own stored energy adds some 1e-4
    # of it.
    end, sigma = 3 * WAVE, 1e6
    dark = _model(2, offset=0.0, far_short=end, conductivity=sigma).solve(F).s[0, 0, 0]
    empty = empty_reflection(A, B, end, sigma, np.array([F]), True)[0]
    assert abs(dark) == pytest.approx(math.exp(-2 * attenuation(A, B, F, sigma) * end), rel=1e-4)
    assert dark == pytest.approx(empty, abs=2e-3)  # a centred slot still detunes TE10 by a little


def test_wall_loss_lowers_efficiency():
    good, bad = (
        slot_state(_model(near_short=0.0, feed=WAVE / 4, conductivity=s), F).efficiency for s in (5.8e7, 1e6)
    )
    assert 0.9 < bad < good < 1


def test_empty_guide():
    f = np.array([9e9, 10e9])
    np.testing.assert_array_equal(empty_reflection(A, B, 0.1, math.inf, f, False), 0)
    expected = -np.exp(-2j * phase_constant(A, f) * 0.1)
    np.testing.assert_allclose(empty_reflection(A, B, 0.1, math.inf, f, True), expected, rtol=1e-12)


def test_probe_joined_by_one_impedance_is_the_three_port_between_its_ends():
    # Another route: the S matrix of the probe, ended by the short on one side and by the reflection of the
    # slots, referred to the axis, on the other. The evanescent modes of slots and short are apart in both.
    f, place = np.linspace(9.0e9, 9.8e9, 5), 7e-3
    probe = probe_network(
        A, B, ProbeShape(0.0, 6e-3, 1.27e-3), CoaxLine(1.27e-3, 4.1e-3, 2.03, 1e-3), f, place
    )
    ends = {"near_short": 0.0, "feed": place}
    sheet = _model(3, **ends).solve(f).s[:, 0, 0]
    joined = probe.reflection((1 + sheet) / (1 - sheet), 50.0)
    left = -np.exp(-2j * phase_constant(A, f) * place)
    right = _model(3, near_plane=place).solve(f).s[:, 0, 0]
    s = probe.s_matrix(50.0)
    loads = np.stack([left, right], axis=-1)[:, :, None] * np.eye(2)
    inner = np.linalg.solve(np.eye(2) - loads @ s[:, 1:, 1:], loads @ s[:, 1:, :1])
    cascaded = s[:, 0, 0] + (s[:, :1, 1:] @ inner)[:, 0, 0]
    # The short's evanescent image of the first slot, 25 mm away, is in one of them only: exp(-2 Gamma 25 mm).
    np.testing.assert_allclose(joined, cascaded, rtol=0, atol=1e-4)


def test_free_space_guide_wavelength_sets_the_scale():
    # All lengths and 1/f halved: the same reflection.
    one = _model(2).solve(F).s[0, 0, 0]
    guide = _model(2).guide
    slots = tuple(SlotAperture(s.length / 2, s.width / 2, s.offset / 2, s.position / 2) for s in guide.slots)
    small = SlottedGuide(A / 2, B / 2, guide.wall / 2, slots, far_short=guide.far_short / 2)
    assert SlotMoment(small, FEW).solve(2 * F).s[0, 0, 0] == pytest.approx(one, abs=1e-9)
    assert C0 / F < 1.1 * WAVE
