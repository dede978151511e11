"""What is remembered of a machine, when it is measured, and what follows for the forecast.

The solver is played by a stand-in everywhere; the real one is measured in tests/solver.
"""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from simharness.cli.main import cli
from simharness.errors import CancelledError, MachineError, SolverError
from simharness.runs import execution as run_module
from simharness.solver import interpreter
from simharness.solver import machine as machine_module
from simharness.solver import speed as speed_module
from simharness.solver.machine import (
    CHECK_SECONDS,
    START_SECONDS,
    Machine,
    Speed,
    machine,
    processor,
    profile_path,
    remember,
    remembered,
)
from simharness.solver.process import ProcessOutcome
from simharness.solver.speed import STEPS, measured_machine, run_speed, short_request, thread_counts

RECORD = str(Path(__file__).parents[2] / "models" / "five-slot-2g45.toml")
MEASURED = Machine("openEMS 0.0.35", 1, Speed(2e8, 1e-6), Speed(6e7, 2e-6), "2026-01-31")


class Notes:
    """Keeps the notes."""

    def __init__(self):
        self.said = []

    def note(self, text):
        self.said.append(text)

    def advance(self, share, seconds_left, text): ...

    def done(self): ...


@pytest.fixture
def installed(monkeypatch, tmp_path):
    """Stand-in files of a solver, how often a child was asked for its version, and a profile not yet
    written.
    """
    files = {name: tmp_path / name for name in ("CSXCAD", "openEMS", "libopenEMS.so")}
    for path in files.values():
        path.write_text("first build")
    asked = []

    def run(argv, **__):
        asked.append(str(argv[0]))
        said = f" | openEMS 64bit -- version v0.0.35\nloaded: {files['libopenEMS.so']}\n"
        return subprocess.CompletedProcess([], 0, said, "")

    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *_: SimpleNamespace(origin=str(files[name]))
    )
    monkeypatch.setattr(interpreter.subprocess, "run", run)
    monkeypatch.setattr(machine_module, "usable_cores", lambda: 2)
    monkeypatch.setattr(speed_module, "usable_cores", lambda: 2)
    monkeypatch.setenv("SIMHARNESS_PROFILE", str(tmp_path / "cache" / "machine.json"))
    return SimpleNamespace(files=files, asked=asked, profile=tmp_path / "cache" / "machine.json")


@pytest.fixture
def sprints(monkeypatch):
    """Runs of the measurement as (layers, threads), played: two threads are twice as fast."""
    made = []

    def play(request, threads, python):
        made.append((any(request.grid.absorber), threads))
        return Speed(threads * (3e7 if made[-1][0] else 7e7), 1e-6 * threads)

    monkeypatch.setattr(speed_module, "run_speed", play)
    monkeypatch.setattr(speed_module.os, "getloadavg", lambda: (0.0, 0.0, 0.0))
    return made


# --- the profile --------------------------------------------------------------------------------


def test_the_version_is_asked_once(installed):
    first = machine()
    assert first == Machine("openEMS 0.0.35", 2) and first.measured == ""
    assert machine() == first and len(installed.asked) == 1


def test_a_measured_machine_is_remembered(installed):
    machine()
    remember(MEASURED)
    assert machine() == MEASURED == remembered() and len(installed.asked) == 1
    assert [path.name for path in installed.profile.parent.iterdir()] == ["machine.json"]


def test_a_remembered_guess_is_that_of_this_version(installed):
    machine()
    stored = json.loads(installed.profile.read_text())
    stored["machine"]["plain"]["cells_per_second"] = 1.0
    installed.profile.write_text(json.dumps(stored))
    assert machine() == Machine("openEMS 0.0.35", 2) and len(installed.asked) == 1


@pytest.mark.parametrize(
    "what", ["CSXCAD", "openEMS", "libopenEMS.so", "same size", "gone", "processor", "cores", "library path"]
)
def test_another_solver_or_processor_is_noticed(installed, monkeypatch, what):
    machine()
    remember(MEASURED)
    if what in installed.files:
        installed.files[what].write_text("a second build")
    elif what == "same size":
        os.utime(installed.files["libopenEMS.so"], ns=(1, 1))
    elif what == "gone":
        installed.files["libopenEMS.so"].unlink()
    elif what == "processor":
        monkeypatch.setattr(machine_module, "processor", lambda: "another")
    elif what == "cores":
        monkeypatch.setattr(machine_module, "usable_cores", lambda: 3)
    else:
        monkeypatch.setenv("LD_LIBRARY_PATH", "/elsewhere")
    assert remembered() is None
    assert machine().measured == "" and len(installed.asked) == 2


