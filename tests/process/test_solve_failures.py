"""A run that goes wrong leaves nothing that looks finished, and says in one sentence what happened.

The real solver works on an empty guide of 16,000 cells (seconds) or on an invented one-slot antenna; ends
that the real solver cannot be brought to on demand are played by stand-in children. Waits are bounded by the
end of a process or by minutes, never by how fast this machine is.
"""

from __future__ import annotations

import importlib.util
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from simharness.cli.main import cli
from simharness.errors import (
    BusyError,
    CancelledError,
    MachineError,
    NotConvergedError,
    SolverError,
    StoreError,
)
from simharness.geometry.scene import Feature, ModePort, Scene, Spectrum
from simharness.mesh.settings import MeshSettings
from simharness.progress import Silent
from simharness.results import post
from simharness.results.file import read_results
from simharness.runs import watch
from simharness.runs.execution import solve
from simharness.runs.planning import plan
from simharness.runs.store import Store
from simharness.solver import process
from simharness.solver.interpreter import CHILD
from simharness.solver.machine import Machine
from simharness.solver.settings import SolverSettings

needs_solver = [
    pytest.mark.solver,
    pytest.mark.skipif(
        importlib.util.find_spec("openEMS") is None, reason="the field solver is not installed"
    ),
]
PATIENCE_S = 240

RECORD = """
schema = 1
name = "one-slot"
note = "Invented: one slot in a short length of WR-90, for trying what goes wrong."
band = {low_ghz = 9.6, centre_ghz = 10.0, high_ghz = 10.4}
mounting = {axis = "vertical"}
guide = {a_mm = 22.86, b_mm = 10.16, length_mm = 40.0, front_wall_mm = 1.27, other_walls_mm = 1.27}
slot = [{position_mm = 28.0, offset_mm = 4.0, length_mm = 14.4, width_mm = 1.6}]

[feed]
kind = "probe"
position_mm = 8.0
height_mm = 6.0
wire_diameter_mm = 1.27
coax_inner_mm = 1.27
coax_outer_mm = 4.1
"""


def guide(low: float = 8.2e9, high: float = 12.4e9) -> Scene:
    """Empty WR-90 guide, 90 mm long, between two matched ports; Hz."""
    a, b, half = 22.86e-3, 10.16e-3, 45e-3
    ports = (
        ModePort(a, b, 0.0, -b, +1, plane=-0.5 * half, reference=0.0, source=-0.9 * half),
        ModePort(a, b, 0.0, -b, -1, plane=+0.5 * half, reference=0.0),
    )
    marks = (
        Feature("guide width", 0, -a / 2, a / 2),
        Feature("guide height", 1, -b, 0.0),
        *(Feature("plane", 2, z, z) for z in (-0.9 * half, -0.5 * half, 0.5 * half)),
    )
    return Scene(
        "empty-guide",
        (),
        ports,
        marks,
        Spectrum((low + high) / 2, low, high),
        radiates=False,
        boundaries=("metal",) * 4 + ("open",) * 2,
        domain=(-a / 2, a / 2, -b, 0.0, -half, half),
    )


def guide_plan(on: Machine | None = None, *, scene: Scene | None = None, **settings):
    """Plan of the empty guide; 100 periods after the pulse unless told otherwise."""
    return plan(
        scene or guide(), SolverSettings(MeshSettings(per_wavelength=20), **{"longest": 100.0} | settings), on
    )


def begun(root: Path, longest: float) -> subprocess.Popen[str]:
    """A process of its own that solves the empty guide."""
    code = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        "from test_solve_failures import Store, guide_plan, solve\n"
        f"print(solve(guide_plan(longest={longest}), Store({str(root)!r})).path.name)\n"
    )
    return subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def default_interrupt() -> None:
    """In a child: the handling of Ctrl-C that a terminal gives, whatever was inherited."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


def wait_for(condition, of: subprocess.Popen) -> None:
    """Until the condition holds; fails when the process ends before, or after minutes."""
    limit = time.monotonic() + PATIENCE_S
    while not condition():
        if of.poll() is not None:
            pytest.fail(f"ended too early with {of.returncode}: {of.stderr.read()}")
        assert time.monotonic() < limit, "waited for minutes"
        time.sleep(0.05)


def steps(root: Path) -> bool:
    """Whether a solver below this store has begun to step."""
    return any(
        "Running FDTD engine" in p.read_text(errors="replace") for p in root.glob(".work-*/transcript.txt")
    )


def children(pid: int) -> list[int]:
    return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def is_alive(pid: int) -> bool:
    """Whether a process runs (a zombie does not)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] not in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        return False


