"""A sweep of eight short runs by the real solver, over two workers with one thread each.

Layout: the invented antenna of `scripts/benchmarks/sweeps.py`, two slots in 63 mm of WR-90, draft mesh, eight
heights of the probe. Expected: the table holds for each point what its own stored run says (bit for bit: the
same numbers are read), each run was made for its own height with one thread, and is passive within 0.5 % as
the shipped antennas are (`test_antenna.py`).
"""

from __future__ import annotations

import csv
import io
import json
import sys
from functools import partial
from pathlib import Path

import h5py
import numpy as np
import pytest

from simharness.runs.store import Store
from simharness.solver.machine import machine, usable_cores
from simharness.sweep.execution import sweep
from simharness.sweep.local import local_events
from simharness.sweep.table import csv_text, hdf5_bytes
from simharness.verdict.assessment import full_wave_figures


@pytest.fixture(scope="module")
def plan():
    scripts = str(Path(__file__).parents[2] / "scripts")
    sys.path.insert(0, scripts)
    try:
        from benchmarks.sweeps import short_sweep
    finally:
        sys.path.remove(scripts)
    return short_sweep(machine())


def test_eight_runs_over_two_workers(plan, tmp_path):
    store = Store(tmp_path / "runs")
    found = sweep(plan, store, partial(local_events, workers=min(2, usable_cores())), 1)
    assert [row.status for row in found.rows] == ["stored"] * 8, [row.reason for row in found.rows]
    assert {run.name for run in store.runs()} == {row.run for row in found.rows} and len(store.runs()) == 8
    table = list(csv.DictReader(io.StringIO(csv_text(found))))
    with h5py.File(io.BytesIO(hdf5_bytes(found)), "r") as file:
        for i, (point, line) in enumerate(zip(plan.points, table)):
            run = store.open(line["run"])
            results = run.results()
            assert (
                json.loads((run.path / "record.json").read_text())["feed"]["height_mm"]
                == point.values[0]
                == float(line["feed.height_mm"])
            )
            assert results.attributes["threads"] == 1 and results.attributes["quality"] == "draft"
            np.testing.assert_array_equal(file["s11"][i], results["s11"])
            assert np.max(np.abs(results["s11"])) < 1.005
            figures = full_wave_figures(results, point.record, "draft")
            # Seven digits are written.
            for name, column in (
                ("s11_at_centre", "s11_at_centre_db"),
                ("realized_gain", "realized_gain_dbi"),
                ("beamwidth_along", "beamwidth_along_deg"),
            ):
                assert float(line[column]) == pytest.approx(figures[name].value, rel=1e-6)
                assert float(line[f"{column}_error"]) == pytest.approx(figures[name].error, rel=1e-6)
