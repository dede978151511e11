"""The estimate of a round tube: power balance, limits, symmetry."""

import math
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss
from scipy.special import jnp_zeros

from simharness.advice.warnings import warnings
from simharness.constants import C0, ETA0, TWO_PI
from simharness.design.proposal import designed
from simharness.design.requirements import Requirements
from simharness.design.stock import round_from_text
from simharness.em.guide.rectangular import attenuation
from simharness.em.guide.round import (
    equivalent_offset,
    equivalent_rectangle,
    probe_rectangle,
    te11_attenuation,
    te11_over_te10,
)
from simharness.em.pattern.round_tube import RoundTube
from simharness.em.probe.network import CoaxLine
from simharness.em.probe.straight import ProbeShape, probe_network
from simharness.em.slot.basis import EDGE_CORNER, SlotAperture, profile_transform
from simharness.em.slot.faces import OuterSides
from simharness.em.slot.inside import GuideSide
from simharness.em.slot.moment import SlotMoment
from simharness.em.slot.round_guide import Curvature
from simharness.em.slot.superstrate import Superstrate
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.estimate.antenna import estimate
from simharness.records import parse_record, read_record

RECORD = read_record(Path(__file__).parents[2] / "models" / "four-slot-tube-2g44.toml")


def test_a_probe_in_a_round_tube_keeps_the_power():
    """Lossless: the scattering matrix is unitary, to rounding."""
    frequency = np.array([2.35e9, 2.44e9, 2.55e9])
    wire, coax = ProbeShape(0.0, 27e-3, 1.5e-3), CoaxLine(1.27e-3, 4.1e-3, 2.08)
    found = probe_network(
        *probe_rectangle(88e-3), wire, coax, frequency, profile=partial(te11_over_te10, 88e-3)
    )
    s = found.s_matrix(50.0)
    np.testing.assert_allclose(
        np.einsum("fij,fik->fjk", s.conj(), s), np.broadcast_to(np.eye(3), s.shape), atol=1e-10
    )


def test_a_profile_of_te10_itself_changes_nothing():
    frequency = np.array([9.5e9, 10e9])
    wire, coax = ProbeShape(0.0, 6e-3, 1.27e-3), CoaxLine(1.27e-3, 4.1e-3, 2.08)
    plain, same = (
        probe_network(22.86e-3, 10.16e-3, wire, coax, frequency, profile=p) for p in (None, np.ones_like)
    )
    np.testing.assert_allclose(same.own, plain.own, rtol=1e-9)
    np.testing.assert_allclose(same.link, plain.link, rtol=1e-9)


def test_the_line_has_the_loss_of_the_tube():
    a, b = RECORD.guide.line
    line = attenuation(a, b, 2.44e9, model_inputs.slotted_guide(RECORD).conductivity)
    assert line == pytest.approx(te11_attenuation(88e-3, 2.44e9, 5.813e7), rel=1e-3)


def test_what_is_accepted_is_radiated_or_heats_the_wall():
    found = estimate(RECORD, 21)
    assert 0.98 < found.slot_power.sum() < 1.0
    assert found.figures["directivity"].value == pytest.approx(
        11.2, abs=0.5
    )  # four slots 0.87 wavelengths apart


SLOT, DIAMETER, K = SlotAperture(60e-3, 4e-3, 0.0), 88e-3, TWO_PI * 2.44e9 / C0


def _at(degrees: float, position: float = 0.0) -> SlotAperture:
    return replace(SLOT, offset=float(equivalent_offset(DIAMETER, math.radians(degrees))), position=position)


def _inside(*slots: SlotAperture) -> np.ndarray:
    """Admittance of half-sine slots seen from inside an endless tube, S."""
    return GuideSide(
        *equivalent_rectangle(DIAMETER), slots, np.array([1]), EDGE_CORNER, diameter=DIAMETER
    ).admittance(K)


@pytest.mark.parametrize("degrees", [5.0, 20.0, 40.0, 60.0])
def test_a_tube_has_no_preferred_direction(degrees):
    """What a slot sends along the tube and stores in it cannot depend on where it lies around it; 1e-3 are
    the high modes, which are not exchanged. What it sends is exact."""
    np.testing.assert_allclose(_inside(_at(degrees)), _inside(_at(0.0)), rtol=1e-3)
    np.testing.assert_allclose(_inside(_at(degrees)).real, _inside(_at(0.0)).real, rtol=1e-9)


def test_two_slots_see_the_angle_between_them_only():
    """The pair turned around the tube as a whole; the same tolerance, of the largest entry."""
    one, two = _inside(_at(0.0), _at(30.0, 0.1)), _inside(_at(20.0), _at(50.0, 0.1))
    np.testing.assert_allclose(one, two, atol=1e-3 * np.abs(one).max())


def _half_sine_sum(kc: np.ndarray, weight: np.ndarray) -> complex:
    """Admittance of a half-sine slot by modes of these cutoffs one by one, S: the module's formula for G,
    integrated by hand over z.
    """
    gam, kp, length = np.sqrt(kc**2 - K**2 + 0j), math.pi / SLOT.length, SLOT.length
    terms = (K**2 - kp**2) * length / 2 / (gam**2 + kp**2) + kc**2 / gam * kp**2 / (gam**2 + kp**2) ** 2 * (
        1 + np.exp(-gam * length)
    )
    return 1j / (K * ETA0) * np.sum(weight * terms)