def all_gone(pids: list[int]) -> bool:
    limit = time.monotonic() + 30
    while any(map(is_alive, pids)) and time.monotonic() < limit:
        time.sleep(0.05)
    return not any(map(is_alive, pids))


def entries(root: Path) -> list[str]:
    return sorted(path.name for path in root.iterdir())


class _Tests:
    """Marks shared by the tests with the real solver."""

    pytestmark = needs_solver


class TestProcesses(_Tests):
    def test_kill_9_leaves_nothing_finished_and_the_next_call_clears_up_and_completes(self, tmp_path):
        what = guide_plan(longest=300.0)
        first = begun(tmp_path, 300.0)
        try:
            wait_for(lambda: steps(tmp_path), first)
            solver = children(first.pid)
            assert len(solver) == 1 and is_alive(solver[0])
        finally:
            first.kill()
            first.communicate()
        assert all_gone(solver)
        store = Store(tmp_path)
        assert store.runs() == [] and store.find(what.key) is None
        listed = CliRunner().invoke(cli, ["runs", "--runs", str(tmp_path)]).output
        assert "left over" in listed and "finished" not in listed
        assert f".work-{what.key}" in entries(tmp_path)
        left_over = tmp_path / f".work-{what.key}" / "engine" / "ABORT"
        left_over.touch()  # would end the next run at once, were the folder used again
        run = solve(what, store)
        assert entries(tmp_path) == [run.path.name] and store.find(what.key).path == run.path
        assert abs(run.results()["s21"]).min() > 0.99  # an empty lossless guide; its absorber reflects 1e-3

    def test_stale_folders_of_other_runs_are_cleared_too(self, tmp_path):
        stale = tmp_path / ".work-0123456789abcdef"
        stale.mkdir()
        (stale / "raw.h5").write_bytes(b"half")
        run = solve(guide_plan(), Store(tmp_path))
        assert entries(tmp_path) == [run.path.name]

    def test_the_same_run_twice_at_once(self, tmp_path):
        what = guide_plan()
        first = begun(tmp_path, 100.0)
        wait_for(lambda: (tmp_path / f".work-{what.key}").exists(), first)
        with pytest.raises(
            BusyError, match=rf"run {what.key} is being worked on by process {first.pid} since "
        ) as found:
            solve(what, Store(tmp_path))
        assert found.value.exit_code == 8
        out, err = first.communicate(timeout=PATIENCE_S)
        assert first.returncode == 0, err
        assert entries(tmp_path) == [out.strip()] and Store(tmp_path).find(what.key) is not None

    def test_ctrl_c_on_the_command_line(self, tmp_path):
        record, root = tmp_path / "one-slot.toml", tmp_path / "runs"
        record.write_text(RECORD)
        call = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "simharness.cli.main",
                "solve",
                str(record),
                "--quality",
                "draft",
                "--runs",
                str(root),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            preexec_fn=default_interrupt,
        )
        wait_for(lambda: steps(root), call)
        solver = children(call.pid)
        call.send_signal(signal.SIGINT)
        _, err = call.communicate(timeout=PATIENCE_S)
        assert call.returncode == 130
        assert err.splitlines()[-1] == "simharness: interrupted: nothing was kept" and "Traceback" not in err
        assert len(solver) == 1 and all_gone(solver)
        assert entries(root) == []


@pytest.fixture(scope="module")
def stored(tmp_path_factory):
    """A store with one finished run of the empty guide, and that run."""
    store = Store(tmp_path_factory.mktemp("runs"))
    return store, solve(guide_plan(), store)


