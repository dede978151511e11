"""Files and states of the queue of long works; nobody does them here."""

from __future__ import annotations

import importlib
import json
import math
import resource
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from simharness.errors import HarnessError, InputError, MachineError, StoreError
from simharness.jobs import queue as queue_module
from simharness.jobs.folder import job_folder, jobs_root
from simharness.jobs.forecast import forecast
from simharness.jobs.options import OPTIONS, full_options
from simharness.jobs.queue import Queue
from simharness.jobs.telling import Teller
from simharness.jobs.works import WORKS
from simharness.records import read_record
from simharness.runs.lock import FileLock
from simharness.solver.machine import Machine

ROOT = Path(__file__).parents[2]
FILE = ROOT / "docs" / "four-slot-9g6.toml"
TEXT = FILE.read_text(encoding="utf-8")


@pytest.fixture
def queue(tmp_path, monkeypatch):
    """A queue that nobody works on."""
    monkeypatch.setattr(queue_module, "start_worker", lambda runs: None)
    return Queue(tmp_path / "runs")


@pytest.fixture
def at_work(queue):
    """As if a worker were there."""
    jobs_root(queue.runs).mkdir(parents=True, exist_ok=True)
    lock = FileLock(jobs_root(queue.runs) / ".worker", "the queue")
    lock.acquire()
    yield
    lock.release()


def test_looking_makes_no_folder(queue):
    assert queue.jobs() == [] and not queue.alive and not queue.resume()
    with pytest.raises(InputError, match="job = 1: there is no such job"):
        queue.job(1)
    assert not queue.runs.exists()


def test_what_is_added_is_found_again(queue):
    job = queue.add("solve", TEXT, "four-slot.toml", {"quality": "draft"})
    assert Queue(queue.runs).jobs() == [job]
    assert (job.number, job.kind, job.state, job.record) == (1, "solve", "waiting", "four-slot-9g6")
    assert job.options == {"quality": "draft", "feed": "coax", "again": False, "limit_minutes": None}
    assert queue.record_text(1) == TEXT and queue.result(1) is None and queue.interim(1) is None


def test_every_kind_of_work_can_be_done_and_foretold():
    forecasts = importlib.import_module("simharness.jobs.forecast")._FORECASTS
    assert list(OPTIONS) == list(WORKS) == list(forecasts)


@pytest.mark.parametrize(
    ("kind", "options", "said"),
    [
        ("design", {}, "kind = design: must be one of solve, tune"),
        ("solve", {"qualty": "draft"}, "do you mean quality"),
        ("solve", {"quality": "best"}, "quality = best: must be one of draft, normal, fine"),
        ("solve", {"quality": ["draft"]}, "must be one of"),
        ("solve", {"limit_minutes": math.nan}, "must be a number, 0.05 to 100000 min"),
        ("solve", {"limit_minutes": True}, "must be a number"),
        ("solve", {"limit_minutes": 10**400}, "limit_minutes"),
        ("solve", {"again": 1}, "must be true or false"),
        ("tune", {"also": ["everything"]}, "must be one of position"),
        ("tune", {"also": "slots"}, "must be a list of 0 to 20 texts"),
        ("tune", {"also": ["run"]}, "run"),  # the probe of this record is straight
        ("tune", {"max_runs": 3.0}, "must be a whole number from 1 to 9"),
        ("tolerance", {"seam_mm": 0}, "more than 0 and at most 20 mm"),
        ("tolerance", {"run": "a\x1b[2Jb"}, "characters that can be shown"),
        ("converge", {"levels": 5}, "must be a whole number from 3 to 4"),
        ("sweep", {}, "must be a list of 1 to 20 texts"),
        ("sweep", {"vary": ["feed.height_mm"]}, "must be like"),
        ("sweep", {"vary": ["feed.hight_mm=5,6"]}, "feed.hight_mm"),
    ],
)
def test_what_is_not_allowed_is_said_at_once(queue, kind, options, said):
    with pytest.raises(InputError, match=said) as found:
        queue.add(kind, TEXT, "four-slot.toml", options)
    assert len(str(found.value)) < 500
    assert not queue.runs.exists()


@pytest.mark.parametrize(
    ("text", "source", "said"),
    [
        ("", "x.toml", "the file is empty"),
        ("name = ", "x.toml", "must be valid TOML"),
        ("name = 'x'", "<script>", "<script>: "),
        ("#" * 300_000, "x.toml", "at most 200000 bytes"),
        (None, "x.toml", "must be a text"),
        (TEXT, "x\x1b[2J.toml", "characters that can be shown"),
        (TEXT, "x" * 300, "at most 200 characters"),
        (TEXT.replace("height_mm = 6.3", "height_mm = -6.3"), "x.toml", "feed.height_mm = -6.3"),
    ],
)
def test_records_that_are_none(queue, text, source, said):
    with pytest.raises(InputError, match=said):
        queue.add("solve", text, source)
    assert not queue.runs.exists()


