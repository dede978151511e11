"""Run folders: keys, locks between processes, finishing, damage, full and read-only disks."""

from __future__ import annotations

import errno
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field

import numpy as np
import pytest

from simharness.errors import BusyError, InputError, MachineError, StoreError
from simharness.files import atomic_write_text
from simharness.fingerprint import canonical, nanometres, request_key
from simharness.results.outputs import write_results
from simharness.runs.manifest import QUICK_HASH_BYTES
from simharness.runs.store import Store

KEY = request_key({"guide": "invented"})
OTHER = request_key({"guide": "another invented one"})

HOLD = """
import sys, time
from simharness.runs.store import Store
with Store(sys.argv[1]).writer(sys.argv[2], "held") as writer:
    (writer.path / "half.txt").write_text("half done")
    print("ready", flush=True)
    time.sleep(60)
"""


@dataclass(frozen=True)
class Box:
    width: float = field(metadata={"unit": "m"})
    steps: float = 0.0


def sealed(store: Store, key: str = KEY, label: str = "wr340"):
    with store.writer(key, label) as writer:
        write_results(writer.path / "results.h5", {"frequency": np.array([2.45e9])}, {"note": "x"})
        (writer.path / "log").mkdir()
        (writer.path / "log" / "solver.txt").write_text("invented transcript\n")
        return writer.finalize()