class TestStored(_Tests):
    def test_the_same_request_returns_the_stored_run_without_a_child(self, stored, monkeypatch):
        store, run = stored

        def refuse(*_, **__):
            pytest.fail("the solver was started")

        monkeypatch.setattr(watch, "supervise", refuse)
        # Threads and label are not part of the request.
        what = guide_plan()
        what = replace(what, machine=replace(what.machine, threads=64))
        again = solve(what, store, label="another-label")
        assert again.path == run.path and again.manifest == run.manifest

    def test_another_solver_version_is_another_run(self, stored):
        _store, run = stored
        assert guide_plan(Machine("openEMS 9.9.9", 2)).key != run.key

    def test_a_damaged_run_is_neither_used_nor_made_again_silently(self, stored):
        store, run = stored
        path = run.path / "results.h5"
        good = path.read_bytes()
        try:
            path.write_bytes(good[:-1])
            with pytest.raises(
                StoreError, match=r"is damaged, file results\.h5: .*simharness runs --remove "
            ):
                solve(guide_plan(), store)
        finally:
            path.write_bytes(good)

    def test_a_run_without_a_record_cannot_be_judged(self, stored):
        store, run = stored
        found = CliRunner().invoke(cli, ["show", run.path.name, "--runs", str(store.root)])
        assert isinstance(found.exception, StoreError) and "holds no design record" in str(found.exception)

    def test_again_replaces_the_run(self, stored):
        store, run = stored
        before = (run.path / "transcript.txt").stat().st_ino
        new = solve(guide_plan(), store, again=True)
        assert entries(store.root) == [run.path.name]
        assert (new.path / "transcript.txt").stat().st_ino != before


class AbortAtOnce(Silent):
    """Somebody who stops the solver by its own file as soon as it steps."""

    def __init__(self, root: Path):
        self.root = root

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        for engine in self.root.glob(".work-*/engine"):
            (engine / "ABORT").touch()


class TestEnds(_Tests):
    def test_an_abort_from_outside_is_no_result(self, tmp_path):
        # A pulse of 140 ns, 65,000 steps: whenever the solver looks for the file, the pulse is not over.
        what = guide_plan(scene=guide(9.99e9, 10.01e9), bandwidth=0.002, longest=4000.0)
        store = Store(tmp_path)
        with pytest.raises(SolverError, match=r"^the run was aborted from outside after \d+ of \d+ steps"):
            solve(what, store, progress=AbortAtOnce(tmp_path))
        only_failed(store, what, "aborted from outside")

    def test_an_abort_from_outside_after_the_spectrum_has_settled_is_a_result(self, tmp_path):
        class AbortLate(AbortAtOnce):
            def advance(self, share: float, seconds_left: float, text: str) -> None:
                count, _, rest = text.removeprefix("at most; ").partition(" periods, ")
                if (
                    rest and int(count) > 130
                ):  # 18 of them the pulse; 100 after it are enough (see `guide_plan`)
                    super().advance(share, seconds_left, text)

        what = guide_plan(longest=3000.0)
        run = solve(what, Store(tmp_path), progress=AbortLate(tmp_path))
        assert run.results().attributes["steps"] < what.request.steps
        assert abs(run.results()["s21"]).min() > 0.99  # an empty lossless guide; its absorber reflects 1e-3

    def test_too_short_a_run_is_not_converged(self, tmp_path):
        # The low edge lies near cutoff, where waves are slow: 40 periods leave 0.004 of them (seen), 100 are
        # enough.
        what = guide_plan(longest=40.0)
        store = Store(tmp_path)
        with pytest.raises(NotConvergedError, match="the run did not converge: S11 still moves by") as found:
            solve(what, store)
        assert (
            found.value.exit_code == 6
            and found.value.residual > found.value.limit == what.request.settings.settled
        )
        only_failed(store, what, "did not converge")

    @pytest.mark.parametrize("size", ["24k", "200k"])
    def test_a_full_disk(self, tmp_path, size):
        mounted = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(tmp_path)],
            capture_output=True,
            text=True,
        )
        if mounted.returncode:
            pytest.skip("only root may mount a small disk")
        try:
            what = guide_plan()
            with pytest.raises(MachineError, match="disk is full") as found:
                solve(what, Store(tmp_path))
            assert found.value.exit_code == 4 and "\n" not in str(found.value)
            assert Store(tmp_path).runs() == [] and Store(tmp_path).find(what.key) is None
        finally:
            subprocess.run(["umount", str(tmp_path)], check=True)


