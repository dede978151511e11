"""The Python interface: what it promises of its names, and that the command line says the same."""

from __future__ import annotations

import importlib
import inspect
import json
import re
import shutil
import subprocess
import sys
import threading
from pathlib import Path

import click
import numpy as np
import pytest
from stand_in_runs import ON, run_replaced

import simharness
from simharness.errors import CancelledError, InputError, StoreError
from simharness.library.designing import DesignOptions
from simharness.library.values import Cancellable
from simharness.runs import planning, watch
from simharness.solver import speed
from simharness.solver.process import ProcessOutcome

ROOT = Path(__file__).parents[2]
RECORD = simharness.read_record(ROOT / "docs" / "four-slot-9g6.toml")
RUNS = ROOT / "docs" / "runs"
FUNCTIONS = [name for name in simharness.__all__ if inspect.isfunction(getattr(simharness, name))]


@pytest.fixture(scope="module")
def run():
    return simharness.open_run("four-slot-9g6", runs=RUNS)


def test_every_name_is_there_and_listed():
    assert len(set(simharness.__all__)) == len(simharness.__all__)
    assert set(simharness.__all__) <= set(dir(simharness))
    assert all(callable(getattr(simharness, name)) for name in simharness.__all__)
    with pytest.raises(AttributeError, match="no attribute 'solver_of_all'"):
        simharness.solver_of_all  # noqa: B018


@pytest.mark.parametrize("name", FUNCTIONS)
def test_documentation_of_a_function_is_whole(name):
    """Every parameter named with its type, what comes back, and an example."""
    function = getattr(simharness, name)
    text = inspect.getdoc(function)
    sections = re.findall(r"^(\w[\w ]*)\n-+$", text, re.MULTILINE)
    assert {"Parameters", "Returns", "Examples"} <= set(sections)
    assert "import simharness" in text
    described = text.split("Parameters\n")[1].split("\nReturns\n")[0]
    named = {
        word.strip("*")
        for line in re.findall(r"^([\w*, ]+)(?: : .+)?$", described, re.MULTILINE)
        for word in line.split(", ")
    }
    assert set(inspect.signature(function).parameters) <= named
    assert all(p.annotation is not p.empty for p in inspect.signature(function).parameters.values())


def test_packages_of_the_same_name_do_not_hide_the_functions():
    """Whoever imports a module of `simharness.estimate` first still finds the function of that name."""
    code = (
        "import simharness.estimate.antenna, simharness.runs.store, simharness\n"
        "from simharness.sweep import table\n"
        f"print(*(type(getattr(simharness, name)).__name__ for name in {FUNCTIONS!r}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert set(done.stdout.split()) == {"function"}


def test_import_loads_nothing_heavy():
    code = "import sys, simharness; print(*sorted({name.split('.')[0] for name in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    heavy = {"numpy", "scipy", "matplotlib", "pydantic", "h5py", "skrf", "click"}
    assert set(done.stdout.split()) & heavy == set()


def test_options_of_a_design_are_those_of_the_command():
    command = importlib.import_module("simharness.cli.commands.design").command
    options = {p.name for p in command.params if isinstance(p, click.Option)}
    assert set(DesignOptions.__annotations__) == options - {"out", "replace", "as_json", "help"}


def test_a_design_is_that_of_the_command(call, tmp_path):
    made = simharness.design("mine", frequency=9.6, slots=2, guide="WR-90")
    assert (
        call("design", "--frequency", "9.6", "--slots", "2", "--guide", "WR-90", "--out", "mine.toml")[0] == 0
    )
    assert (tmp_path / "mine.toml").read_text() == made.text
    made.save(tmp_path / "again.toml")
    with pytest.raises(InputError, match="the file is there already"):
        made.save(tmp_path / "again.toml")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"frequenzy": 9.6}, "frequenzy = 9.6: unknown option (do you mean frequency?)"),
        ({"frequency": "9.6"}, "frequency = 9.6: must be a finite number"),
        ({"frequency": 9.6, "faces": "left"}, "faces = left: must be one of front, both"),
        ({"frequency": 9.6, "guide": 90}, "guide = 90: must be text, such as 'WR-90' or '22.86x10.16'"),
    ],
)
def test_options_that_a_design_does_not_take(options, said):
    with pytest.raises(InputError) as error:
        simharness.design(**options)
    assert str(error.value) == said


@pytest.mark.parametrize("command", ["check", "estimate"])
def test_json_of_a_record_is_that_of_the_command(command, call):
    out = json.loads(call(command, str(ROOT / "docs" / "four-slot-9g6.toml"), "--json")[1])
    assert getattr(simharness, command)(RECORD).as_dict() == out


def test_json_of_a_run_is_that_of_the_command(run, call, tmp_path):
    shutil.copytree(RUNS, tmp_path / "runs")
    shown = json.loads(call("show", "four-slot-9g6", "--json")[1])
    assert shown == json.loads(json.dumps(run.as_dict())) | {"pictures": [], "remarks": []}