@pytest.fixture
def holder(tmp_path):
    """A second process that holds the lock on KEY in `tmp_path`."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path), KEY], stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout.readline() == "ready\n"
        yield process
    finally:
        process.kill()
        process.wait(10)
        process.stdout.close()


# --- keys ---------------------------------------------------------------------------------


def test_key_does_not_depend_on_how_a_number_is_written():
    expected = request_key({"box": Box(1.0, 5), "f0": 2450000000, "n": 3})
    assert request_key({"n": np.int64(3), "f0": 2.45 * 1e9, "box": Box(1, 5.0)}) == expected
    assert request_key({"n": 3, "f0": np.float64(2.45e9), "box": Box(1 + 1e-13, 5)}) == expected
    assert len(expected) == 16 and int(expected, 16) >= 0


@pytest.mark.parametrize(
    "change",
    [{"box": Box(1.0 + 1e-9, 5)}, {"f0": 2450000001}, {"n": True}, {"box": {"width": 10**9, "steps": 5}}],
)
def test_key_changes_with_the_input(change):
    payload = {"box": Box(1.0, 5), "f0": 2.45e9, "n": 1}
    assert request_key(payload | change) != request_key(payload)


def test_lengths_become_whole_nanometres():
    assert nanometres(np.array([[0.1 + 0.2, 0.3]])) == [[300000000, 300000000]]
    assert canonical(Box(0.0015875, 0.1)) == {"type": "Box", "width": 1587500, "steps": 0.1}
    assert canonical(-0.0) == 0 and str(canonical(-0.0)) == "0"


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), np.array([1.0, np.nan])])
def test_numbers_that_are_none_are_refused_with_their_place(bad):
    with pytest.raises(InputError, match=r"request\.scene\.y.* must be a finite number"):
        request_key({"scene": {"x": 1.0, "y": bad}})


@pytest.mark.parametrize("bad", [{"x": object()}, {1: "x"}, {"x": {2.0}}])
def test_types_without_a_canonical_form_are_refused(bad):
    with pytest.raises(TypeError):
        request_key(bad)


# --- finishing and finding ----------------------------------------------------------------


def test_finished_run_is_found_and_read(tmp_path):
    store = Store(tmp_path / "runs")
    assert store.find(KEY) is None and store.runs() == []
    run = sealed(store)
    assert run.path.name == f"wr340-{KEY}"
    found = store.find(KEY)
    assert found == run
    assert set(found.manifest.files) == {"results.h5", "log/solver.txt"}
    assert found.results()["frequency"][0] == 2.45e9
    found.verify(full=True)
    assert os.listdir(store.root) == [run.path.name]
    (summary,) = store.runs()
    assert (summary.name, summary.key, summary.status, summary.label) == (run.path.name, KEY, "done", "wr340")
    on_disk = sum(p.stat().st_size for p in run.path.rglob("*") if p.is_file())
    assert summary.size == on_disk and summary.created == run.manifest.created


def test_leaving_without_a_seal_leaves_nothing(tmp_path):
    store = Store(tmp_path)
    with store.writer(KEY, "a") as writer:
        (writer.path / "x.txt").write_text("x")
    with pytest.raises(ZeroDivisionError), store.writer(KEY, "a") as writer:
        (writer.path / "x.txt").write_text("x")
        raise ZeroDivisionError
    assert os.listdir(tmp_path) == [] and store.find(KEY) is None


def test_failed_runs_are_kept_and_never_found(tmp_path):
    store = Store(tmp_path)
    for number in (1, 2):
        with store.writer(KEY, "a") as writer:
            (writer.path / "transcript.txt").write_text("blew up")
            run = writer.fail("the energy became NaN")
        assert run.path.name == f"failed-a-{KEY}-{number}"
    assert store.find(KEY) is None
    assert [s.status for s in store.runs()] == ["failed", "failed"]
    reopened = store.open(f"failed-a-{KEY}-2")
    assert reopened.manifest.reason == "the energy became NaN"
    with pytest.raises(StoreError, match="there is no result file"):
        reopened.results()


def test_second_claim_needs_the_word_replace(tmp_path):
    store = Store(tmp_path)
    first = sealed(store)
    with pytest.raises(StoreError, match="already there: open it instead"), store.writer(KEY, "b"):
        pass
    assert store.find(KEY) == first
    with store.writer(KEY, "b", replace=True) as writer:
        assert store.find(KEY) == first
        writer.finalize("not converged")
    assert os.listdir(tmp_path) == [first.path.name]  # under the name it had, which others may have noted
    assert store.find(KEY).manifest.status == "not converged"


def test_claim_is_finished_once(tmp_path):
    with Store(tmp_path).writer(KEY, "a") as writer:
        writer.finalize()
        with pytest.raises(RuntimeError):
            writer.fail("too late")
    with pytest.raises(RuntimeError):
        writer.finalize()


@pytest.mark.parametrize("label", ["", "../x", "a/b", ".hidden", "failed", "failed-x", "a b", "x" * 99])
def test_labels_that_are_no_names_are_refused(tmp_path, label):
    with pytest.raises(InputError, match="label"):
        Store(tmp_path).writer(KEY, label)


def test_links_are_refused(tmp_path):
    store = Store(tmp_path)
    with pytest.raises(StoreError, match="field.h5 .* is a link"), store.writer(KEY, "a") as writer:
        (writer.path / "field.h5").symlink_to("/etc/hostname")
        writer.finalize()
    assert os.listdir(tmp_path) == []


def test_figures_may_be_added_after_sealing(tmp_path):
    store = Store(tmp_path)
    run = sealed(store)
    (run.path / "figures").mkdir()
    atomic_write_text(run.path / "figures" / "s11.svg", "<svg/>")
    store.find(KEY).verify(full=True)


# --- processes ----------------------------------------------------------------------------


def test_second_process_is_refused_at_once(tmp_path, holder):
    store = Store(tmp_path)
    start = time.monotonic()
    busy = rf"run {KEY} .* by process {holder.pid} since 20\d\d-"
    with pytest.raises(BusyError, match=busy), store.writer(KEY, "b"):
        pass
    assert time.monotonic() - start < 1.0  # at once: no waiting for the 60 s of the holder
    assert store.clear_stale() == []
    (listed,) = store.runs(unfinished=True)
    assert (
        store.find(KEY) is None
        and store.runs() == []
        and listed.status == "being worked on"
        and f"process {holder.pid} " in listed.reason
    )
    with store.writer(OTHER, "b") as writer:  # another key is free
        writer.finalize()


def test_killed_run_leaves_nothing_finished_and_is_cleared(tmp_path, holder):
    store = Store(tmp_path)
    holder.send_signal(signal.SIGKILL)
    holder.wait(10)
    assert (tmp_path / f".work-{KEY}" / "half.txt").exists()
    assert store.find(KEY) is None and store.runs() == []
    assert [run.status for run in store.runs(unfinished=True)] == ["left over"]
    with store.writer(KEY, "again") as writer:
        assert os.listdir(writer.path) == []
        writer.finalize()
    assert os.listdir(tmp_path) == [f"again-{KEY}"]


def test_kill_in_the_middle_of_sealing_gives_a_whole_run_or_none(tmp_path):
    """Killed at six moments spread over the finishing of 12 MB (tens of milliseconds)."""
    code = """
import sys
from simharness.runs.store import Store
with Store(sys.argv[1]).writer(sys.argv[2], "cut", replace=True) as writer:
    for number in range(12):
        (writer.path / f"{number}.bin").write_bytes(bytes(1_000_000))
    print("finishing", flush=True)
    writer.finalize()
