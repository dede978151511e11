"""Slots in both broad walls: front and back alike, nulls where the estimate has them.

Layout: the shipped two-faced antenna (2 x 4 slots, offsets of front and back opposite), fed by a wave through
its near end, so that half a turn about the axis takes it into itself; and as shipped, with its probe in the
back wall. Expected: front and back equal by that symmetry; nulls at the estimate's angles (another model:
moment method and infinite tube). Known bias: none by the mesh, which has the symmetry too; with the probe
both slotted walls still have as many cells, and the sides differ by 0.02 to 0.13 dB on the draft mesh.
Tolerance: what the design of such antennas asks for, 0.3 dB and 3 degrees.
"""

import numpy as np
import pytest

from simharness.em.pattern.cuts import cut_across
from simharness.em.pattern.far_field import FarField
from simharness.estimate.antenna import estimate
from simharness.records import parse_record, read_record
from simharness.runs.execution import solve
from simharness.runs.planning import record_plan
from simharness.verdict.assessment import full_wave_figures


def solved(record, store, quality="draft"):
    return solve(record_plan(record, quality), store, record).results()


@pytest.fixture(scope="module")
def shipped(records):
    return read_record(records / "two-faced-5g8.toml")


def front_over_back(results):
    """Level of +y over that of -y at each frequency."""
    theta, phi, power = results["theta"], results["phi"], results["directivity"]
    broadside = power[:, np.argmin(np.abs(theta - np.pi / 2))]
    return np.sqrt(
        broadside[:, np.argmin(np.abs(phi - np.pi / 2))]
        / broadside[:, np.argmin(np.abs(phi - 3 * np.pi / 2))]
    )


def fed_by_a_wave(record):
    data = record.model_dump(by_alias=True, exclude_none=True)
    data["guide"]["near_end"], data["feed"] = "port", {"kind": "guide-port"}
    return parse_record(data)


def test_front_and_back_of_a_symmetric_antenna_are_alike(shipped, store):
    """Opposite directions within 0.3 dB wherever the level is within 10 dB of the strongest (seen: 1e-6 dB);
    nulls within 3 degrees of the estimate's (seen: 0.4)."""
    record = fed_by_a_wave(shipped)
    results = solved(record, store)
    cut = cut_across(FarField.stored(results), 1)
    behind = np.interp(cut.angle + np.pi, cut.angle, cut.total, period=2 * np.pi)
    strong = cut.total > 0.1 * cut.total.max()
    np.testing.assert_allclose(10 * np.log10(cut.total[strong] / behind[strong]), 0, atol=0.3)
    found, guess = full_wave_figures(results, record, "draft"), estimate(record, 11).figures
    for name in ("null_plus_x", "null_minus_x"):
        assert found[name].value == pytest.approx(guess[name].value, abs=3)
    # Voltages count around the guide: mates of opposite offsets are opposite (exact by symmetry; signals to
    # 1e-3).
    voltage = results["slot_voltage"][1]
    np.testing.assert_allclose(voltage[::2], -voltage[1::2], rtol=1e-3)


def test_shipped_antenna_does_what_the_estimate_says(shipped, store):
    """Normal mesh: its two dips are of nearly one depth, and a draft takes the other for the best. Nulls
    within 3 degrees (seen: 0.7), ripple within 0.5 dB (0.01), best match 0.7 % (0.4), band edges 1 % (0.13),
    gain 0.6 dB (0.2): what this tool asks of its estimates. Front and back within 0.3 dB (0.11), though only
    one has a probe in it."""
    results = solved(shipped, store, "normal")
    found, guess = full_wave_figures(results, shipped, "normal"), estimate(shipped).figures
    assert np.all(np.abs(20 * np.log10(front_over_back(results))) < 0.3)
    for name, tolerance in (
        ("null_plus_x", 3),
        ("null_minus_x", 3),
        ("ripple_across", 0.5),
        ("realized_gain", 0.6),
    ):
        assert found[name].value == pytest.approx(guess[name].value, abs=tolerance), name
    for name, tolerance in (("resonance", 0.007), ("band_low", 0.01), ("band_high", 0.01)):
        assert found[name].value == pytest.approx(guess[name].value, rel=tolerance), name