def test_a_run_as_numbers(run):
    """The network holds the stored S11; gain is directivity less what is lost and reflected."""
    assert np.array_equal(run.s11.s[:, 0, 0], run.results["s11"])
    assert np.array_equal(run.s11.f, run.results["frequency"])
    far = run.far_field
    index = far.nearest(9.6e9)
    peak = 10 * np.log10(far.realized_gain[index].max())
    # the figure is found between the directions of the grid, 2 deg apart
    assert peak == pytest.approx(run.figures["realized_gain"].value, abs=0.02)
    assert set(vars(far)) == set(far.units)
    assert far.directivity.shape == tuple(len(getattr(far, axis)) for axis in far.axes)
    with pytest.raises(InputError, match="must be along or across"):
        far.cut("up", 9.6e9)
    with pytest.raises(InputError, match="the run holds far fields from"):
        far.cut("along", 5e9)


def test_results_show_themselves_in_a_few_words(run):
    assert repr(simharness.check(RECORD)) == "<Check of four-slot-9g6>"
    assert str(run.figures["realized_gain"]) == "12.7 ± 0.2 dBi"


def test_one_picture(run):
    figure = run.picture("match")
    assert figure.axes
    with pytest.raises(InputError, match="must be one of match, smith"):
        run.picture("matsch")


def test_pictures_go_where_they_are_wanted(run, tmp_path):
    assert (tmp_path / "overview.png") in run.write_pictures(tmp_path)


def test_a_plan_carries_record_and_quality(monkeypatch, tmp_path):
    asked = run_replaced(monkeypatch)
    job = simharness.plan(RECORD, "draft")
    assert (job.quality, job.record) == ("draft", RECORD)
    solved = simharness.solve(job, runs=tmp_path)
    assert asked == [job.key]
    assert (solved.quality, solved.record.name) == ("draft", RECORD.name)
    assert simharness.solve(job, runs=tmp_path).name == solved.name and len(asked) == 1
    assert [known.quality for known in simharness.runs(tmp_path)] == ["draft"]
    with pytest.raises(TypeError, match="solve takes a plan"):
        simharness.solve(RECORD)
    with pytest.raises(InputError, match="must be one of draft, normal, fine"):
        simharness.plan(RECORD, "rough")


@pytest.mark.parametrize("as_event", [True, False])
def test_a_running_solve_is_cancelled(monkeypatch, tmp_path, as_event):
    """The question reaches the supervisor of the solver; nothing half done is left."""
    event = threading.Event()
    cancel = event if as_event else event.is_set
    given = []

    def supervise(*_, cancel, **__):
        given.append(cancel)
        event.set()
        return ProcessOutcome("cancelled", -15, "SIGTERM", 1.0, ())

    monkeypatch.setattr(watch, "supervise", supervise)
    monkeypatch.setattr(planning, "machine", lambda: ON)
    monkeypatch.setattr(speed, "measured_machine", lambda on, progress: on)
    job = simharness.plan(RECORD, "draft")
    with pytest.raises(CancelledError):
        simharness.solve(job, runs=tmp_path, cancel=cancel)
    assert given == [cancel]
    assert simharness.runs(tmp_path) == []


def test_a_study_is_cancelled_when_it_tells_its_progress():
    event, told = threading.Event(), []

    class Told:
        def note(self, text):
            told.append(text)

        def advance(self, share, seconds_left, text):
            told.append(text)

        def done(self):
            told.append("done")

    progress = Cancellable(Told(), event)
    progress.note("begun")
    event.set()
    with pytest.raises(CancelledError):
        progress.advance(0.5, 1.0, "half")
    progress.done()
    assert told == ["begun", "done"]
    with pytest.raises(CancelledError):
        simharness.tolerance(RECORD, samples=100, cancel=lambda: True)


def test_a_changed_record_is_checked(tmp_path):
    assert simharness.changed(RECORD, {}) is RECORD
    assert simharness.changed(RECORD, {"slot.2.length_mm": 15.4}).slots[1].length_mm == 15.4
    with pytest.raises(InputError, match="unknown key"):
        simharness.changed(RECORD, {"feed.hight_mm": 6.0})


def test_what_was_measured_may_be_a_network(run):
    """Read by other hands, against another reference impedance: the same as the file."""
    import skrf

    network = skrf.Network(str(ROOT / "docs" / "bench-9g6.s1p"))
    network.renormalize(75)
    from simharness.library.comparing.measured import measured_one_port

    ours, theirs = measured_one_port(ROOT / "docs" / "bench-9g6.s1p"), measured_one_port(network)
    assert np.allclose(ours.s11, theirs.s11, rtol=0, atol=1e-9)  # rounding of the renormalisation


def test_a_run_that_is_not_there():
    with pytest.raises(StoreError, match="there is no run"):
        simharness.open_run("nothing-of-that-name", runs=RUNS)