def only_failed(store: Store, what, reason: str) -> None:
    """The store holds one failed run for this plan, to be looked at and never found."""
    summary = store.runs()
    assert [(s.status, s.key) for s in summary] == [("failed", what.key)]
    assert entries(store.root) == [f"failed-{what.request.scene.name}-{what.key}-1"]
    assert store.find(what.key) is None
    run = store.open(summary[0].name)
    assert reason in run.manifest.reason and "\n" not in run.manifest.reason
    assert set(run.manifest.files) <= {"transcript.txt", "record.json"}
    shown = CliRunner().invoke(cli, ["show", summary[0].name, "--runs", str(store.root)])
    assert isinstance(shown.exception, StoreError) and reason in str(shown.exception)


# --- children that the real solver cannot be asked to play ------------------------------------

STEPPING = "print('Running FDTD engine... this may take a while', flush=True)\n"
ENERGY = (
    "print('[@        4s] Timestep:         6068 || Speed:   45.2 MC/s (6.592e-04 s/TS) || Energy: ~{} (-"
    " 0.00dB)', flush=True)\n"
)
CLOSING = "print('Time for 9000 iterations with 29791.00 cells : 5.92 sec', flush=True)\n"
RAW = """
import sys, h5py, numpy as np
with h5py.File(sys.argv[1] + '/raw.h5', 'w') as file:
    t = np.linspace(0, {end}, 200)
    for name in ('voltage', 'current_a', 'current_b'):
        for port in (1, 2):
            file[f'series/port{{port}}_{{name}}'] = np.array([t, np.full(200, {value})])
"""

STAND_INS = {
    "exits with a code": ("print('no luck')\nimport sys\nsys.exit(3)\n", r"crashed \(with code 3\): no luck"),
    "says nothing": ("", r"crashed \(with code 0\): no output"),
    "crashes": (
        (
            "import os, resource, signal\n"
            "resource.setrlimit(resource.RLIMIT_CORE, (0, 0))\n"
            "os.kill(os.getpid(), signal.SIGSEGV)\n"
        ),
        r"crashed \(by SIGSEGV\): no output",
    ),
    "leaves no record": (STEPPING + CLOSING, r"crashed \(with code 0\): Time for 9000"),
    "has no closing line": (STEPPING + RAW.format(end=1, value=0), "lacks the closing line"),
    "prints nan": (
        STEPPING + ENERGY.format("  -nan") + "import time\ntime.sleep(600)\n",
        "the fields blew up at step 6068",
    ),
    "records nan": (
        STEPPING + RAW.format(end=1, value="np.nan") + CLOSING,
        "the fields blew up: the record holds values",
    ),
    "records infinity": (
        STEPPING + RAW.format(end=1, value="np.inf") + CLOSING,
        "the fields blew up: the record holds values",
    ),
    "record cut off": (
        STEPPING + RAW.format(end=1e-12, value=0) + CLOSING,
        "the solver's record ends at 0.001 ns of",
    ),
    "record is no HDF5": (
        "import sys\nopen(sys.argv[1] + '/raw.h5', 'wb').write(b'nonsense')\n" + CLOSING,
        "left a record that cannot be read",
    ),
    "unknown warning": (
        "print('Warning: the moon is full')\n" + RAW.format(end=1, value=0) + CLOSING,
        "unforeseen: Warning: the moon is full",
    ),
    "refuses its input": (
        "raise RuntimeError('no such thing')\n",
        r"crashed \(with code 1\): RuntimeError: no such thing",
    ),
}