def test_a_number_is_never_given_twice(queue):
    for _ in range(2):
        queue.cancel(queue.add("solve", TEXT).number)
    queue.forget(2)
    assert [job.number for job in queue.jobs()] == [1]
    assert queue.add("solve", TEXT).number == 3
    (jobs_root(queue.runs) / ".last").write_text("nonsense")
    assert queue.add("solve", TEXT).number == 4


def test_only_what_is_over_can_be_forgotten_or_made_again(queue):
    number = queue.add("solve", TEXT, "four-slot.toml", {"quality": "fine"}).number
    for refused in (queue.forget, queue.again):
        with pytest.raises(InputError, match="is waiting"):
            refused(number)
    assert queue.cancel(number).state == "cancelled"
    with pytest.raises(InputError, match="is cancelled, so there is nothing to cancel"):
        queue.cancel(number)
    again = queue.again(number)
    assert (again.number, again.state, again.source) == (2, "waiting", "four-slot.toml")
    assert again.options["quality"] == "fine"
    queue.forget(number)
    assert [job.number for job in queue.jobs()] == [2]


@pytest.mark.parametrize("number", [0, -1, 10**12, True, "1", 1.0, None, "../x"])
def test_numbers_that_are_none(queue, number):
    queue.add("solve", TEXT)
    for ask in (queue.job, queue.cancel, queue.forget, queue.again, queue.result, queue.interim):
        with pytest.raises(InputError, match="there is no such job"):
            ask(number)


def _damaged(queue, file: str, text: str):
    number = queue.add("solve", TEXT).number
    (job_folder(queue.runs, number) / file).write_text(text)
    return queue.job(number)


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("request.json", ""),
        ("request.json", "[]"),
        ("request.json", "{}"),
        ("request.json", "[" * 100_000),
        ("request.json", '{"format": "simharness-job", "kind": "rm -rf"}'),
        ("status.json", "\x00\xff"),
        ("status.json", "{}"),
        ("status.json", '{"state": "<script>"}'),
        ("status.json", '{"state": ["running"]}'),
        ("status.json", '{"state": "running", "share": NaN}'),
        ("status.json", '{"state": "running", "share": 1' + "0" * 400 + "}"),
        ("status.json", '{"state": "running", "notes": 7}'),
        ("status.json", '{"state": "running", "notes": [7]}'),
        ("status.json", '{"state": "running", "started": "yesterday"}'),
        ("status.json", '{"state": "running", "started": "2026-01-01"}'),
        ("status.json", '{"state": "running", "looks": Infinity}'),
        ("status.json", " " * 2_000_000),
    ],
)
def test_damaged_folders_are_said_to_be_so(queue, at_work, file, text):
    job = _damaged(queue, file, text)
    assert job.state == "damaged" and job.text.startswith("job 1 is damaged: ")
    assert "\n" not in job.text and len(job.text) < 300
    assert [other.state for other in queue.jobs()] == ["damaged"]
    with pytest.raises(StoreError, match="job 1 is damaged"):
        queue.again(1)
    queue.forget(1)
    assert queue.jobs() == []


def test_texts_of_a_status_cannot_act(queue, at_work):
    told = {"state": "running", "text": "\x1b[2J" + "x" * 10_000, "notes": ["\x07ring"] * 100}
    job = _damaged(queue, "status.json", json.dumps(told))
    assert job.text.startswith("\\x1b[2J") and len(job.text) < 2100
    assert job.notes == ("\\x07ring",) * 50