"""
    store = Store(tmp_path)
    for delay in (0.0, 0.005, 0.01, 0.02, 0.04, 0.08):
        process = subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path), KEY], stdout=subprocess.PIPE, text=True
        )
        with process:
            assert process.stdout.readline() == "finishing\n"
            time.sleep(delay)
            process.kill()
        run = store.find(KEY)
        if run is not None:
            run.verify(full=True)
            assert len(run.manifest.files) == 12
            shutil.rmtree(run.path)


def test_stale_folders_are_cleared_on_request(tmp_path, holder):
    holder.send_signal(signal.SIGKILL)
    holder.wait(10)
    assert Store(tmp_path).clear_stale() == [f".work-{KEY}"]
    assert os.listdir(tmp_path) == []


def test_of_many_processes_claiming_at_once_one_wins(tmp_path):
    """All start together on a signal file; each reports what happened to it."""
    code = """
import pathlib, sys, time
from simharness.errors import BusyError, StoreError
from simharness.runs.store import Store
root, go = pathlib.Path(sys.argv[1]) / "runs", pathlib.Path(sys.argv[1]) / "go"
print("up", flush=True)
while not go.exists():
    pass
try:
    with Store(root).writer(sys.argv[2], "race") as writer:
        time.sleep(0.3)
        writer.finalize()
        print("finished")
except BusyError:
    print("busy")
except StoreError:
    print("there")
