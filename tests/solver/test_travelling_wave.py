"""Sixteen slots before a load, draft mesh: `models/sixteen-slot-5g8-travelling.toml`, designed, not tuned.

Layout: WR-159, probe-fed, an absorber of one guide wavelength behind the last slot. Known: the estimate
(method of moments, no mesh); power. Known bias: slots on the draft mesh resonate 0.2 to 0.5 % low. Seen: left
over for the load 0.199 against 0.200, powers within 0.4 %, beam at 3 against 2.6 deg, S11 at the centre -18.2
against -20.0 dB.
"""

from pathlib import Path

import numpy as np
import pytest

from simharness.em.pattern.cuts import cut_along
from simharness.em.pattern.far_field import FarField
from simharness.estimate.antenna import estimate
from simharness.records import read_record
from simharness.results.powers import HEAT
from simharness.runs.execution import solve
from simharness.runs.planning import record_plan

RECORD = read_record(Path(__file__).parents[2] / "models" / "sixteen-slot-5g8-travelling.toml")
CENTRE = 1


@pytest.fixture(scope="module")
def results(store):
    return solve(record_plan(RECORD, "draft"), store, RECORD).results()


def test_what_is_left_over(results):
    """Two hundredths: what the power check allows."""
    left = results["load_power"][CENTRE] / results["accepted_power"][CENTRE]
    assert left == pytest.approx(estimate(RECORD).figures["end_power"].value, abs=0.02)


def test_power_balance(results):
    """Sent out through the box and taken by the load is what is accepted: 2 %, as the verdict allows."""
    out = results["surface_power"] + sum(results[name] for name in HEAT if name in results)
    assert out == pytest.approx(results["accepted_power"], rel=0.02)


def test_match_against_the_estimate(results):
    """S11 in the complex plane over the band: 0.07 of the draft mesh, and 0.03 of the estimate."""
    theirs = estimate(RECORD)
    inside = (results["frequency"] > RECORD.band.low_ghz * 1e9) & (
        results["frequency"] < RECORD.band.high_ghz * 1e9
    )
    f = results["frequency"][inside]
    assert np.abs(results["s11"][inside] - np.interp(f, theirs.frequency, theirs.s11)).max() < 0.10


def test_beam_leans_to_the_far_end(results):
    """2.6 deg for a lag of beta d - pi; the far field is sampled every degree or so."""
    cut = cut_along(FarField.stored(results), CENTRE)
    assert np.degrees(cut.angle[np.argmax(cut.total)]) == pytest.approx(2.6, abs=1.0)
