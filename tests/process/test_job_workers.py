"""The queue with workers of its own, whose works are stand-ins (`jobs_stand_in.py`): order, cancel, kill.

Waits are bounded by the end of a process or by minutes, never by how fast this machine is.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import jobs_stand_in
import numpy as np
import pytest

from simharness.jobs import entry
from simharness.jobs.folder import WORKER_LOCK, jobs_root
from simharness.jobs.queue import Queue
from simharness.runs.store import Store

HERE = Path(__file__).parent
PATIENCE_S = 120


@pytest.fixture
def queue(tmp_path, monkeypatch):
    """A queue whose worker is a stand-in; no process of it is left."""
    monkeypatch.setattr(entry, "PROGRAM", jobs_stand_in.program())
    found = Queue(tmp_path / "runs")
    yield found
    for hold in tmp_path.glob("hold-*"):
        hold.unlink()
    until(lambda: not found.alive)


def until(true: Callable[[], object]) -> None:
    """Wait until something is the case."""
    patience = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < patience, "waited in vain"
        time.sleep(0.02)


def added(queue: Queue, name: str, hold: bool = False) -> int:
    """Number of a new job."""
    if hold:
        (queue.runs.parent / f"hold-{name}").touch()
    return queue.add("solve", jobs_stand_in.record_text(name), f"{name}.toml", {"quality": "draft"}).number


def over(queue: Queue, number: int) -> None:
    until(lambda: queue.job(number).over)


def worker_pid(queue: Queue) -> int:
    """The process that holds the lock of the queue."""
    return json.loads((jobs_root(queue.runs) / WORKER_LOCK).read_text())["pid"]


def test_jobs_are_done_in_order_and_the_worker_ends(queue):
    numbers = [added(queue, name) for name in ("one", "two", "three")]
    for number in numbers:
        over(queue, number)
    assert (queue.runs.parent / "done.txt").read_text().split() == ["one", "two", "three"]
    jobs = queue.jobs()
    assert [(job.number, job.state, job.exit_code, job.share) for job in jobs] == [
        (number, "finished", 0, 1.0) for number in numbers
    ]
    assert [job.text for job in jobs] == ["one is done", "two is done", "three is done"]
    assert all(before.ended <= after.started for before, after in pairwise(jobs))
    assert jobs[0].notes == ("one begins",) and jobs[0].record == "one" and jobs[0].source == "one.toml"
    result = queue.result(numbers[0])
    assert result["runs"] == ["one-run"] and result["data"]["tool"]["quality"] == "draft"
    until(lambda: not queue.alive)


def test_what_is_told_of_a_job_under_way(queue):
    number = added(queue, "one", hold=True)
    until(lambda: queue.job(number).share == 0.5)
    job = queue.job(number)
    assert (job.state, job.seconds_left, job.text, job.looks) == ("running", 12.0, "holding", 1)
    seen = queue.interim(number)
    np.testing.assert_array_equal(seen.frequency, jobs_stand_in.FREQUENCY)
    np.testing.assert_allclose(seen.s11, jobs_stand_in.S11, rtol=0, atol=1e-6)  # six decimals are kept
    assert seen.moving == 0.25
    assert queue.result(number) is None


def test_cancel_a_waiting_job_and_one_under_way(queue):
    first, second, third = added(queue, "one", hold=True), added(queue, "two"), added(queue, "three")
    until(lambda: queue.job(first).state == "running")
    assert queue.cancel(second).state == "cancelled"
    assert queue.cancel(first).cancelling
    over(queue, third)
    assert [queue.job(number).state for number in (first, second, third)] == [
        "cancelled",
        "cancelled",
        "finished",
    ]
    assert (queue.runs.parent / "done.txt").read_text().split() == ["three"]
    assert queue.job(first).exit_code == queue.job(second).exit_code == 130


def test_failures_are_kept_and_the_next_goes_on(queue):
    for kind in ("fail-one", "break-two"):
        queue.runs.parent.joinpath(kind).touch()
    numbers = [added(queue, name) for name in ("one", "two", "three")]
    over(queue, numbers[-1])
    failed, broken, done = queue.jobs()
    assert (failed.state, failed.text, failed.exit_code) == ("failed", "the stand-in was told to fail", 5)
    assert (broken.state, broken.exit_code) == ("failed", 1)
    assert "RuntimeError: the stand-in was told to break" in broken.text and "\n" not in broken.text
    assert "Traceback" in (jobs_root(queue.runs) / "worker.log").read_text()
    assert done.state == "finished"
    queue.runs.parent.joinpath("fail-one").unlink()
    again = queue.again(failed.number)
    over(queue, again.number)
    assert queue.job(again.number).state == "finished" and again.number == 4


def test_a_killed_worker_leaves_its_job_lost_and_the_next_one_goes_on(queue):
    first = added(queue, "one", hold=True)
    until(lambda: queue.job(first).share == 0.5)
    second = added(queue, "two")  # no sooner, or a second worker is started and takes over
    os.kill(worker_pid(queue), signal.SIGKILL)
    until(lambda: not queue.alive)
    lost, waiting = queue.jobs()
    assert lost.state == "lost" and lost.exit_code == 1 and "start it again" in lost.text
    assert waiting.state == "waiting" and "nobody is at work" in waiting.text
    assert queue.resume()
    over(queue, second)
    assert [job.state for job in queue.jobs()] == ["lost", "finished"]
    # Written down by now, and not only concluded from a lock that is free.
    assert json.loads((lost.folder / "status.json").read_text())["state"] == "lost"


def test_a_worker_told_to_terminate_ends_its_work_in_order(queue):
    first = added(queue, "one", hold=True)
    until(lambda: queue.job(first).share == 0.5)
    second = added(queue, "two")  # no sooner, or a second worker is started and takes over
    os.kill(worker_pid(queue), signal.SIGTERM)
    until(lambda: not queue.alive)
    assert [job.state for job in queue.jobs()] == ["lost", "waiting"]
    assert not (queue.runs.parent / "done.txt").exists()
    queue.cancel(second)


def test_the_work_outlives_who_asked_for_it(queue):
    (queue.runs.parent / "hold-one").touch()
    words = [sys.executable, HERE / "jobs_stand_in.py", "add", queue.runs, "one"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, start_new_session=True) as asking:
        number = int(asking.stdout.readline())
        until(lambda: queue.job(number).state == "running")
        os.killpg(asking.pid, signal.SIGKILL)
        asking.wait(PATIENCE_S)
    assert queue.job(number).state == "running"
    (queue.runs.parent / "hold-one").unlink()
    over(queue, number)
    assert queue.job(number).state == "finished"


def test_many_who_add_at_once_share_one_queue(queue):
    names = [f"job-{n}" for n in range(6)]
    asking = [
        subprocess.Popen(
            [sys.executable, HERE / "jobs_stand_in.py", "add", queue.runs, name],
            stdout=subprocess.PIPE,
            text=True,
        )
        for name in names
    ]
    try:
        numbers = [int(process.stdout.readline()) for process in asking]
        assert sorted(numbers) == list(range(1, 7))
        for number in numbers:
            over(queue, number)
    finally:
        for process in asking:
            process.kill()
            process.communicate(timeout=PATIENCE_S)
    done = (queue.runs.parent / "done.txt").read_text().split()
    assert sorted(done) == names  # each once, though each saw to a worker
    assert [job.record for job in queue.jobs()] == done


def test_a_second_worker_ends_at_once(queue):
    number = added(queue, "one", hold=True)
    until(lambda: queue.job(number).share == 0.5)
    subprocess.run([*jobs_stand_in.program(), queue.runs], timeout=PATIENCE_S, check=True)
    assert queue.job(number).state == "running"


def test_a_job_added_while_the_worker_waits_is_done_by_it(queue):
    first = added(queue, "one")
    over(queue, first)
    pid = worker_pid(queue)
    second = added(queue, "two", hold=True)
    until(lambda: queue.job(second).state == "running")
    assert worker_pid(queue) == pid


def test_a_worker_that_cannot_write_leaves_the_work_lost_not_finished(queue):
    """A file-size limit of no bytes stands for a full disk."""
    first = added(queue, "one", hold=True)
    until(lambda: queue.job(first).share == 0.5)
    limit = "import resource,sys; resource.prlimit(int(sys.argv[1]), resource.RLIMIT_FSIZE, (0, 0))"
    subprocess.run([sys.executable, "-c", limit, str(worker_pid(queue))], check=True)
    (queue.runs.parent / "hold-one").unlink()
    until(lambda: not queue.alive)
    job = queue.job(first)
    assert job.state == "lost" and queue.result(first) is None


def test_the_list_of_runs_and_its_clearing_leave_jobs_alone(queue):
    number = added(queue, "one")
    over(queue, number)
    store = Store(queue.runs)
    assert store.runs(unfinished=True) == [] and store.leftovers() == []
    store.clear()
    assert queue.job(number).state == "finished"