@pytest.mark.parametrize(
    "harm",
    [
        "",
        "{",
        "[]",
        '{"note": "mine"}',
        "binary",
        ("format", 1),
        ("cores", "2"),
        ("extra", 1),
        ("threads", 0),
        ("solver", None),
        ("cells_per_second", -1.0),
        ("cells_per_second", float("nan")),
        ("build_time", float("inf")),
    ],
    ids=str,
)
def test_a_profile_that_cannot_be_read_is_made_anew(installed, harm):
    machine()
    remember(MEASURED)
    stored = json.loads(installed.profile.read_text())
    if isinstance(harm, tuple):
        name, value = harm
        inner = stored["machine"]
        {
            "threads": inner,
            "solver": inner,
            "cells_per_second": inner["plain"],
            "build_time": inner["layered"],
        }.get(name, stored)[name] = value
        installed.profile.write_text(json.dumps(stored))
    else:
        installed.profile.write_bytes(b"\xff\xfe\x00" if harm == "binary" else harm.encode())
    assert machine() == Machine("openEMS 0.0.35", 2) == remembered() and len(installed.asked) == 2


def test_where_nothing_can_be_written_nothing_is_remembered(installed):
    installed.profile.parent.write_text("a file where the folder should be")
    assert machine() == machine() and len(installed.asked) == 2
    remember(MEASURED)
    assert remembered() is None


def test_no_profile_is_wanted(installed, monkeypatch, tmp_path):
    monkeypatch.setenv("SIMHARNESS_PROFILE", "")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    machine(), machine()
    assert len(installed.asked) == 2 and not (tmp_path / "cache").exists()


def test_a_profile_does_not_stand_for_a_missing_solver(installed, monkeypatch):
    machine()
    monkeypatch.setattr(interpreter, "SYSTEM_PYTHON", "/nowhere")
    monkeypatch.setattr(importlib.util, "find_spec", lambda *_: None)
    with pytest.raises(MachineError, match="the field solver is missing .*CSXCAD or openEMS"):
        machine()


# --- which Python runs the solver ---------------------------------------------------------------


@pytest.fixture
def pythons(installed, monkeypatch, tmp_path):
    """Two other Pythons: that of the system, and one that a person may name."""
    found = SimpleNamespace(system=tmp_path / "system-python", named=tmp_path / "named-python")
    for path in (found.system, found.named):
        path.write_text("")
        path.chmod(0o755)
    monkeypatch.setattr(interpreter, "SYSTEM_PYTHON", str(found.system))
    monkeypatch.delenv(interpreter.SOLVER_PYTHON_VARIABLE, raising=False)
    return found


def test_this_python_is_preferred(installed, pythons):
    assert machine().python == "" and installed.asked == [sys.executable]


def test_without_the_modules_here_the_python_of_the_system_runs_the_solver(installed, pythons, monkeypatch):
    monkeypatch.setattr(importlib.util, "find_spec", lambda *_: None)
    assert machine().python == str(pythons.system) and installed.asked == [str(pythons.system)]
    assert machine().python == str(pythons.system) and len(installed.asked) == 1
    remember(replace(MEASURED, python=str(pythons.system)))
    assert machine() == replace(MEASURED, python=str(pythons.system)) and len(installed.asked) == 1


def test_a_python_that_is_named_comes_first(installed, pythons, monkeypatch):
    machine()
    monkeypatch.setenv(interpreter.SOLVER_PYTHON_VARIABLE, str(pythons.named))
    assert machine().python == str(pythons.named) and installed.asked[1:] == [str(pythons.named)]
    monkeypatch.delenv(interpreter.SOLVER_PYTHON_VARIABLE)
    assert machine().python == ""


