"""Sweeps whose workers are killed, interrupted or lost, with a stand-in for the solver (`sweep_stand_in.py`).

Waits are bounded by the end of a process or by minutes, never by how fast this machine is. What is expected
follows from what the stand-in was told.
"""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import threading
import time
from functools import partial
from pathlib import Path

import pytest
import sweep_stand_in

from simharness.errors import MachineError
from simharness.progress import Silent
from simharness.records import read_record
from simharness.runs.store import Store
from simharness.sweep import cluster, local
from simharness.sweep.cluster import cluster_events, mark_path, work
from simharness.sweep.execution import sweep, sweep_plan, tasks_of
from simharness.sweep.points import variable
from simharness.sweep.task import LOST, REFUSED, PointOutcome

HERE = Path(__file__).parent
PATIENCE_S = 240

RECORD = """
schema = 1
name = "one-slot"
note = "Invented: one slot in a short length of WR-90, for trying what goes wrong."
band = {low_ghz = 9.8, centre_ghz = 10.0, high_ghz = 10.2}
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


class Heard(Silent):
    """Keeps the notes."""

    def __init__(self):
        self.notes: list[str] = []

    def note(self, text: str) -> None:
        self.notes.append(text)


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "one-slot.toml"
    path.write_text(RECORD)
    return path


@pytest.fixture
def plan(record):
    return sweep_plan(read_record(record), [variable("feed.height_mm=5,6,7")], "draft", on=sweep_stand_in.ON)


@pytest.fixture
def workers(monkeypatch):
    """Workers of this machine with the stand-in."""
    monkeypatch.setattr(local, "PROGRAM", sweep_stand_in.program())
    return partial(local.local_events, workers=2)


def solvers(folder: Path, height: str) -> list[int]:
    """Process numbers of the solvers that were started for a height, the first first."""
    found = sorted(folder.glob(f"begun-{height}-*"), key=lambda path: path.stat().st_mtime_ns)
    return [int(path.name.rsplit("-", 1)[1]) for path in found]


def wait_for(condition, process: subprocess.Popen | None = None) -> None:
    """Until the condition holds; fails after minutes, or when a process ends before."""
    limit = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < limit, "waited for minutes"
        if process is not None and process.poll() is not None:
            pytest.fail(f"ended too early with {process.returncode}: {process.communicate()}")
        time.sleep(0.05)


def parent(pid: int) -> int:
    """Process number of the parent."""
    return int(Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[1])


def is_alive(pid: int) -> bool:
    """Whether a process runs (a zombie does not)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] not in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        return False


def hold(folder: Path, *heights: str) -> None:
    """Let the solvers of these heights run on until their file is gone."""
    for height in heights:
        (folder / f"hold-{height}").touch()


class KillsWorker(Heard):
    """Kills the worker on a height when its solver has begun; lets it go on after some times."""

    def __init__(self, folder: Path, height: str, times: int):
        super().__init__()
        self.folder, self.height, self.times, self.killed = folder, height, times, []
        self.solvers: list[int] = []

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        begun = solvers(self.folder, self.height)
        if len(begun) == len(self.killed) + 1 and len(self.killed) < self.times and is_alive(begun[-1]):
            self.solvers.append(begun[-1])
            self.killed.append(parent(begun[-1]))
            if len(self.killed) == self.times:
                (self.folder / f"hold-{self.height}").unlink()
            os.kill(self.killed[-1], signal.SIGKILL)


def test_a_killed_worker_costs_only_its_run_which_is_made_again(plan, workers, tmp_path):
    hold(tmp_path, "6")
    progress = KillsWorker(tmp_path, "6", times=1)
    found = sweep(plan, Store(tmp_path / "runs"), workers, 1, progress)
    assert len(progress.killed) == 1
    assert any("feed.height_mm = 6" in note and "SIGKILL" in note for note in progress.notes)
    assert [row.status for row in found.rows] == ["stored"] * 3
    assert [len(solvers(tmp_path, height)) for height in "567"] == [1, 2, 1]
    wait_for(lambda: not is_alive(progress.solvers[0]))  # its solver went with it
    # The parabola through three samples of a parabola is exact.
    assert [row.figures["resonance"].value for row in found.rows] == pytest.approx(
        [sweep_stand_in.best_match(height) for height in (5, 6, 7)], rel=1e-9
    )
    assert sorted(path.name for path in (tmp_path / "runs").iterdir()) == sorted(
        row.run for row in found.rows
    )


