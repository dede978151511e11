"""Works in words: what a job is called, how it ended, and tables of what came out of it."""

from __future__ import annotations

import importlib
import json
from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest

import simharness
from simharness.errors import StoreError
from simharness.figures import number
from simharness.jobs.job import STATES, Job
from simharness.jobs.options import OPTIONS, full_options
from simharness.page.queue.words import KINDS, heading, result_tables, state_sentence
from simharness.tolerance.limits import Allowed
from simharness.tolerance.study import Effect

ROOT = Path(__file__).parents[2]


def test_every_kind_and_every_state_has_words():
    assert list(KINDS) == list(OPTIONS)
    for kind in OPTIONS:
        asked = {"vary": ["feed.height_mm=5,6"]} if kind == "sweep" else {}
        words = heading(Job(4, kind, "box", options=full_options(kind, asked)))
        assert words.startswith(f"4: {KINDS[kind]}") and "box" in words
    for state in STATES:
        words = state_sentence(Job(4, "solve", state=state, text="so it is"))
        assert "o it is" in words and words[0].isupper()
    assert heading(Job(4, state="damaged")) == "4: damaged"


def test_a_stored_run_as_its_job_shows_it():
    """The figures are those of the run itself, after they were kept as JSON."""
    run = simharness.open_run("four-slot-9g6", runs=ROOT / "docs" / "runs")
    data = json.loads(json.dumps(run.as_dict()))
    ((title, table),) = result_tables(Job(1, "solve"), data)
    assert title == "Estimate and full wave" and table[0] == ["figure", "estimate", "full wave"]
    shown = {row[0]: row[2] for row in table}
    assert shown["realized gain"] == number(run.figures["realized_gain"])
    assert shown["input impedance"] == number(run.figures["input_impedance"])
    assert shown["best match at"] == number(run.figures["resonance"])


def test_tolerances_as_their_job_shows_them():
    alone = Effect("probe height", "mm", 0.3, 0.0, {}, 0.1, 0.0)
    data = asdict(alone) | {"allowed": asdict(Allowed(0.52, 1.0, False, True))}
    ((_, table),) = result_tables(Job(1, "tolerance"), {"dimensions": [data, data | {"allowed": None}]})
    assert table[1] == ["probe height", "± 0.30 mm", "-0.52 mm", "beyond +1.00 mm"]
    assert table[2] == ["probe height", "± 0.30 mm", "-", "-"]


@pytest.mark.parametrize("kind", list(OPTIONS))
@pytest.mark.parametrize(
    "data",
    [
        {},
        {"figures": 7, "estimate": 7, "runs": 7, "dimensions": 7, "rows": 7, "before_mm": 7},
        {"figures": {"resonance": "x"}, "estimate": {}, "runs": [1], "dimensions": [1], "rows": [1]},
        {"figures": [1], "slot_cells": [], "runs": [{}], "before_mm": {}, "dimensions": [{}], "rows": []},
        {"figures": {"resonance": {"value": {}, "unit": "Hz"}}, "estimate": {}},
    ],
)
def test_what_no_work_can_have_given_is_said(kind, data):
    with pytest.raises(StoreError, match="job 1 is damaged"):
        result_tables(Job(1, kind), data)


def test_texts_in_tables_cannot_act():
    data = {
        "before_mm": {"height": 6.0},
        "runs": [{"name": "\x1b[2J", "values_mm": {"height": 6.0}, "centre_db": -20.0, "worst_db": -9.0}],
    }
    ((_, table),) = result_tables(Job(1, "tune"), data)
    assert table[1] == ["\\x1b[2J", "6.00", "-20.0 dB", "-9.0 dB"]


def test_points_of_a_sweep_and_meshes_of_a_study():
    figure = {"value": 12.3, "unit": "dBi", "basis": "", "error": 0.2}
    good = {"feed.height_mm": 6.0, "status": "stored", "reason": "", "run": "a-1"}
    bad = {"feed.height_mm": 7.0, "status": "failed", "reason": "it blew up", "run": "", "figures": {}}
    ((_, table),) = result_tables(
        Job(1, "sweep"), {"rows": [good | {"figures": {"realized_gain": figure}}, bad]}
    )
    assert table[0][0] == "feed.height_mm" and table[1][0] == "6.0"
    assert "12.3 ± 0.2 dBi" in table[1] and table[1][-1] == "a-1" and table[2][-1] == "failed: it blew up"
    row = {"name": "realized_gain", "label": "realized gain", "unit": "dBi", "values": [12.0, None]}
    limit = {"extrapolated": 12.4, "uncertainty": 0.3}
    study = {"slot_cells": [2, 3], "figures": [row | {"convergence": limit}, row | {"convergence": None}]}
    ((_, table),) = result_tables(Job(1, "converge"), study)
    assert table[1] == ["realized gain", "12.0 dBi", "-", "12.4 ± 0.3 dBi"]
    assert table[2][-1] == "- (not on every mesh)"


def test_the_curve_of_a_run_under_way_keeps_its_ends_and_its_levels():
    pytest.importorskip("nicegui")
    drawn = importlib.import_module("simharness.page.queue.settling").curve
    frequency = np.linspace(9e9, 10e9, 2001)
    s11 = np.full(2001, 0.1 + 0j)
    s11[-1] = 0
    ghz, level = drawn(frequency, s11)
    assert len(ghz) == len(level) == 240
    assert (ghz[0], ghz[-1], level[0], level[-1]) == (9.0, 10.0, -20.0, -80.0)


def test_only_the_last_of_what_is_over_is_shown():
    pytest.importorskip("nicegui")
    view = importlib.import_module("simharness.page.queue.view")
    jobs = [Job(1), *(Job(n, state="finished") for n in range(2, 40))]
    shown, older = view.newest(jobs)
    assert [job.number for job in shown] == [1, *range(10, 40)] and older == 8
    assert view.newest(jobs[:5]) == (jobs[:5], 0)
