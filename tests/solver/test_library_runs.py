"""The Python interface with the real solver: the notebook of the documentation, and a run that is stopped.

The notebook: two slots in WR-90 at 9.8 GHz, designed for a band of 1 %; draft mesh of 0.15 million cells.
Seen: S11 at worst -20.0 dB in the band, 5.4 dB of error bar above it, so that its target of -12 dB is met.
"""

from __future__ import annotations

import importlib.util
import threading
from pathlib import Path

import pytest

import simharness
from simharness.errors import CancelledError

ROOT = Path(__file__).parents[2]


def test_the_notebook_runs_from_frequency_to_verdict(monkeypatch, tmp_path):
    spec = importlib.util.spec_from_file_location("notebook", ROOT / "scripts" / "notebook.py")
    notebook = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(notebook)
    monkeypatch.chdir(tmp_path)
    page = notebook.page(ROOT / "docs" / "from_frequency_to_verdict.py")
    assert page.count("data:image/png;base64,") == 4
    assert "Target met: S11 is at worst -" in page and ">&#x27;met&#x27;</pre>" in page
    assert [run.status for run in simharness.runs("runs")] == ["finished"]


def test_a_run_is_stopped_by_an_event(tmp_path):
    """The event is set when the solver has begun; it ends within its grace of 5 s, and leaves nothing."""
    record = simharness.read_record(ROOT / "docs" / "four-slot-9g6.toml")
    event = threading.Event()

    class Begun:
        def note(self, text):
            pass

        def advance(self, share, seconds_left, text):
            event.set()

        def done(self):
            pass

    with pytest.raises(CancelledError):
        simharness.solve(simharness.plan(record, "draft"), runs=tmp_path, progress=Begun(), cancel=event)
    assert simharness.runs(tmp_path) == []
    assert not list(tmp_path.glob(".work-*"))
