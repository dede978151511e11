"""Twelve antennas made wrong, read with caliper and rule, foretold, mended, and solved (draft mesh).

`wrong-antennas.toml` was written down before any was solved; `scripts/benchmarks/wrong_antennas.py` made the
tables. The README beside them says what came of it.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
import pytest
from full_wave_tables import REFERENCES, curves

from simharness.constants import TWO_PI
from simharness.measurement.files import OnePort
from simharness.workshop.antenna import Interval
from simharness.workshop.dimensions import dimensions
from simharness.workshop.mending import mend_study
from simharness.workshop.study import built_study

sys.path.insert(0, str(Path(__file__).parents[2] / "scripts"))
from benchmarks import wrong_antennas

sys.path.pop(0)


def table(name: str) -> dict[str, dict[str, str]]:
    with open(REFERENCES / f"{name}.csv", newline="", encoding="utf-8") as file:
        return {row["case"]: row for row in csv.DictReader(file)}


BUILT, MENDS, RUNS = table("built-cases"), table("mend-cases"), curves("built-runs", "case", "state")
TARGET_DB = -15.0

MISSED = {"8"}
"""The forecast that the full wave left: the guide of 10 GHz 3 mm long, by 0.3 dB."""


def foretold(row: dict[str, str]) -> Interval:
    return Interval(*(float(row[name]) for name in ("foretold_db", "low_db", "high_db")))


def drawn(case: str) -> OnePort:
    return RUNS[wrong_antennas.CASES[case]["record"], "drawn"]


def test_readings_are_those_that_chance_gave():
    """Of all twelve, nothing chosen by hand: the table is drawn again from its seeds."""
    assert len(wrong_antennas.CASES) == 12
    for case in wrong_antennas.CASES:
        stored, again = wrong_antennas.stored_readings(case), wrong_antennas.drawn_readings(case)
        assert [row.read for row in stored.rows] == [row.read for row in again.rows], case
        assert wrong_antennas.nominal(wrong_antennas.CASES[case]["record"]).band.target_s11_db == TARGET_DB


def test_forecast_from_readings_holds_within_its_own_uncertainty():
    """In 11 of 12 at least, against the full wave on the mesh that the model was calibrated on."""
    assert BUILT.keys() == wrong_antennas.CASES.keys()
    missed = {case for case, row in BUILT.items() if not foretold(row).holds(float(row["solved_db"]))}
    assert missed == MISSED and len(BUILT) - len(missed) >= 11


def test_uncertainty_is_no_wider_than_it_need_be():
    """Half-widths below 2 dB, and errors in the middle half as large at most, as of a normal distribution."""
    halves = [0.5 * (one.high - one.low) for one in map(foretold, BUILT.values())]
    errors = [abs(foretold(row).value - float(row["solved_db"])) for row in BUILT.values()]
    assert np.median(halves) < 2.0  # dB
    assert np.median(errors) < 0.5 * np.median(halves)


def test_solved_levels_are_those_of_the_stored_curves():
    for rows, state in ((BUILT, "wrong"), (MENDS, "mended")):
        for case, row in rows.items():
            if row["solved_db"]:
                record = wrong_antennas.nominal(wrong_antennas.CASES[case]["record"])
                worst = wrong_antennas.worst_db(record, RUNS[case, state])
                assert worst == pytest.approx(float(row["solved_db"]), abs=0.02), (case, state)


def test_operations_carried_out_in_the_full_wave_reach_the_target():
    """In 10 of 12 at least, counting one that reached it untouched; foretold within the uncertainty each time
    but for the number that may be outside of intervals of 95 in 100."""
    done = {case: row for case, row in MENDS.items() if row["do"]}
    left = MENDS.keys() - done.keys()
    assert left == {"10"}  # the model and the full wave find that it meets the target as it is
    assert all(
        max(float(BUILT[case][name]) for name in ("foretold_db", "solved_db")) <= TARGET_DB for case in left
    )
    reached = [case for case, row in done.items() if float(row["solved_db"]) <= TARGET_DB]
    assert len(reached) + len(left) >= 10
    held = [foretold(row).holds(float(row["solved_db"])) for row in done.values()]
    assert sum(held) >= len(held) - 1


def test_operations_are_few():
    """One thing, or two at most: a sentence of one 'and' or none."""
    assert all(row["do"].count(" and ") <= 1 for row in MENDS.values())


@pytest.mark.parametrize("case", ["5", "12"])
def test_forecast_is_found_again(case):
    """By the model as it is now, from readings and the run as drawn; 400 antennas drawn with one seed."""
    study = wrong_antennas.foretold(case, wrong_antennas.stored_readings(case), drawn(case))
    found, stored = study.by_model["worst_s11"], foretold(BUILT[case])
    assert found.value == pytest.approx(stored.value, abs=0.1)
    assert [found.low, found.high] == pytest.approx([stored.low, stored.high], abs=0.2)


def test_operation_is_found_again():
    """Slots cut 0.6 mm short: they are filed, by what was short of them, and by one step more or less."""
    study = wrong_antennas.foretold("2", wrong_antennas.stored_readings("2"), drawn("2"))
    (change, amount), *others = mend_study(study).mends[0].proposal.parts
    assert not others and change.dimension.name == "slot length"
    assert amount == pytest.approx(0.6, abs=0.11)


def test_curve_and_readings_together():
    """Case 11, two things wrong and scattered slots, read within 0.2 mm: its solved curve through a connector
    of 35 ps, with noise of 0.005. Dimensions lie where both have them, the probe twice as well known."""
    solved, read = RUNS["11", "wrong"], wrong_antennas.stored_readings("11")
    chance = np.random.default_rng(5).standard_normal((2, solved.s11.size))
    s11 = solved.s11 * np.exp(-2j * TWO_PI * solved.frequency * 35e-12)
    bench = OnePort(solved.frequency, s11 + 0.005 * (chance[0] + 1j * chance[1]))
    told = built_study(read, drawn("11"), "drawn", "draft", measured=bench).weighed
    assert told is not None and told.agrees and told.misfit < 0.6 * told.before
    assert told.delay == pytest.approx(35e-12, abs=3e-12)
    truth = np.array([one.drawn for one in dimensions(wrong_antennas.wrong("11"))])
    within = 2 * np.sqrt(np.diag(told.covariance))
    names = [row.dimension.name for row in read.rows]
    here = np.array([row.dimension.drawn for row in read.rows]) + read.amounts + told.shift
    off = np.abs(here - truth)
    assert np.mean(off <= within) >= 0.8  # 20 of 23 or so; 257 of 276 over all twelve
    probe = names.index("probe height")
    before = 2 * np.sqrt(np.diag(read.covariance))
    assert off[probe] <= within[probe] < 0.6 * before[probe]