def test_a_python_of_the_profile_is_tried_last(installed, pythons, monkeypatch):
    monkeypatch.setenv(interpreter.SOLVER_PYTHON_VARIABLE, str(pythons.named))
    machine()
    monkeypatch.delenv(interpreter.SOLVER_PYTHON_VARIABLE)
    monkeypatch.setattr(importlib.util, "find_spec", lambda *_: None)
    pythons.system.unlink()
    assert machine().python == str(pythons.named) and len(installed.asked) == 1


def test_a_python_that_does_not_start_is_passed_over(installed, pythons, monkeypatch):
    usual = interpreter.subprocess.run

    def run(argv, **options):
        if argv[0] == sys.executable:
            return subprocess.CompletedProcess([], 1, "", "ImportError: libfoo.so.1")
        return usual(argv, **options)

    monkeypatch.setattr(interpreter.subprocess, "run", run)
    assert machine().python == str(pythons.system)
    pythons.system.unlink()
    with pytest.raises(MachineError, match=r"does not start \(ImportError: libfoo.so.1\)"):
        machine()


def test_a_named_python_without_the_solver_is_an_error_of_the_machine(installed, pythons, monkeypatch):
    monkeypatch.setenv(interpreter.SOLVER_PYTHON_VARIABLE, str(pythons.named))
    monkeypatch.setattr(
        interpreter.subprocess,
        "run",
        lambda *_, **__: subprocess.CompletedProcess([], 1, "", "error: no module named CSXCAD\n"),
    )
    with pytest.raises(
        MachineError, match="does not start .*no module named CSXCAD.*SIMHARNESS_SOLVER_PYTHON"
    ):
        machine()


@pytest.mark.parametrize(
    ("cache", "places"),
    [
        ("/c", ["/c/simharness/machine.json"]),
        ("", ["/h/.cache/simharness/machine.json"]),
        ("relative", ["/h/.cache/simharness/machine.json", "None"]),
    ],
)
def test_place_of_the_profile(monkeypatch, cache, places):
    """XDG Base Directory Specification: empty counts as unset, relative paths are invalid and to be
    ignored.
    """
    monkeypatch.delenv("SIMHARNESS_PROFILE")
    monkeypatch.setenv("XDG_CACHE_HOME", cache)
    monkeypatch.setenv("HOME", "/h")
    assert str(profile_path()) in places


def test_processor_is_one_line():
    assert "\n" not in processor()


# --- the forecast -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("steps", "most", "stepping"),
    [
        (1000, 5000, 10.0),  # 1000 steps of 0.01 s
        (100, 5000, CHECK_SECONDS),  # settled after 1 s, which nobody sees before the first look
        (100, 200, 2.0),  # all its steps end before the first look
    ],
)
def test_forecast(steps, most, stepping):
    """Times are sums written out by hand: start, a second for the operator, the steps."""
    on = Machine("a solver", 2, plain=Speed(1e8, 1e-6), layered=Speed(5e7, 2e-6))
    assert on.seconds(1_000_000, False, steps, most) == pytest.approx(START_SECONDS + 1 + stepping, rel=1e-12)


def test_forecast_with_layers():
    on = Machine("a solver", 2, plain=Speed(1e8, 1e-6), layered=Speed(5e7, 2e-6))
    assert on.seconds(1_000_000, True, 1000, 5000) == pytest.approx(START_SECONDS + 2 + 20, rel=1e-12)


# --- the measurement ----------------------------------------------------------------------------


def test_thread_counts():
    for cores in range(1, 300):
        counts = thread_counts(cores)
        assert (
            counts[0] == 1
            and counts[-1] == cores
            and len(counts) <= 4
            and list(counts) == sorted(set(counts))
        )


def test_the_fastest_number_of_threads_is_measured_once(installed, sprints):
    notes = Notes()
    found = measured_machine(machine(), notes)
    assert sprints == [(False, 1), (False, 2), (True, 2)]
    assert found.threads == 2 and found.plain == Speed(1.4e8, 2e-6) and found.layered == Speed(6e7, 2e-6)
    assert found.measured and notes.said == ["measuring this machine once, with 1 or 2 threads: about 14 s"]
    assert measured_machine(machine(), notes) == found and len(sprints) == 3 and len(notes.said) == 1


def test_a_busy_machine_is_not_measured(installed, sprints, monkeypatch):
    notes = Notes()
    monkeypatch.setattr(speed_module.os, "getloadavg", lambda: (100.0 * os.cpu_count(), 0.0, 0.0))
    assert measured_machine(machine(), notes).measured == "" and not sprints
    assert len(notes.said) == 1 and "busy" in notes.said[0]