def test_a_tube_differs_from_its_rectangle_by_their_modes():
    """Modes of either up to kc R = 80 one by one, the zeros of J_n' from scipy; what is beyond is alike in
    both: 2e-3 of the difference.
    """
    radius, (a, b), slot = DIAMETER / 2, equivalent_rectangle(DIAMETER), _at(25.0)
    zeros = [(n, z) for n in range(80) for z in [0.0] * (n == 0) + list(jnp_zeros(n, 27)) if z < 80]
    order, zero = np.array(zeros).T
    weight = np.where(order > 0, 2.0, 1.0) / (
        math.pi * radius**2 * (1 - (order / np.maximum(zero, 1.0)) ** 2)
    )
    tube = _half_sine_sum(
        zero / radius, weight * profile_transform(order * SLOT.width / DIAMETER, EDGE_CORNER) ** 2
    )
    m, n = (line.ravel() for line in np.meshgrid(np.arange(50), np.arange(30), indexing="ij"))
    kc = np.hypot(m * math.pi / a, n * math.pi / b)
    weight = np.where(m > 0, 2.0, 1.0) * np.where(n > 0, 2.0, 1.0) / (a * b) * (kc * radius < 80)
    across = np.cos(m * math.pi * (slot.offset / a + 0.5)) * profile_transform(
        m * math.pi * SLOT.width / (2 * a), EDGE_CORNER
    )
    rectangle = _half_sine_sum(kc, weight * across**2)
    plain = GuideSide(a, b, [slot], np.array([1]), EDGE_CORNER).admittance(K)
    assert (_inside(slot) - plain)[0, 0] == pytest.approx(tube - rectangle, rel=2e-3)


def test_slots_on_a_tube_radiate_what_the_far_field_holds():
    """Two independent ways: the admittance outside (integral over kz), and the exact pattern of slots on a
    cylinder integrated over the sphere (series of `RoundTube.responses`). Half-sine slots, 1 mm wide, at 30
    and -20 degrees; 1e-3 is that width, which the pattern leaves out.
    """
    slots, radius = tuple(replace(s, width=1e-3) for s in (_at(30.0), _at(-20.0, 0.09))), 45e-3
    voltage = np.array([1.0, 0.7 * np.exp(0.4j)])
    matrix = OuterSides(slots, np.array([1]), EDGE_CORNER, tube=(DIAMETER, radius)).admittance(K)
    cosine, weight = leggauss(160)
    sine, phi = np.sqrt(1 - cosine**2), TWO_PI * np.arange(120) / 120
    response = RoundTube(2 * radius).responses(K * sine, radius * np.radians([30.0, -20.0]), phi)
    kz, kp = K * cosine, math.pi / SLOT.length
    along = 2 * kp * np.cos(kz * SLOT.length / 2) / (kp**2 - kz**2)
    phase = np.exp(1j * kz[:, None] * np.array([s.position for s in slots]))
    # reciprocity: E_phi r = (j k / 4 pi) sin(theta) h I for a magnetic current I along z
    field = (
        K
        / (2 * TWO_PI)
        * sine[:, None]
        * np.einsum("tnp,tn,n->tp", response, along[:, None] * phase, voltage)
    )
    power = np.sum(weight * np.mean(np.abs(field) ** 2, axis=1)) * TWO_PI / (2 * ETA0)
    assert 0.5 * (voltage.conj() @ matrix @ voltage).real == pytest.approx(power, rel=1e-3)


def test_a_wide_tube_is_a_plane():
    """What the curvature adds falls at least as 1/R."""
    added = [
        np.abs(Curvature((SLOT,), np.zeros(1), np.array([1, 3]), EDGE_CORNER, r).admittance(K)).max()
        for r in (0.05, 0.2)
    ]
    assert added[1] < added[0] / 4


def test_slots_that_meet_the_turned_wave_keep_the_power():
    """Lossless, between shorts: what does not come back is radiated."""
    guide = replace(model_inputs.slotted_guide(RECORD), conductivity=math.inf)
    found = SlotMoment(guide).solve(np.linspace(2.4e9, 2.48e9, 5))
    np.testing.assert_allclose(np.abs(found.s[:, 0, 0]) ** 2 + found.radiated[:, 0], 1.0, atol=1e-9)


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


def test_design_makes_a_tube_that_does_what_it_says():
    """Offsets are arcs on the outside, on alternate sides; the estimate, which takes the record anew, finds
    the match of the design within 0.02 in S11 (wall loss and the span of the fit), and `check` finds every
    slot in resonance."""
    made = designed(Requirements(2.44e9, round_from_text("88x1"), slots=4, slot_width=6e-3))
    record = made.record
    offsets = np.array([slot.offset_mm for slot in record.slots])
    assert record.guide.shape == "round" and np.all(offsets * (-1.0) ** np.arange(4) > 5)
    guess = estimate(record, 41)
    s11 = np.interp(made.requirements.band, guess.frequency, np.abs(guess.s11))
    np.testing.assert_allclose(s11, 10 ** (made.after.s11_db / 20), atol=0.02)
    assert not [text for text in warnings(record) if "take little power" in text]
    np.testing.assert_allclose(np.abs(guess.slot_voltages), 1.0, atol=0.02)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"opposite": -1}, "faces"),
        ({"far_end": "load"}, "far end"),
        ({"superstrate": Superstrate(1e-3, 4.4)}, "laminate"),
    ],
)
def test_what_is_not_designed_for_tubes_is_refused(changes, field):
    with pytest.raises(InputError, match=field):
        designed(Requirements(2.44e9, round_from_text("88x1"), slots=4, **changes))


@pytest.mark.parametrize(
    ("size", "words"),
    [("60x1", "diameter must be about 81 mm or more"), ("110x1", "diameter must be about 89 mm or less")],
)
def test_tubes_that_do_not_carry_the_wave_are_refused(size, words):
    """1.12 times the cutoff of TE11 (1.8412) and 0.95 times that of TM01 (2.4048), worked out by hand."""
    with pytest.raises(InputError, match=words):
        designed(Requirements(2.44e9, round_from_text(size), slots=4))