"""
    crowd = [
        subprocess.Popen([sys.executable, "-c", code, str(tmp_path), KEY], stdout=subprocess.PIPE, text=True)
        for _ in range(4)
    ]
    for process in crowd:
        assert process.stdout.readline() == "up\n"
    (tmp_path / "go").touch()
    words = [process.communicate(timeout=20)[0].strip() for process in crowd]
    assert words.count("finished") == 1
    # "there" is what a process meets that came only after the finishing.
    assert words.count("busy") + words.count("there") == 3
    assert os.listdir(tmp_path / "runs") == [f"race-{KEY}"]
    assert Store(tmp_path / "runs").find(KEY) is not None


# --- damage -------------------------------------------------------------------------------


def test_changed_short_cut_and_missing_files_are_named(tmp_path):
    store = Store(tmp_path)
    path = sealed(store).path / "log" / "solver.txt"
    text = path.read_text()
    path.write_text(text.swapcase())
    with pytest.raises(StoreError, match=r"log/solver\.txt: its content has changed"):
        store.open(f"wr340-{KEY}")
    with pytest.raises(StoreError, match="damaged"):
        store.find(KEY)
    path.write_text(text[:-1])
    with pytest.raises(StoreError, match=r"solver\.txt: it has 19 bytes instead of 20"):
        store.find(KEY)
    path.unlink()
    with pytest.raises(StoreError, match=r"solver\.txt: it is missing"):
        store.find(KEY)
    path.write_text(text)
    assert store.find(KEY) is not None


def test_large_files_are_hashed_on_the_full_check_only(tmp_path):
    store = Store(tmp_path)
    with store.writer(KEY, "a") as writer:
        (writer.path / "big.bin").write_bytes(bytes(QUICK_HASH_BYTES + 1))
        run = writer.finalize()
    with open(run.path / "big.bin", "r+b") as stream:
        stream.write(b"x")
    reopened = store.open("a-")
    with pytest.raises(StoreError, match="big.bin: its content has changed"):
        reopened.verify(full=True)


@pytest.mark.parametrize(
    "text, sentence",
    [
        ("{", "manifest.json: it is not JSON"),
        ("[]", "not a run folder of this program"),
        ('{"format": "other"}', "not a run folder of this program"),
        ('{"format": "simharness-run", "format_version": 2}', "format version 2: .* up to 1"),
        ('{"format": "simharness-run", "format_version": 1, "key": "a"}', "an entry is missing"),
    ],
)
def test_bad_manifests_are_refused(tmp_path, text, sentence):
    store = Store(tmp_path)
    run = sealed(store)
    (run.path / "manifest.json").write_text(text)
    with pytest.raises(StoreError, match=sentence):
        store.open(run.path.name)


def test_unreadable_runs_are_listed_and_foreign_folders_are_not(tmp_path):
    store = Store(tmp_path)
    sealed(store)
    broken = sealed(store, OTHER, "broken")
    (broken.path / "manifest.json").write_text("{")
    (tmp_path / "holiday").mkdir()
    (tmp_path / "holiday" / "beach.jpg").write_text("not a run")
    assert {s.name: s.status for s in store.runs()} == {f"wr340-{KEY}": "done", f"broken-{OTHER}": "damaged"}
    with pytest.raises(StoreError, match="holiday is not a run folder"):
        store.open("holiday")


def test_renamed_run_is_refused_and_a_stray_copy_does_not_hide_the_run(tmp_path):
    store = Store(tmp_path)
    run = sealed(store)
    shutil.copytree(run.path, tmp_path / f"copy-{KEY}")
    with pytest.raises(StoreError, match=f"copy-{KEY} does not fit its manifest"):
        store.open(f"copy-{KEY}")
    assert store.find(KEY) == run


def test_runs_are_opened_by_prefix_of_name_or_key_or_by_path(tmp_path):
    store = Store(tmp_path)
    run, other = sealed(store), sealed(store, OTHER, "wr284")
    with store.writer(request_key("third"), "wr340") as writer:
        failed = writer.fail("invented")
    for name in ("wr340", f"wr340-{KEY[:4]}", KEY, KEY[:6], str(run.path)):
        assert store.open(name) == run
    assert store.open("wr2") == other
    assert store.open("failed") == failed
    with pytest.raises(StoreError, match="'wr' may mean 2 runs: wr284-.*, wr340-"):
        store.open("wr")
    for name in ("nothing", "", "..", ".lock", "/etc"):
        with pytest.raises(StoreError, match="there is no run"):
            store.open(name)


# --- the machine --------------------------------------------------------------------------


@pytest.fixture
def mounted(tmp_path):
    """A function that mounts a tiny file system in memory; skips where that is not allowed."""
    folders = []

    def mount(options: str):
        folder = tmp_path / "mounted"
        folder.mkdir(exist_ok=True)
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)], capture_output=True, text=True
        )
        if done.returncode != 0:
            pytest.skip(f"no right to mount: {done.stderr.strip()}")
        folders.append(folder)
        return folder

    if shutil.which("mount") is None:
        pytest.skip("there is no mount command")
    yield mount
    for folder in folders:
        subprocess.run(["umount", str(folder)], check=True)


def test_full_disk_is_one_sentence_and_nothing_looks_finished(mounted):
    """A real full disk: a file system of 256 KiB in memory."""
    store = Store(mounted("size=256k"))
    arrays = {"frequency": np.zeros(100_000)}
    full = "cannot write .*results.h5: the disk is full"
    with pytest.raises(MachineError, match=full), store.writer(KEY, "a") as writer:
        write_results(writer.path / "results.h5", arrays)
    assert os.listdir(store.root) == []
    with pytest.raises(MachineError, match="the disk is full"), store.writer(KEY, "a") as writer:
        with pytest.raises(OSError, match="No space left"):
            (writer.path / "filler").write_bytes(bytes(300_000))
        writer.finalize()
    assert os.listdir(store.root) == []
    assert store.find(KEY) is None


def test_read_only_disk_is_one_sentence(mounted):
    """A real read-only file system."""
    store = Store(mounted("ro,size=64k"))
    read_only = "cannot work in .*: the file system is read-only"
    with pytest.raises(MachineError, match=read_only), store.writer(KEY, "a"):
        pass
    assert store.find(KEY) is None


def test_file_in_place_of_the_store(tmp_path):
    (tmp_path / "runs").write_text("a file")
    for root in (tmp_path / "runs", tmp_path / "runs" / "deeper"):
        with pytest.raises(MachineError, match="cannot work in .*file"), Store(root).writer(KEY, "a"):
            pass


@pytest.mark.parametrize(
    "number, sentence",
    [(errno.ENOSPC, "the disk is full"), (errno.EDQUOT, "quota"), (errno.EACCES, "permission")],
)
def test_simulated_refusal_while_sealing(tmp_path, monkeypatch, number, sentence):
    """Simulated: the rename to the final name is made to fail with each error number."""
    store = Store(tmp_path)

    def refuse(*_):
        raise OSError(number, os.strerror(number))

    with pytest.raises(MachineError, match=sentence), store.writer(KEY, "a") as writer:
        monkeypatch.setattr(os, "rename", refuse)
        writer.finalize()
    assert os.listdir(tmp_path) == []


def test_manifest_is_plain_json(tmp_path):
    run = sealed(Store(tmp_path))
    content = json.loads((run.path / "manifest.json").read_text())
    assert content["format"] == "simharness-run" and content["format_version"] == 1
    assert content["key"] == KEY and content["files"]["log/solver.txt"]["bytes"] == 20