def test_a_worker_killed_twice_is_given_up_and_the_others_go_on(plan, workers, tmp_path):
    hold(tmp_path, "5")
    progress = KillsWorker(tmp_path, "5", times=2)
    found = sweep(plan, Store(tmp_path / "runs"), workers, 1, progress)
    assert [row.status for row in found.rows] == [LOST, "stored", "stored"]
    assert found.rows[0].reason == "its worker was killed 2 times (SIGKILL)" and found.rows[0].run == ""
    # The next call makes what is missing, and nothing else.
    again = sweep(plan, Store(tmp_path / "runs"), workers, 1)
    assert [row.status for row in again.rows] == ["stored"] * 3 and len(solvers(tmp_path, "6")) == 1


def test_a_failed_run_is_told_and_the_others_go_on(plan, workers, tmp_path):
    (tmp_path / "fail-7").touch()
    found = sweep(plan, Store(tmp_path / "runs"), workers, 1)
    assert [(row.status, row.reason) for row in found.rows] == [
        ("stored", ""),
        ("stored", ""),
        ("failed", "the stand-in was told to fail"),
    ]


def test_a_worker_that_crashes_is_told_by_its_last_words(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(local, "PROGRAM", (sys.executable, "-c", "raise RuntimeError('no such thing')"))
    found = sweep(plan, Store(tmp_path / "runs"), partial(local.local_events, workers=1), 1)
    assert {row.reason for row in found.rows} == {
        "its worker crashed with code 1: RuntimeError: no such thing"
    }


def test_a_folder_that_cannot_be_written_ends_the_sweep(plan, workers, tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(MachineError, match="a part of the path is a file, not a folder"):
        sweep(plan, Store(tmp_path / "file" / "runs"), workers, 1)


def command(record: Path, *words: str) -> subprocess.Popen[str]:
    """The command line in a process of its own, with the handling of Ctrl-C that a terminal gives."""
    argv = [
        sys.executable,
        HERE / "sweep_stand_in.py",
        "cli",
        "sweep",
        record,
        "--vary",
        "feed.height_mm=5,6,7",
        "--quality",
        "draft",
        "--runs",
        record.parent / "runs",
        *words,
    ]
    return subprocess.Popen(
        argv,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )


def test_ctrl_c_ends_workers_and_solvers_and_the_same_command_goes_on(record, tmp_path):
    hold(tmp_path, "6", "7")
    first = command(record, "--workers", "2")
    wait_for(
        lambda: (
            len(Store(tmp_path / "runs").runs()) == 1 and solvers(tmp_path, "6") and solvers(tmp_path, "7")
        ),
        first,
    )
    under_way = solvers(tmp_path, "6") + solvers(tmp_path, "7")
    under_way += [parent(pid) for pid in under_way]
    first.send_signal(signal.SIGINT)
    _, err = first.communicate(timeout=PATIENCE_S)
    assert first.returncode == 130
    assert err.splitlines()[-1].startswith("simharness: interrupted: 1 of 3 runs")
    assert "Traceback" not in err
    wait_for(lambda: not any(map(is_alive, under_way)))
    assert len(list((tmp_path / "runs").iterdir())) == 1  # no half run, no lock, no table
    for height in "67":
        (tmp_path / f"hold-{height}").unlink()
    second = command(record, "--json", "--workers", "2")
    out, err = second.communicate(timeout=PATIENCE_S)
    assert second.returncode == 0, err
    said = json.loads(out)
    assert [row["feed.height_mm"] for row in said["rows"]] == [5, 6, 7] and len(
        {row["run"] for row in said["rows"]}
    ) == 3
    assert [len(solvers(tmp_path, height)) for height in "567"] == [
        1,
        2,
        2,
    ]  # what was stored was not made again
    with open(said["files"][0], newline="") as file:
        table = list(csv.DictReader(file))
    assert [float(row["resonance_ghz"]) for row in table] == pytest.approx([9.98, 10.0, 10.02], abs=1e-6)


def test_a_killed_command_leaves_no_worker_behind(record, tmp_path):
    hold(tmp_path, "5", "6", "7")
    first = command(record)
    wait_for(lambda: solvers(tmp_path, "5"), first)
    under_way = [*solvers(tmp_path, "5"), parent(solvers(tmp_path, "5")[0])]
    first.kill()
    first.communicate()
    wait_for(lambda: not any(map(is_alive, under_way)))


def test_two_sweeps_at_once_make_each_run_once(record, tmp_path):
    hold(tmp_path, "5", "6", "7")
    both = [command(record, "--json") for _ in range(2)]
    wait_for(lambda: solvers(tmp_path, "5"))
    for height in "567":
        (tmp_path / f"hold-{height}").unlink()
    ended = [call.communicate(timeout=PATIENCE_S) for call in both]
    assert [call.returncode for call in both] == [0, 0], ended
    one, two = (json.loads(out)["rows"] for out, _ in ended)
    assert one == two and [len(solvers(tmp_path, height)) for height in "567"] == [1, 1, 1]


# --- Dask -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def scheduler(tmp_path_factory):
    """A real scheduler and two real workers of one thread each on this machine: its address, and the
    workers.
    """
    pytest.importorskip("distributed")
    folder = tmp_path_factory.mktemp("dask")
    note = folder / "scheduler.json"
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join([str(HERE), *filter(None, [os.environ.get("PYTHONPATH")])]),
        "DASK_TEMPORARY_DIRECTORY": str(folder),
    }

    def started(program: str, *words: str) -> subprocess.Popen:
        with open(folder / f"{program}.txt", "ab") as said:
            return subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.{program}", "--scheduler-file", str(note), *words],
                env=environment,
                stdout=said,
                stderr=said,
            )

    processes = [started("dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")]
    try:
        wait_for(lambda: note.exists() and note.stat().st_size, None)
        processes += [
            started("dask_worker", "--nthreads", "1", "--no-nanny", "--no-dashboard") for _ in range(2)
        ]
        yield json.loads(note.read_text())["address"], processes[1:]
    finally:
        for process in processes:
            process.kill()
            process.wait()


