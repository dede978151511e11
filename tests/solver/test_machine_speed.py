"""The real solver is asked for its version and timed by short runs.

Layout: the invented three-slot antenna of `solver.speed` on a draft mesh, 200 steps with and without
absorbing layers. Exact value: none, a speed depends on the machine and its load. What holds on any
machine: building and stepping both fit into the wall clock of the child, and what was found out is
not asked again. Seen on two busy cores: 130 and 42 million cells a second; 10 s of processor time in all.
"""

from __future__ import annotations

import json
import time
from pathlib import Path

from simharness.solver import interpreter
from simharness.solver.machine import machine, remember
from simharness.solver.speed import STEPS, measured, short_request


def test_a_machine_is_measured_and_remembered(monkeypatch, tmp_path):
    monkeypatch.setenv("SIMHARNESS_PROFILE", str(tmp_path / "machine.json"))
    guessed = machine()
    begun = time.monotonic()
    found = measured(guessed.solver, (guessed.threads,), guessed.python)
    wall = time.monotonic() - begun
    assert found.solver == guessed.solver and found.threads == guessed.threads and found.measured
    inside = sum(
        short_request(layered).grid.cells
        * (found.speed(layered).build_time + STEPS / found.speed(layered).cells_per_second)
        for layered in (False, True)
    )
    # Starting the interpreter twice takes part of the rest.
    assert 0.2 * wall < inside < wall
    assert found.layered.cells_per_second < found.plain.cells_per_second

    def refuse(*_, **__):
        raise AssertionError("the solver was started")

    monkeypatch.setattr(interpreter.subprocess, "run", refuse)
    remember(found)
    assert machine() == found
    files = json.loads((tmp_path / "machine.json").read_text())["files"]
    assert any(Path(name).name.startswith("libopenEMS") for name in files)
