"""The list of runs, removing some, and what killed processes leave. Runs and leftovers are invented;
processes are real.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
from shaped_records import SHIPPED

from simharness.errors import BusyError
from simharness.files import atomic_write_text
from simharness.fingerprint import request_key
from simharness.results.outputs import write_results
from simharness.runs.leftovers import GONE, SWEEP
from simharness.runs.lock import PATIENCE_S, FileLock
from simharness.runs.manifest import final_manifest
from simharness.runs.names import forget, names
from simharness.runs.store import Store

RECORD = SHIPPED["five-slot-2g45"]
KEYS = [request_key(f"invented {number}") for number in range(3)]

HOLD = """
import sys, time
from simharness.runs.store import Store
with Store(sys.argv[1]).writer(sys.argv[2], "held", replace=True) as writer:
    (writer.path / "record.json").write_text('{"name": "held"}')
    print("ready", flush=True)
    time.sleep(60)
"""


def stored(store: Store, number: int = 0, label: str = "invented", noted: float | None = None):
    """A run whose worst S11 in the band of the record is that of 0.2, and noted as such or otherwise."""
    frequency = np.linspace(2.3e9, 2.6e9, 31)
    inside = (frequency >= RECORD.band.low_ghz * 1e9 - 11e6) & (
        frequency <= RECORD.band.high_ghz * 1e9 + 11e6
    )
    s11 = np.where(inside, 0.2, 0.9) + 0j
    with store.writer(KEYS[number], label) as writer:
        write_results(writer.path / "results.h5", {"frequency": frequency, "s11": s11}, {"quality": "draft"})
        atomic_write_text(
            writer.path / "record.json", RECORD.model_dump_json(by_alias=True, exclude_none=True)
        )
        noted_so = {} if noted is None else {"worst_s11_db": noted}
        atomic_write_text(writer.path / "provenance.json", json.dumps({"quality": "draft", **noted_so}))
        return writer.finalize("finished")


@pytest.fixture
def store(tmp_path):
    return Store(tmp_path / "runs")


@pytest.fixture
def holder(store):
    """Another process that works on the first key."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(store.root), KEYS[0]], stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            assert process.stdout.readline() == "ready\n"
            yield process
        finally:
            process.kill()


def kill(process) -> None:
    process.send_signal(signal.SIGKILL)
    process.wait(20)


# --- the list ---------------------------------------------------------------------------------


def test_states_quality_and_names(call, store, holder):
    stored(store, 1, noted=-7.5), stored(store, 2)
    with store.writer(request_key("failed"), "invented") as writer:
        writer.fail("invented")
    store.remember(KEYS[1], RECORD)
    listed = {run["name"]: run for run in json.loads(call("runs", "--json")[1])}
    assert {
        name.rpartition("-")[0]: run["status"] for name, run in listed.items() if run["key"] not in KEYS[1:]
    } == {"held": "being worked on", f"failed-invented-{request_key('failed')}": "failed"}
    one, two = (listed[f"invented-{key}"] for key in KEYS[1:])
    assert (one["status"], one["quality"], one["worst_s11_db"], one["names"]) == (
        "finished",
        "draft",
        -7.5,
        ["five-slot-2g45"],
    )
    # 20 log10(0.2) = -13.98 dB, by the definition of the decibel; an older run has no note of it.
    assert two["worst_s11_db"] == pytest.approx(-13.979, abs=1e-3) and two["names"] == []
    kill(holder)
    text = call("runs")[1]
    assert "left over" in text and "'simharness runs --clear' clears it away" in text and "-14.0 dB" in text


def test_two_hundred_runs_are_listed_by_sizes_alone(store, monkeypatch):
    """No content but small JSON is read, so that the list does not wait for gigabytes of checksums."""
    from simharness.runs import manifest

    def refuse(path):
        raise AssertionError(f"{path} was read whole")

    run = stored(store, noted=-1.0)
    monkeypatch.setattr(manifest, "file_sha256", refuse)
    assert [summary.name for summary in store.runs()] == [run.path.name]
    with pytest.raises(AssertionError, match="was read whole"):
        store.runs(float("inf"))


# --- removing ---------------------------------------------------------------------------------


