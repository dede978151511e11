"""The estimate of a round tube: power balance, limits, symmetry."""

from functools import partial
from pathlib import Path

import numpy as np
import pytest

from simharness import design
from simharness.em.probe import ProbeShape
from simharness.em.probe_moment import CoaxLine, probe_network
from simharness.em.round_guide import probe_rectangle, te11_attenuation, te11_over_te10
from simharness.em.guide import attenuation
from simharness.estimate import estimate
from simharness.records import parse_record, read_record

RECORD = read_record(Path(__file__).parents[2] / "models" / "four-slot-tube-2g44.toml")


def test_a_probe_in_a_round_tube_keeps_the_power():
    """Lossless: the scattering matrix is unitary, to rounding."""
    frequency = np.array([2.35e9, 2.44e9, 2.55e9])
    wire, coax = ProbeShape(0.0, 27e-3, 1.5e-3), CoaxLine(1.27e-3, 4.1e-3, 2.08)
    found = probe_network(*probe_rectangle(88e-3), wire, coax, frequency, profile=partial(te11_over_te10, 88e-3))
    s = found.s_matrix(50.0)
    np.testing.assert_allclose(np.einsum("fij,fik->fjk", s.conj(), s), np.broadcast_to(np.eye(3), s.shape), atol=1e-10)


def test_a_profile_of_te10_itself_changes_nothing():
    frequency = np.array([9.5e9, 10e9])
    wire, coax = ProbeShape(0.0, 6e-3, 1.27e-3), CoaxLine(1.27e-3, 4.1e-3, 2.08)
    plain, same = (probe_network(22.86e-3, 10.16e-3, wire, coax, frequency, profile=p) for p in (None, np.ones_like))
    np.testing.assert_allclose(same.own, plain.own, rtol=1e-9)
    np.testing.assert_allclose(same.link, plain.link, rtol=1e-9)


def test_the_line_has_the_loss_of_the_tube():
    a, b = design.line_size(RECORD.guide)
    line = attenuation(a, b, 2.44e9, design.slotted_guide(RECORD).conductivity)
    assert line == pytest.approx(te11_attenuation(88e-3, 2.44e9, 5.813e7), rel=1e-3)


def test_what_is_accepted_is_radiated_or_heats_the_wall():
    found = estimate(RECORD, 21)
    assert 0.98 < found.slot_power.sum() < 1.0
    assert found.figures["directivity"].value == pytest.approx(11.2, abs=0.5)  # four slots 0.87 wavelengths apart


def test_figures_of_the_match_say_what_is_left_out():
    figures = estimate(RECORD, 5).figures
    for name in ("resonance", "s11_at_centre", "band_low", "input_impedance"):
        assert "wave turned by 90 degrees is left out" in figures[name].basis


def test_slots_on_the_front_line_are_silent():
    data = RECORD.model_dump(by_alias=True, exclude_none=True)
    data.pop("slot")
    data["slot_rule"]["offset_mm"] = 0.0
    assert estimate(parse_record(data), 5).figures["s11_at_centre"].value > -0.5


def test_the_other_side_is_the_mirror_image():
    data = RECORD.model_dump(by_alias=True, exclude_none=True)
    data.pop("slot")
    data["slot_rule"]["offset_mm"] *= -1
    one, two = estimate(RECORD, 5), estimate(parse_record(data), 5)
    np.testing.assert_allclose(one.s11, two.s11, atol=1e-9)
    np.testing.assert_allclose(one.across.power, two.across.power[::-1], atol=1e-6)