@pytest.fixture
def stand_in(tmp_path, monkeypatch):
    """A function that puts code in the place of the solver's child."""

    def put(code: str) -> None:
        script = tmp_path / "stand_in.py"
        script.write_text(code)

        def other(argv, *rest, **options):
            assert argv[1] == CHILD
            return process.supervise([sys.executable, script, *argv[2:]], *rest, **options)

        monkeypatch.setattr(watch, "supervise", other)
        # Nobody aborts these runs: their 9000 steps count as all that was asked for.
        monkeypatch.setattr(watch, "spectrum_change", lambda *_: 0.0)

    return put


@pytest.mark.parametrize("case", STAND_INS)
def test_each_bad_end_has_its_own_sentence_and_is_kept_as_failed(case, stand_in, tmp_path):
    code, sentence = STAND_INS[case]
    stand_in(code)
    store, what = Store(tmp_path / "runs"), guide_plan(Machine("stand-in 1", 1))
    begin = time.monotonic()
    with pytest.raises(SolverError, match=sentence) as found:
        solve(what, store)
    assert time.monotonic() - begin < 120  # none waits for a child that sleeps 600 s
    assert found.value.exit_code == 5 and "\n" not in str(found.value)
    only_failed(store, what, str(found.value))


def test_a_hanging_child_is_ended_by_the_allowance(stand_in, tmp_path):
    stand_in(STEPPING + "import time\ntime.sleep(600)\n")
    store, what = Store(tmp_path / "runs"), guide_plan(Machine("stand-in 1", 1))
    with pytest.raises(SolverError, match="the solver ran longer than its 1 s and was stopped"):
        solve(what, store, timeout_s=1.0)
    only_failed(store, what, "ran longer than its 1 s")


@pytest.mark.parametrize(
    ("missing", "uneven", "good"),
    [(0.05, 0.005, True), (0.2, 0.005, False), (0.05, 0.02, True), (0.05, 0.05, False)],
)
def test_fields_that_had_not_even_nearly_settled_are_no_result_though_the_ports_had(
    stand_in, tmp_path, monkeypatch, missing, uneven, good
):
    stand_in(STEPPING + RAW.format(end=1, value=0) + CLOSING)
    arrays = {"frequency": np.array([1e10]), "s11": np.array([0.1 + 0j])}
    monkeypatch.setattr(post, "results", lambda *_: (arrays, post.Settling("record", 1e-6, missing, uneven)))
    store, what = Store(tmp_path / "runs"), guide_plan(Machine("stand-in 1", 1))
    if good:
        assert solve(what, store).manifest.status == "finished"
        return
    with pytest.raises(
        NotConvergedError,
        match=rf"the field records still lack {missing:g} of .* {uneven:g} of them unevenly",
    ):
        solve(what, store)
    only_failed(store, what, "did not converge")


@pytest.mark.parametrize(("change", "good"), [(1e-3, True), (1.01e-3, False), (float("inf"), False)])
def test_an_early_end_that_nobody_asked_for_counts_by_what_had_settled(
    stand_in, tmp_path, monkeypatch, change, good
):
    """The guide may stop at 1e-3; its child ends after 9000 steps, before all."""
    stand_in(STEPPING + RAW.format(end=1, value=0) + CLOSING)
    arrays = {"frequency": np.array([1e10]), "s11": np.array([0.1 + 0j])}
    monkeypatch.setattr(post, "results", lambda *_: (arrays, post.Settling("record", 1e-6, 0.0, 0.0)))
    monkeypatch.setattr(watch, "spectrum_change", lambda *_: change)
    store, what = Store(tmp_path / "runs"), guide_plan(Machine("stand-in 1", 1), longest=300.0)
    assert what.request.steps > 9000 and what.request.settings.settled == 1e-3
    if good:
        assert solve(what, store).manifest.status == "finished"
        return
    with pytest.raises(SolverError, match=rf"aborted from outside after 9000 of {what.request.steps} steps"):
        solve(what, store)
    only_failed(store, what, "aborted from outside")