def test_folders_that_are_links_or_files_are_not_followed(queue, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    queue.add("solve", TEXT)
    job_folder(queue.runs, 1).rename(elsewhere)
    job_folder(queue.runs, 1).symlink_to(elsewhere)
    job_folder(queue.runs, 2).write_text("no folder")
    for name in ("x", "12", "00017", "0003x"):
        (jobs_root(queue.runs) / name).mkdir()
    assert [(job.number, job.state) for job in queue.jobs()] == [(1, "damaged"), (2, "damaged")]
    queue.forget(1)
    queue.forget(2)
    assert (elsewhere / "request.json").exists() and queue.jobs() == []


@pytest.mark.parametrize(
    "curve",
    [
        {},
        {"frequency_hz": [1, 2], "s11_re": [0], "s11_im": [0, 0], "moving": 0},
        {"frequency_hz": "x", "s11_re": "x", "s11_im": "x", "moving": 0},
        {"frequency_hz": [], "s11_re": [], "s11_im": [], "moving": 0},
        {"frequency_hz": [math.inf], "s11_re": [0], "s11_im": [0], "moving": 0},
    ],
)
def test_curves_and_results_that_are_none(queue, curve):
    folder = queue.add("solve", TEXT).folder
    (folder / "interim.json").write_text(json.dumps(curve))
    with pytest.raises(StoreError, match="job 1 is damaged: interim.json holds no curve"):
        queue.interim(1)
    (folder / "result.json").write_text("no JSON")
    with pytest.raises(StoreError, match="is damaged: result.json is no JSON"):
        queue.result(1)


def test_a_job_nobody_works_on_is_lost(queue):
    job = _damaged(queue, "status.json", '{"state": "running", "share": 0.5}')
    assert (job.state, job.exit_code) == ("lost", 1) and "start it again" in job.text
    assert queue.again(1).number == 2


def test_a_teller_writes_seldom_and_at_last(tmp_path, monkeypatch):
    written = []
    telling = importlib.import_module("simharness.jobs.telling")
    write = telling.atomic_write_text
    monkeypatch.setattr(
        telling, "atomic_write_text", lambda path, text: (written.append(path), write(path, text))
    )
    teller = Teller(tmp_path)
    for n in range(10_000):
        teller.advance(n / 10_000, math.inf, f"step {n}")
        teller.note(f"note {n}")
    teller.interim_match(np.array([1e9]), np.array([0.123456789j]), math.inf)
    teller.end("finished", "done", 0)
    assert len(written) < 20
    status = json.loads((tmp_path / "status.json").read_text())
    assert (status["state"], status["share"], status["text"], status["looks"]) == ("finished", 1.0, "done", 1)
    assert status["notes"] == [f"note {n}" for n in range(9950, 10_000)]
    curve = json.loads((tmp_path / "interim.json").read_text())
    assert curve == {"frequency_hz": [1e9], "s11_re": [0.0], "s11_im": [0.123457], "moving": None}


def test_a_file_in_the_way_is_one_sentence(queue):
    queue.runs.write_text("no folder")
    with pytest.raises(MachineError, match="cannot write"):
        queue.add("solve", TEXT)
    with pytest.raises(HarnessError):
        queue.jobs()


def test_a_full_disk_adds_nothing(tmp_path):
    """A file-size limit of a hundred bytes stands for a full disk."""
    program = (
        "import sys; from simharness.errors import MachineError; from simharness.jobs.queue import Queue\n"
        "try: Queue(sys.argv[1]).add('solve', open(sys.argv[2]).read())\n"
        "except MachineError as error: print(error)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, tmp_path / "runs", FILE],
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100)),
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert "the file-size limit of this account is reached" in done.stdout and not done.stderr
    assert Queue(tmp_path / "runs").jobs() == [] and list((tmp_path / "runs" / ".jobs").iterdir()) == []


@pytest.fixture
def on_stand_in(monkeypatch):
    """Plans for a machine that is not this one: no solver is needed."""
    on = Machine("stand-in 1", 1)
    for module in ("runs.planning", "sweep.execution", "convergence.steps"):
        planning = importlib.import_module(f"simharness.{module}")
        if hasattr(planning, "machine"):
            monkeypatch.setattr(planning, "machine", lambda: on)


def test_forecasts(on_stand_in, tmp_path):
    record = read_record(FILE)
    solve = forecast("solve", record, {"quality": "draft"}, tmp_path)
    # As the documentation of `simharness.plan` shows it.
    assert solve.cells == 224460 and (solve.runs, solve.stored) == (1, 0)
    assert 0 < solve.seconds <= solve.most_seconds
    assert solve.sentence.startswith("one run of 0.22 million cells with")
    tune = forecast("tune", record, {"quality": "draft"}, tmp_path)
    assert tune.runs == 3 and tune.cells == solve.cells
    assert tune.seconds == pytest.approx(3 * solve.seconds)
    asked = {"quality": "draft", "vary": ["feed.height_mm=6.0,6.1"]}
    sweep = forecast("sweep", record, asked, tmp_path)
    assert sweep.runs == 2
    assert forecast("tolerance", record, {}, tmp_path).runs == 0
    assert forecast("tolerance", record, {"seam_mm": 0.1}, tmp_path).runs == 2
    converge = forecast("converge", record, {}, tmp_path)
    assert converge.runs == 3 and converge.cells > solve.cells
    with pytest.raises(InputError):
        forecast("solve", record, {"quality": "best"}, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_options_of_a_job_are_whole():
    for kind, known in OPTIONS.items():
        asked = {"vary": ["feed.height_mm=5,6"]} if kind == "sweep" else {}
        assert list(full_options(kind, asked)) == list(known)
