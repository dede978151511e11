"""A job of the queue with the real solver: from being added to its verdict, S11 as it settles, and a kill.

Four slots in WR-90 at 9.6 GHz, draft mesh of 0.22 million cells: three looks in some ten seconds of stepping.
Seen: the last look within 6e-6 of the finished S11 (limit of the run 1e-3), the first within 0.07, which said
that it still moved by 0.35.
"""

from __future__ import annotations

import json
import os
import signal
import time
from pathlib import Path

import numpy as np
import pytest

import simharness
from simharness.jobs.folder import jobs_root
from simharness.jobs.forecast import forecast
from simharness.jobs.queue import Queue
from simharness.runs.store import Store
from simharness.solver.settings import SolverSettings

FILE = Path(__file__).parents[2] / "docs" / "four-slot-9g6.toml"
DRAFT = {"quality": "draft"}
PATIENCE_S = 600


def until(true):
    patience = time.monotonic() + PATIENCE_S
    while not (found := true()):
        assert time.monotonic() < patience, "waited in vain"
        time.sleep(0.1)
    return found


def solvers_in(runs: Path) -> list[str]:
    """Processes other than this one whose command line names the folder of the runs, workers apart."""
    found = []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = path.read_bytes().decode(errors="replace")
        except OSError:
            continue
        if str(runs) in words and "simharness.jobs.worker" not in words:
            found.append(words)
    return found


@pytest.fixture
def queue(tmp_path):
    found = Queue(tmp_path / "runs")
    yield found
    for job in found.jobs():
        if not job.over:
            found.cancel(job.number)
    until(lambda: not found.alive)


def test_a_job_from_the_queue_to_its_verdict(queue):
    record = simharness.read_record(FILE)
    foretold = forecast("solve", record, DRAFT, queue.runs)
    number = queue.add("solve", FILE.read_text(), FILE.name, DRAFT).number
    shares = []
    until(lambda: shares.append(queue.job(number).share) or queue.job(number).over)
    job = queue.job(number)
    assert job.state == "finished", job.text
    assert shares == sorted(shares) or any("more slowly" in note for note in job.notes)
    result = queue.result(number)
    run = simharness.open_run(result["runs"][-1], runs=queue.runs)
    assert result["data"]["verdict"] == run.verdict.state.value == "met"
    assert result["conclusion"] == run.verdict.conclusion == job.text
    assert run.provenance["cells"] == foretold.cells

    last = queue.interim(number)
    assert job.looks >= 2
    np.testing.assert_array_equal(last.frequency, run.results["frequency"])
    distance = np.abs(last.s11 - run.results["s11"]).max()
    allowed = SolverSettings(run_mesh()).settled
    assert distance < allowed and last.moving < allowed
    # It is stored now: foretold as such, and the same job again opens it.
    assert forecast("solve", record, DRAFT, queue.runs).stored == 1
    again = queue.again(number).number
    until(lambda: queue.job(again).over)
    assert queue.result(again)["runs"] == [run.name] and queue.job(again).looks == 0


def run_mesh():
    """Any mesh: the limit is the same for all."""
    from simharness.mesh.settings import QUALITIES

    return QUALITIES["draft"]


def test_a_worker_killed_in_a_run_leaves_no_solver_and_nothing_that_looks_finished(queue):
    number = queue.add("solve", FILE.read_text(), FILE.name, DRAFT).number
    until(lambda: solvers_in(queue.runs) and queue.job(number).text != "begun")
    os.kill(json.loads((jobs_root(queue.runs) / ".worker").read_text())["pid"], signal.SIGKILL)
    until(lambda: not solvers_in(queue.runs))
    assert queue.job(number).state == "lost"
    assert [run.status for run in Store(queue.runs).runs(unfinished=True)] == ["left over"]
    again = queue.again(number).number
    until(lambda: queue.job(again).share > 0)
    queue.cancel(again)
    until(lambda: queue.job(again).over)
    assert queue.job(again).state == "cancelled"
    assert Store(queue.runs).runs(unfinished=True) == [] and not solvers_in(queue.runs)