def test_a_run_that_was_stopped_too_soon_is_made_again_for_longer(stand_in, tmp_path, monkeypatch):
    """The looks say settled, the whole record says no: once, then yes."""
    stand_in(STEPPING + RAW.format(end=1, value=0) + CLOSING)
    verdicts = iter([post.Settling("unsettled", 0.006, 0.0, 0.0), post.Settling("record", 1e-6, 0.0, 0.0)])
    arrays = {"frequency": np.array([1e10]), "s11": np.array([0.1 + 0j])}
    monkeypatch.setattr(post, "results", lambda *_: (arrays, next(verdicts)))
    monkeypatch.setattr(watch, "spectrum_change", lambda *_: 1e-4)
    allowed = []
    watched = watch.Watch
    monkeypatch.setattr(watch, "Watch", lambda *all: allowed.append(all[3]) or watched(*all))
    run = solve(guide_plan(Machine("stand-in 1", 1), longest=1000.0), Store(tmp_path / "runs"))
    assert run.manifest.status == "finished"
    assert allowed == [0, 18000]


@pytest.mark.parametrize(("longest", "again"), [(20.0, False), (1000.0, True)])
def test_a_run_that_had_nearly_settled_is_used_when_it_made_all_its_steps(
    stand_in, tmp_path, monkeypatch, longest, again
):
    """And made again for longer when it had not. Its provenance says what is open: the error bars are made of
    that.
    """
    stand_in(STEPPING + RAW.format(end=1, value=0) + CLOSING)
    verdicts = iter([post.Settling("nearly", 0.006, 0.0, 0.0), post.Settling("record", 1e-6, 0.0, 0.0)])
    arrays = {"frequency": np.array([1e10]), "s11": np.array([0.1 + 0j])}
    monkeypatch.setattr(post, "results", lambda *_: (arrays, next(verdicts)))
    what = guide_plan(Machine("stand-in 1", 1), longest=longest)
    assert (what.request.steps > 9000) == again
    about = read_results(solve(what, Store(tmp_path / "runs")).path / "results.h5").attributes
    assert (about["settling"], about["change_s"]) == (("record", 1e-6) if again else ("nearly", 0.006))


def test_a_run_that_never_settles_ends(stand_in, tmp_path, monkeypatch):
    stand_in(STEPPING + RAW.format(end=1, value=0) + CLOSING)
    monkeypatch.setattr(post, "results", lambda *_: ({}, post.Settling("unsettled", 0.006, 0.0, 0.0)))
    monkeypatch.setattr(watch, "spectrum_change", lambda *_: 1e-4)
    store, what = Store(tmp_path / "runs"), guide_plan(Machine("stand-in 1", 1), longest=1000.0)
    with pytest.raises(NotConvergedError, match="S11 still moves by 0.006 after 9000 steps"):
        solve(what, store)
    only_failed(store, what, "did not converge")


def test_failures_are_numbered_and_a_later_one_does_not_hide_the_first(stand_in, tmp_path):
    stand_in("import sys\nsys.exit(3)\n")
    store, what = Store(tmp_path / "runs"), guide_plan(Machine("stand-in 1", 1))
    for _ in range(2):
        with pytest.raises(SolverError):
            solve(what, store)
    assert entries(store.root) == [f"failed-empty-guide-{what.key}-{n}" for n in (1, 2)]


def test_a_child_that_tells_of_a_full_disk_is_a_matter_of_the_machine(stand_in, tmp_path):
    stand_in("raise OSError(28, 'No space left on device')\n")
    store, what = Store(tmp_path / "runs"), guide_plan(Machine("stand-in 1", 1))
    with pytest.raises(MachineError, match="the disk is full"):
        solve(what, store)
    assert entries(store.root) == []


def test_what_a_child_says_does_not_matter_once_the_user_has_interrupted(stand_in, tmp_path):
    class Interrupt(Silent):
        def advance(self, share: float, seconds_left: float, text: str) -> None:
            if text == "the solver begins to step":
                os.kill(os.getpid(), signal.SIGINT)

    stand_in(STEPPING + "import time\ntime.sleep(600)\n")
    store, what = Store(tmp_path / "runs"), guide_plan(Machine("stand-in 1", 1))
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with pytest.raises(CancelledError, match="nothing was kept"):
            solve(what, store, progress=Interrupt())
    finally:
        signal.signal(signal.SIGINT, before)
    assert entries(store.root) == []
