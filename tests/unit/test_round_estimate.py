"""The estimate of a round tube: power balance, limits, symmetry."""

import math
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from simharness import design
from simharness.constants import C0, TWO_PI
from simharness.em.guide import attenuation
from simharness.em.probe import ProbeShape
from simharness.em.probe_moment import CoaxLine, probe_network
from simharness.em.round_guide import (
    equivalent_offset,
    equivalent_rectangle,
    probe_rectangle,
    te11_attenuation,
    te11_over_te10,
    turned_field,
)
from simharness.em.slot_basis import EDGE_CORNER, Slot
from simharness.em.slot_inside import GuideSide
from simharness.em.slot_moment import SlotMoment
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


def _sent_into_the_tube(degrees: float) -> float:
    """Power that one slot at 1 V, half-sine, sends along an endless tube, in both waves, W."""
    angle = math.radians(degrees)
    slot = Slot(60e-3, 4e-3, float(equivalent_offset(88e-3, angle)), turned=float(turned_field(88e-3, angle)))
    side = GuideSide(*equivalent_rectangle(88e-3), [slot], np.array([1]), EDGE_CORNER)
    return float(side.admittance(TWO_PI * 2.44e9 / C0)[0, 0].real)


@pytest.mark.parametrize("degrees", [5.0, 20.0, 40.0, 60.0])
def test_a_tube_has_no_preferred_direction(degrees):
    """What a slot sends along the tube cannot depend on where it lies around it; 2e-3 is the width of the slot, which
    the field of the equivalent rectangle does not see quite alike everywhere."""
    assert _sent_into_the_tube(degrees) == pytest.approx(_sent_into_the_tube(0.0), rel=2e-3)


def test_slots_that_meet_the_turned_wave_keep_the_power():
    """Lossless, between shorts: what does not come back is radiated."""
    guide = replace(design.slotted_guide(RECORD), conductivity=math.inf)
    found = SlotMoment(guide).solve(np.linspace(2.4e9, 2.48e9, 5))
    np.testing.assert_allclose(np.abs(found.s[:, 0, 0]) ** 2 + found.radiated[:, 0], 1.0, atol=1e-9)
    without = SlotMoment(replace(guide, slots=tuple(replace(s, turned=0.0) for s in guide.slots)))
    assert np.max(np.abs(without.solve(found.frequency).s - found.s)) > 0.1  # it matters


def test_slots_on_the_front_line_are_silent():
    """The probe's wave has no H_z there; the turned one it does not send."""
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
