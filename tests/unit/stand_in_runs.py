"""A stand-in for the field solver in tests of tuning: a formula or a table answers in the place of a run."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from simharness.files import atomic_write_text
from simharness.geometry import antenna_scene
from simharness.records import Record
from simharness.results.outputs import write_results
from simharness.runs import execution as run_module
from simharness.runs import planning
from simharness.solver import speed
from simharness.solver.machine import Machine
from simharness.tuning import search as tuning_module

ON = Machine("openEMS 0.0.35", 2)


def unmeshed_plan(record: Record, quality: str, on: Machine) -> SimpleNamespace:
    """As much of a plan as a tuning looks at, without the time that a mesh takes."""
    nameless = record.model_copy(update={"name": "x", "note": ""}).model_dump_json()
    key = hashlib.sha256(f"{nameless} {quality} {on.solver}".encode()).hexdigest()[:16]
    return SimpleNamespace(key=key, quality=quality, request=SimpleNamespace(scene=antenna_scene(record)))


def solver_replaced(
    monkeypatch: pytest.MonkeyPatch, truth: Callable[[Record, np.ndarray], np.ndarray]
) -> dict[str, Any]:
    """Lets a tuning be answered by `truth`; returns what was solved, what answers, and errors to raise at a
    number of runs.
    """
    state = {"solved": [], "truth": truth, "failing": {}}

    def solve(what, store, record=None, *, label="", again=False, timeout_s=None, progress=None):
        found = store.find(what.key)
        if found is not None:
            return found
        if len(state["solved"]) in state["failing"]:
            raise state["failing"].pop(len(state["solved"]))
        spectrum = what.request.scene.spectrum
        frequency = np.linspace(spectrum.low, spectrum.high, spectrum.points)
        with store.writer(what.key, what.request.scene.name) as writer:
            results = {"frequency": frequency, "s11": state["truth"](record, frequency)}
            write_results(writer.path / "results.h5", results, {"note": "invented", "quality": what.quality})
            atomic_write_text(
                writer.path / "record.json", record.model_dump_json(by_alias=True, exclude_none=True)
            )
            state["solved"].append(record)
            return writer.finalize("finished")

    monkeypatch.setattr(tuning_module, "solve", solve)
    monkeypatch.setattr(tuning_module, "record_plan", unmeshed_plan)
    monkeypatch.setattr(tuning_module, "machine", lambda: ON)
    monkeypatch.setattr(planning, "machine", lambda: ON)
    return state


def run_replaced(monkeypatch: pytest.MonkeyPatch, s11: float = 0.05) -> list[str]:
    """Lets `run.solve` do all but ask the solver: every run is answered by one reflection. Returns the keys
    it was asked for.
    """
    asked: list[str] = []

    def settled(folder, what, progress, timeout_s, meanwhile, cancel=None):
        meanwhile()
        asked.append(what.key)
        spectrum = what.request.scene.spectrum
        frequency = np.linspace(spectrum.low, spectrum.high, spectrum.points)
        end = SimpleNamespace(steps=100, pec_edges=0, engine_seconds=0.1, seconds=0.2, time_step=1e-12)
        settling = SimpleNamespace(method="record", change=1e-4, missing=0.0, uneven=0.0)
        return end, {"frequency": frequency, "s11": np.full(frequency.size, s11 + 0j)}, settling

    monkeypatch.setattr(run_module, "_settled", settled)
    monkeypatch.setattr(planning, "machine", lambda: ON)
    monkeypatch.setattr(speed, "measured_machine", lambda on, progress: on)
    return asked