def test_a_run_is_removed_with_its_names_when_asked_and_confirmed(call, store, monkeypatch):
    run, other = stored(store), stored(store, 1, "another")
    store.remember(run.key, RECORD)
    for answer in (lambda: (_ for _ in ()).throw(EOFError), lambda: "n"):
        monkeypatch.setattr("click.termui.visible_prompt_func", lambda *_: answer())
        code, out, err = call("runs", "--remove", "invented")
        assert (
            (code, err.strip()) == (130, "simharness: nothing was removed")
            and "five-slot-2g45" in out
            and run.path.exists()
        )
    monkeypatch.setattr("click.termui.visible_prompt_func", lambda *_: "y")
    code, out, err = call("runs", "--remove", "five-slot-2g45", "--remove", run.path.name)
    assert (code, err) == (0, "") and out.count("removed: ") == 1
    assert store.find(run.key) is None and store.names() == [] and store.find(other.key) == other
    assert call("runs", "--remove", other.key[:5], "--yes")[0] == 0
    assert store.runs() == [] and store.leftovers() == []


def test_what_does_not_mean_one_run_removes_nothing(call, store):
    stored(store), stored(store, 1)
    (store.root / f"sweep-invented-{KEYS[2][:8]}").mkdir()
    for words in ("invented", "nothing", "", "..", f"sweep-invented-{KEYS[2][:8]}"):
        code, out, err = call("runs", "--remove", f"invented-{KEYS[0]}", "--remove", words, "--yes")
        assert (code, out) == (7, "") and err.count("\n") == 1
    assert len(store.runs()) == 2 and (store.root / f"sweep-invented-{KEYS[2][:8]}").is_dir()


def test_damaged_and_failed_runs_can_be_removed(call, store):
    for number, harm in enumerate(("results.h5", "manifest.json")):
        (stored(store, number).path / harm).unlink()
    with store.writer(KEYS[2], "invented") as writer:
        failed = writer.fail("invented")
    assert [run.status for run in store.runs()].count("damaged") == 2
    names = [f"invented-{KEYS[0]}", f"invented-{KEYS[1]}", failed.path.name]
    assert call("runs", "--yes", *(word for name in names for word in ("--remove", name)))[0] == 0
    assert os.listdir(store.root) == []


def test_what_is_being_worked_on_is_never_removed(call, store, holder):
    for words in (f"held-{KEYS[0]}", KEYS[0]):
        code, _, err = call("runs", "--remove", words, "--yes")
        assert code == 8 and f"process {holder.pid} " in err and "nothing was removed" in err
    assert store.clear() == [] and (store.root / f".work-{KEYS[0]}").is_dir()
    (under_way,) = store.runs(unfinished=True)
    with pytest.raises(BusyError):
        store.remove(under_way)  # whoever asks the store itself is refused by the lock
    kill(holder)
    assert call("runs", "--remove", f"held-{KEYS[0]}", "--yes")[0] == 0
    assert os.listdir(store.root) == []


def test_a_run_being_solved_again_is_not_removed_meanwhile(store, call):
    run = stored(store)
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(store.root), run.key], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout.readline() == "ready\n"
        code, _, err = call("runs", "--remove", run.path.name, "--yes")
        process.kill()
    assert code == 8 and "being worked on" in err and store.find(run.key) == run


# --- leftovers --------------------------------------------------------------------------------


def test_litter_is_found_with_its_size_and_cleared_and_nothing_else_is(call, store, holder):
    kept = stored(store, 1)
    (kept.path / "figures" / "other").mkdir(parents=True)
    root = store.root
    old = [
        root / ".manifest.json.1.tmp",
        kept.path / "figures" / ".match.png.1.tmp",
        kept.path / "figures" / "other" / ".smith.png.1.tmp",
    ]
    for path in (*old, root / ".young.1.tmp"):
        path.write_bytes(bytes(100))
    for path in old:
        os.utime(path, (time.time() - 7200,) * 2)
    (root / f"{SWEEP}gone").write_text("of a killed sweep")
    (root / f"{GONE}invented-{KEYS[2]}").mkdir()
    (root / f"{GONE}invented-{KEYS[2]}" / "results.h5").write_bytes(bytes(5000))
    (root / f".lock-{KEYS[2]}").write_text("{}")
    store.remember(KEYS[2], RECORD)  # its run is gone
    kill(holder)
    standing = FileLock(root / f"{SWEEP}standing", "a sweep")
    standing.acquire()
    left = {item.path.relative_to(root).as_posix(): item.size for item in store.leftovers()}
    assert set(left) == {
        *(path.relative_to(root).as_posix() for path in old),
        f"{SWEEP}gone",
        f"{GONE}invented-{KEYS[2]}",
        f".lock-{KEYS[2]}",
        f".names/five-slot-2g45-{KEYS[2]}.json",
        f".work-{KEYS[0]}",
    }
    assert left[f"{GONE}invented-{KEYS[2]}"] == 5000 and left[".manifest.json.1.tmp"] == 100
    code, out, err = call("runs", "--clear")
    assert (code, err) == (0, "") and f"cleared: {GONE}invented-{KEYS[2]} (5 kB)" in out
    assert sorted(os.listdir(root)) == sorted([".names", f"{SWEEP}standing", ".young.1.tmp", kept.path.name])
    standing.release()
    kept.verify(full=True)
    assert call("runs", "--clear")[1] == f"nothing is left over in {'runs'}\n"