def test_nothing_is_measured_that_cannot_be_remembered(installed, sprints, monkeypatch):
    known = machine()
    monkeypatch.setenv("SIMHARNESS_PROFILE", "")
    assert measured_machine(known, Notes()) == known and not sprints


def test_a_measurement_that_fails_stops_nobody(installed, sprints, monkeypatch):
    def fail(*_):
        raise SolverError("a short run failed")

    notes = Notes()
    monkeypatch.setattr(speed_module, "run_speed", fail)
    assert measured_machine(machine(), notes).measured == "" == machine().measured
    assert "could not be measured" in notes.said[-1] and "a short run failed" in notes.said[-1]


@pytest.fixture(scope="module")
def plain():
    return short_request(layered=False)


def test_the_measured_run_is_like_a_short_antenna(plain):
    """Large enough not to live in a processor's cache (about 100 bytes a cell), small enough for seconds."""
    assert 2e5 < plain.grid.cells < 6e5 and plain.steps == STEPS
    assert not any(plain.grid.absorber) and short_request(layered=True).grid.absorber == (8,) * 6


def child(monkeypatch, *lines, status="exited", code=0):
    def supervise(argv, cwd, transcript_path, *, on_line, timeout_s):
        for line in lines:
            on_line(line)
        return ProcessOutcome(status, code, None, 1.0, lines)

    monkeypatch.setattr(speed_module, "supervise", supervise)


RUNNING, END = (
    "Running FDTD engine... this may take a while",
    "Time for 300 iterations with 340515 cells : 1.5 sec",
)


def test_speed_of_a_run_is_that_of_its_transcript(monkeypatch, plain):
    child(monkeypatch, "openEMS", RUNNING, END)
    found = run_speed(plain, 1)
    assert (
        found.cells_per_second == pytest.approx(200 * plain.grid.cells, rel=1e-12)
        and 0 <= found.build_time < 1e-5
    )


@pytest.mark.parametrize(
    ("lines", "end", "error"),
    [
        ((RUNNING, END), {"status": "cancelled", "code": -15}, CancelledError),
        ((RUNNING, END), {"code": 1}, SolverError),
        ((RUNNING, END), {"status": "timeout", "code": -9}, SolverError),
        ((RUNNING,), {}, SolverError),
        ((END,), {}, SolverError),
        ((), {}, SolverError),
    ],
    ids=["interrupted", "crashed", "too long", "no end", "no beginning", "silent"],
)
def test_a_run_without_a_speed(monkeypatch, plain, lines, end, error):
    child(monkeypatch, *lines, **end)
    with pytest.raises(error):
        run_speed(plain, 1)


# --- the command --------------------------------------------------------------------------------


def test_a_plan_measures_nothing_and_says_that_it_guesses(installed, sprints, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(cli, ["solve", RECORD, "--quality", "draft", "--plan"])
    assert told.exit_code == 0 and not sprints
    assert (
        "openEMS 0.0.35, 2 threads at 100 million cells a second (a guess, measured when first solving)"
        in told.output
    )


def test_a_plan_shows_the_measured_speed(installed, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    machine(), remember(MEASURED)
    told = CliRunner().invoke(cli, ["solve", RECORD, "--quality", "draft", "--plan"])
    assert "openEMS 0.0.35, 1 thread at 200 million cells a second (measured 2026-01-31)" in told.output
    found = json.loads(
        CliRunner().invoke(cli, ["solve", RECORD, "--quality", "fine", "--plan", "--json"]).output
    )
    assert (found["threads"], found["cells_per_second"], found["measured"]) == (1, 6e7, "2026-01-31")


def test_solving_measures_first(installed, sprints, monkeypatch, tmp_path):
    seen = []

    def solve(what, *_, **__):
        seen.append(what.machine)
        raise SolverError("far enough")

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(run_module, "solve", solve)
    told = CliRunner().invoke(cli, ["solve", RECORD, "--quality", "draft"])
    assert isinstance(told.exception, SolverError) and len(sprints) == 3
    assert (
        seen == [remembered()] and seen[0].measured and "140 million cells a second (measured" in told.output
    )
