"""Rows before a matched end: power balance, the network behind the probe, and what a design promises."""

import numpy as np
import pytest

from simharness.em.guide.rectangular import phase_constant
from simharness.em.pattern.row_beam import row_cut
from simharness.em.pattern.side_lobes import side_lobe_level
from simharness.em.row.travelling_wave import TravellingDemand, designed_travelling_row
from simharness.em.slot.basis import SlotAperture, SlottedGuide
from simharness.em.slot.moment import SlotMoment
from simharness.errors import InputError

A, B, WALL, WIDTH, F0 = 40.386e-3, 20.193e-3, 1e-3, 2e-3, 5.8e9
SLOTS = tuple(SlotAperture(24.6e-3, WIDTH, (-1) ** i * 3e-3, 0.06 + i * 0.036) for i in range(4))
FREQUENCY = np.array([5.7e9, 5.8e9])
FEED = 0.018


def test_a_sheet_before_a_load_is_the_open_row_with_a_short_behind_the_sheet():
    """First principles: the short at -FEED lends a shunt of -j cot(beta d) to what a two-port row shows
    there.

    1e-5: only TE10 is in the second route; what other modes bring from the short to the first slot, and the
    slots' reaction to it, is 4e-7 of the reflection here.
    """
    found = SlotMoment(SlottedGuide(A, B, WALL, SLOTS, near_short=0.0, far_plane=0.3, feed=FEED)).solve(
        FREQUENCY
    )
    open_row = SlotMoment(SlottedGuide(A, B, WALL, SLOTS, near_plane=FEED, far_plane=0.3)).solve(FREQUENCY)
    reflection = open_row.s[:, 0, 0]
    admittance = (1 - reflection) / (1 + reflection) - 1j / np.tan(phase_constant(A, FREQUENCY) * FEED)
    assert found.s[:, 0, 0] == pytest.approx((1 - admittance) / (1 + admittance), abs=1e-5)
    share = np.abs(open_row.s[:, 1, 0]) ** 2 / (1 - np.abs(reflection) ** 2)
    accepted = 1 - np.abs(found.s[:, 0, 0]) ** 2
    assert (accepted - found.radiated[:, 0]) / accepted == pytest.approx(share, abs=1e-5)


@pytest.fixture(scope="module")
def demand():
    return TravellingDemand(A, B, WALL, WIDTH, F0, (1.0,) * 10, residual_power=0.3)


@pytest.fixture(scope="module")
def row(demand):
    return designed_travelling_row(demand)


def test_designed_row_keeps_its_promises(demand, row):
    """Equal voltages that lag evenly, three tenths of the power left, little reflection: within the solver's
    own limit.
    """
    assert row.misfit(demand) < 5e-3
    assert row.residual_power == pytest.approx(0.3, abs=5e-3)
    steps = np.angle(row.voltages[1:] / row.voltages[:-1])
    assert steps == pytest.approx(-demand.lag, abs=0.01)
    assert abs(row.reflection) < 0.1


def test_power_balance(row):
    """What comes in goes out: reflected, radiated, left over; lossless, so to the solution's own 1e-8."""
    found = SlotMoment(row.guide).solve(np.array([F0]))
    assert np.sum(np.abs(found.s[0, :, 0]) ** 2) + found.radiated[0, 0] == pytest.approx(1.0, abs=1e-8)


def test_beam_leans_as_the_lag_says(demand, row):
    """A uniform row has its first side lobe at -13.3 dB (array of ten: -13.0; any textbook on arrays)."""
    places = np.array([s.position for s in row.guide.slots])
    angle, power = row_cut(row.voltages, places, F0)
    assert angle[np.argmax(power)] == pytest.approx(demand.lean, abs=np.radians(0.2))
    assert side_lobe_level(angle, power, np.pi / 2) == pytest.approx(-13.0, abs=0.5)


def test_offsets_grow_as_the_wave_weakens(row):
    offsets = np.abs([s.offset for s in row.guide.slots])
    assert offsets[-1] > 1.5 * offsets[0]


@pytest.mark.parametrize(
    "change, words",
    [
        ({"residual_power": 0.0}, "between 0 and 1"),
        ({"weights": (1.0,)}, "two slots or more"),
    ],
)
def test_refused(change, words):
    with pytest.raises(InputError, match=words):
        TravellingDemand(
            **{"a": A, "b": B, "wall": WALL, "width": WIDTH, "frequency": F0, "weights": (1.0, 1.0)} | change
        )


def test_too_little_residual_power():
    """Five slots would each have to take more than a slot at the side wall can."""
    with pytest.raises(InputError, match="leave more, or take more slots"):
        designed_travelling_row(TravellingDemand(A, B, WALL, WIDTH, F0, (1.0,) * 5, 0.02))