@pytest.mark.parametrize("finished", [True, False], ids=["new whole", "new not whole"])
def test_killed_while_a_run_was_replaced_leaves_one_of_the_two(store, finished):
    """The state between the two renames of a replacement, as a kill leaves it."""
    run, root = stored(store), store.root
    work = root / f".work-{run.key}"
    work.mkdir()
    (work / "new.txt").write_text("new")
    if finished:
        final_manifest(work, run.key, "invented", "finished")
    os.rename(run.path, root / f".old-{run.path.name}")
    assert store.find(run.key) is None
    store.clear_stale()
    found = store.find(run.key)
    assert set(found.manifest.files) == (
        {"new.txt"} if finished else {"results.h5", "record.json", "provenance.json"}
    )
    assert os.listdir(root) == [run.path.name]


def test_killed_just_before_its_name_a_whole_run_is_kept(call, store):
    work = store.root / f".work-{KEYS[0]}"
    work.mkdir(parents=True)
    (work / "new.txt").write_text("new")
    final_manifest(work, KEYS[0], "invented", "finished")
    assert call("runs", "--clear")[1].startswith(
        f"finished but for its name, now in the list: invented-{KEYS[0]} ("
    )
    assert store.find(KEYS[0]).path.name == f"invented-{KEYS[0]}"


def test_killed_while_removing_hides_the_run_and_is_cleared(store):
    run = stored(store)
    os.rename(run.path, store.root / f"{GONE}{run.path.name}")
    assert store.runs() == [] and store.find(run.key) is None
    store.clear_stale()
    assert os.listdir(store.root) == []


# --- processes --------------------------------------------------------------------------------


def test_processes_that_name_one_run_at_once_lose_nothing(store):
    """Four processes, 25 times each: two by one name, two by another; and one that is killed in between."""
    run = stored(store)
    code = """
import sys
from pathlib import Path
from simharness.runs.names import remember
print("up", flush=True)
sys.stdin.readline()
for number in range(25):
    remember(Path(sys.argv[1]), sys.argv[2], {"name": sys.argv[3], "title": f"invented {number}"})
"""
    crowd = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(store.root), run.key, name],
            text=True,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        for name in ("one", "one", "two", "two", "three")
    ]
    for process in crowd:
        assert process.stdout.readline() == "up\n"
    for process in crowd:
        process.stdin.write("\n")
        process.stdin.flush()
    crowd[-1].kill()
    for process in crowd:
        process.communicate(timeout=60)
    found = {name.name: name.record["title"] for name in names(store.root)}
    assert found.pop("three", "invented").startswith("invented") and found == {
        "one": "invented 24",
        "two": "invented 24",
    }
    store.find(run.key).verify(full=True)
    forget(store.root, run.key)
    assert names(store.root) == []


def test_a_look_at_the_list_disturbs_nobody_who_claims(store):
    """A lock that is held for a moment is waited for."""
    stored(store)
    lock = FileLock(store.root / f".lock-{KEYS[1]}", "invented")
    code = (
        "import sys, time; from pathlib import Path; from simharness.runs.lock import FileLock\n"
        "lock = FileLock(Path(sys.argv[1]), 'x'); lock.acquire(); print('held', flush=True)\n"
        "sys.stdin.readline(); lock.release()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, str(lock.path)], text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        assert process.stdout.readline() == "held\n"
        begun = time.monotonic()
        with pytest.raises(BusyError, match=f"process {process.pid} "):
            lock.acquire()
        assert time.monotonic() - begun >= PATIENCE_S
        process.stdin.write("\n")
        process.stdin.flush()
        process.wait(20)
        lock.acquire()
        lock.release()