def kill_dask_worker(folder: Path, height: str, killed: list[int]) -> None:
    """Kill the Dask worker whose solver of a height has begun; the next one may go on."""
    wait_for(lambda: solvers(folder, height))
    killed.append(parent(solvers(folder, height)[0]))
    (folder / f"hold-{height}").unlink()
    os.kill(killed[0], signal.SIGKILL)


def test_interrupted_dask_runs_end_and_leave_nothing(record, scheduler, tmp_path):
    hold(tmp_path, "6", "7")
    call = command(record, "--cluster", scheduler[0])
    wait_for(
        lambda: (
            len(Store(tmp_path / "runs").runs()) == 1 and solvers(tmp_path, "6") and solvers(tmp_path, "7")
        ),
        call,
    )
    call.send_signal(signal.SIGINT)
    _, err = call.communicate(timeout=PATIENCE_S)
    assert call.returncode == 130
    assert err.splitlines()[-1].startswith("simharness: interrupted: 1 of 3 runs")
    wait_for(lambda: len(list((tmp_path / "runs").iterdir())) == 1)
    assert not any(is_alive(pid) for height in "67" for pid in solvers(tmp_path, height))


def test_no_scheduler_is_one_sentence(plan, tmp_path):
    pytest.importorskip("distributed")
    with pytest.raises(MachineError, match="no Dask scheduler answers at tcp://127.0.0.1:1 "):
        sweep(plan, Store(tmp_path / "runs"), partial(cluster_events, address="tcp://127.0.0.1:1"), 1)


def test_a_lost_dask_worker_costs_only_its_run(plan, scheduler, tmp_path):
    """Last of the tests with this scheduler: one of its two workers is gone afterwards."""
    address, processes = scheduler
    hold(tmp_path, "6")
    progress, killed = Heard(), []
    killer = threading.Thread(target=kill_dask_worker, args=(tmp_path, "6", killed))
    killer.start()
    found = sweep(
        plan,
        Store(tmp_path / "runs"),
        partial(cluster_events, address=address, what=sweep_stand_in.work),
        1,
        progress,
    )
    killer.join()
    assert killed[0] in [process.pid for process in processes]
    assert any("is lost: its run is made again by another" in said for said in progress.notes)
    assert [row.status for row in found.rows] == ["stored"] * 3
    assert [row.figures["resonance"].value for row in found.rows] == pytest.approx(
        [sweep_stand_in.best_match(height) for height in (5, 6, 7)], rel=1e-9
    )
    assert [len(solvers(tmp_path, height)) for height in "567"] == [1, 2, 1]


def test_a_dask_worker_that_cannot_see_the_folder_or_has_another_solver_refuses(plan, tmp_path, monkeypatch):
    task = tasks_of(plan, plan.runs, tmp_path, 1)[0]
    assert work(task, "no-such-mark") == PointOutcome(
        task.key,
        REFUSED,
        f"a Dask worker does not see the folder {tmp_path}: it must be shared, under the same path",
    )
    mark_path(tmp_path, "mark").touch()
    monkeypatch.setattr(cluster, "machine", lambda: sweep_stand_in.Machine("stand-in 2", 1))
    assert "stand-in 2, not stand-in 1" in work(task, "mark").reason
