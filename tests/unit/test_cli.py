"""The command line when something is wrong, and its JSON beside its text.

Commands are called through `main`, the entry point, in this process; the store is filled with small invented
runs.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from simharness.cli.commands.check import LABELS
from simharness.files import atomic_write_text
from simharness.results.outputs import write_results
from simharness.runs import execution as run_module
from simharness.runs import planning
from simharness.runs.store import Store
from simharness.solver import interpreter
from simharness.solver.machine import Machine
from simharness.verdict.assessment import LABELS as FIGURE_LABELS

RECORD = str(Path(__file__).parents[2] / "models" / "five-slot-2g45.toml")
KEY, OTHER = "0123456789abcdef", "fedcba9876543210"


@pytest.fixture
def solver(monkeypatch):
    """A machine that is said to have the solver."""
    monkeypatch.setattr(planning, "machine", lambda: Machine("openEMS 0.0.35", 2))


def sealed(root: Path, key: str = KEY, record: str | None = None) -> Path:
    with Store(root).writer(key, "invented") as writer:
        write_results(writer.path / "results.h5", {"frequency": np.array([2.45e9])}, {"note": "invented"})
        if record is not None:
            atomic_write_text(writer.path / "record.json", record)
        return writer.finalize("finished").path


def failed(root: Path, key: str = KEY) -> Path:
    with Store(root).writer(key, "invented") as writer:
        return writer.fail("the fields blew up at step 7").path


def one_sentence(err: str) -> str:
    """What follows the name of the program on the only line of standard error."""
    assert err.startswith("simharness: ") and err.endswith("\n") and err.count("\n") == 1, err
    return err.removeprefix("simharness: ").strip()


# --- stored runs: 7 -----------------------------------------------------------------------------


def test_unknown_run(call, tmp_path):
    sealed(tmp_path / "runs")
    code, out, err = call("show", "nothing-like-it")
    assert (code, out) == (7, "")
    assert one_sentence(err) == "there is no run 'nothing-like-it' in runs"


def test_ambiguous_run(call, tmp_path):
    sealed(tmp_path / "runs"), sealed(tmp_path / "runs", OTHER)
    code, out, err = call("show", "invented")
    assert (code, out) == (7, "") and "may mean 2 runs" in one_sentence(err)


@pytest.mark.parametrize("harm", ["shortened", "changed", "removed", "no-manifest", "bad-manifest", "newer"])
def test_damaged_run(call, tmp_path, harm):
    folder = sealed(tmp_path / "runs")
    results, manifest = folder / "results.h5", folder / "manifest.json"
    content = results.read_bytes()
    if harm == "shortened":
        results.write_bytes(content[:-1])
    elif harm == "changed":
        results.write_bytes(content[:-1] + bytes([content[-1] ^ 1]))
    elif harm == "removed":
        results.unlink()
    elif harm == "no-manifest":
        manifest.unlink()
    elif harm == "bad-manifest":
        manifest.write_text("{")
    else:
        manifest.write_text(manifest.read_text().replace('"format_version": 1', '"format_version": 99'))
    code, out, err = call("show", folder.name)
    assert (code, out) == (7, "")
    assert folder.name in one_sentence(err)
    listed = call("runs")
    assert listed[0] == 0 and folder.name in listed[1]
    # Sizes are compared in the list; a file that kept its size is found out by its checksum.
    status = strict_json(call("runs", "--json")[1])[0]["status"]
    assert status == {"changed": "finished", "newer": "of a newer version"}.get(harm, "damaged")
    code, out, err = call("runs", "--check")
    assert (code, folder.name in out) == (0 if harm == "newer" else 7, True)
    assert harm == "newer" or one_sentence(err) == f"1 run of 1 damaged: {folder.name}"


def test_failed_run_tells_why(call, tmp_path):
    folder = failed(tmp_path / "runs")
    code, out, err = call("show", folder.name)
    assert (code, out) == (7, "")
    assert one_sentence(err) == f"run {folder.name} failed: the fields blew up at step 7"


def test_run_without_a_record(call, tmp_path):
    code, out, err = call("show", sealed(tmp_path / "runs").name)
    assert (code, out) == (7, "") and "holds no design record" in one_sentence(err)


def test_run_with_a_record_of_another_format(call, tmp_path):
    folder = sealed(tmp_path / "runs", record='{"schema": 99}')
    code, out, err = call("show", folder.name)
    assert (code, out) == (7, "")
    assert err.startswith(f"simharness: {folder.name}/record.json: schema = 99: must be 1\n")


# --- the list -----------------------------------------------------------------------------------


@pytest.mark.parametrize("made", [True, False])
def test_runs_of_an_empty_folder(call, tmp_path, made):
    if made:
        (tmp_path / "runs").mkdir()
    assert call("runs") == (0, "no runs in runs yet: 'simharness solve RECORD' makes one\n", "")
    code, out, _ = call("runs", "--json")
    assert code == 0 and json.loads(out) == []
    assert (tmp_path / "runs").exists() == made


def test_runs_leaves_out_what_is_foreign(call, tmp_path):
    root = tmp_path / "runs"
    (root / "my-notes").mkdir(parents=True)
    (root / "a-file.txt").write_text("mine")
    assert call("runs")[1].startswith("no runs in runs yet")


def test_runs_as_json_has_what_the_text_has(call, tmp_path):
    names = [sealed(tmp_path / "runs").name, failed(tmp_path / "runs", OTHER).name]
    code, out, _ = call("runs")
    rows = [re.split(r" {2,}", line.strip()) for line in out.splitlines()[2:]]
    listed = json.loads(call("runs", "--json")[1])
    assert code == 0 and sorted(names) == sorted(row[0] for row in rows) == sorted(
        run["name"] for run in listed
    )
    for row, run in zip(rows, listed, strict=True):
        size = f"{run['size']} B" if run["size"] < 1000 else f"{run['size'] / 1e3:.0f} kB"
        assert row[:2] + row[3:] == [run["name"], run["status"], "-", "-", size] and re.fullmatch(
            r"\d+ s", row[2]
        )
    assert {run["status"] for run in listed} == {"finished", "failed"} and {run["key"] for run in listed} == {
        KEY,
        OTHER,
    }


# --- JSON of the other commands -----------------------------------------------------------------


def refuse_constant(name: str):
    raise AssertionError(f"{name} is no JSON")


def strict_json(text: str):
    """Refuses NaN and Infinity, which are not JSON."""
    return json.loads(text, parse_constant=refuse_constant)


def test_check_as_json_has_what_the_text_has(call):
    code, text, err = call("check", RECORD)
    found = strict_json(call("check", RECORD, "--json")[1])
    assert (code, err) == (0, "") and found["record"] == "five-slot-2g45" and found["figures"]
    for name in found["figures"]:
        assert name == "polarization" or LABELS.get(name, name.replace("_", " ")) in text
    shown = " ".join(text.split())
    assert found["figures"]["polarization"]["value"] in shown
    for warning in found["warnings"]:
        assert " ".join(warning.split()) in shown
    cutoff = found["figures"]["cutoff"]
    assert cutoff["unit"] == "Hz" and f"{cutoff['value'] / 1e9:.3f} GHz" in text
    assert f"{found['figures']['guide_wavelength_centre']['value'] * 1e3:.1f} mm" in text


def test_estimate_as_json_has_what_the_text_has(call):
    code, text, err = call("estimate", RECORD, "--points", "21")
    found = strict_json(call("estimate", RECORD, "--points", "21", "--json")[1])
    assert (code, err) == (0, "") and len(found["frequency_hz"]) == len(found["s11"]) == 21
    reflection = np.hypot(*np.array(found["s11"]).T)
    assert np.all(reflection <= 1 + 1e-12)  # passive; rounding errors of a few operations
    shown = " ".join(text.split())
    for name, label in FIGURE_LABELS.items():
        assert (label in text) == (name in found["figures"])
    assert found["figures"]["polarization"]["value"] in shown


@pytest.mark.parametrize("command", ["check", "estimate", "solve"])
def test_errors_leave_standard_output_empty_for_json_readers(call, command):
    code, out, err = call(command, "there-is-none.toml", "--json")
    assert (code, out) == (3, "")
    assert re.match(r"record = there-is-none.toml: .*No such file", one_sentence(err))


def test_plan_as_json_has_what_the_text_has(call, solver, tmp_path):
    code, text, _ = call("solve", RECORD, "--quality", "draft", "--plan")
    found = strict_json(call("solve", RECORD, "--quality", "draft", "--plan", "--json")[1])
    assert code == 0 and found["solver"] == "openEMS 0.0.35" and found["solver"] in text
    assert f"= {found['cells'] / 1e6:.2f} million" in text and f"{found['memory_bytes'] / 1e6:.0f} MB" in text
    assert 0 < found["typical_seconds"] <= found["most_seconds"]
    assert list(tmp_path.iterdir()) == []  # a plan writes nothing


# --- the machine: 4 -----------------------------------------------------------------------------


@pytest.mark.parametrize("missing", [("CSXCAD", "openEMS"), ("openEMS",)], ids=" and ".join)
def test_without_the_solver_a_plan_says_how_to_get_it(call, monkeypatch, missing):
    monkeypatch.setattr(interpreter, "SYSTEM_PYTHON", "/nowhere")
    there = {name: "/there" for name in interpreter.MODULES if name not in missing}
    monkeypatch.setattr(interpreter, "own_modules", lambda: there)
    code, out, err = call("solve", RECORD, "--plan")
    assert (code, out) == (4, "")
    sentence = one_sentence(err)
    assert "the field solver is missing" in sentence and all(name in sentence for name in missing)
    assert "sudo apt-get install python3-openems" in sentence and "SIMHARNESS_SOLVER_PYTHON" in sentence


@pytest.mark.parametrize(
    ("answer", "reason"),
    [
        (
            subprocess.CompletedProcess([], 1, "", "Traceback\nImportError: libfoo.so.1: cannot open\n"),
            "libfoo.so.1: cannot open",
        ),
        (subprocess.CompletedProcess([], 0, "hello", ""), "no version found"),
        (subprocess.TimeoutExpired("python", 60), "timed out"),
        (OSError(8, "Exec format error"), "Exec format error"),
    ],
    ids=["import fails", "no version", "hangs", "not a program"],
)
def test_a_solver_that_does_not_start(call, monkeypatch, answer, reason):
    def run(*_, **__):
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(interpreter, "own_modules", lambda: dict.fromkeys(interpreter.MODULES, "/there"))
    monkeypatch.setattr(interpreter.subprocess, "run", run)
    code, out, err = call("solve", RECORD, "--plan")
    assert (code, out) == (4, "")
    assert (
        "the field solver does not start" in one_sentence(err) and reason in err and "apt-get install" in err
    )


def test_too_little_memory_is_said_before_anything_starts(call, solver, monkeypatch, tmp_path):
    monkeypatch.setattr(planning, "memory_available", lambda: 100_000_000)
    code, out, err = call("solve", RECORD, "--quality", "draft")
    assert (code, out) == (4, "") and list(tmp_path.iterdir()) == []
    sentence = one_sentence(err)
    assert (
        "million cells needs about" in sentence
        and "0.1 GB are free" in sentence
        and "coarser quality" in sentence
    )


@pytest.mark.parametrize(
    "words", [("runs",), ("show", "x"), ("solve", RECORD, "--quality", "draft", "--json")], ids=lambda w: w[0]
)
def test_a_file_in_the_place_of_the_runs_folder(call, solver, tmp_path, words):
    (tmp_path / "runs").write_text("mine")
    code, out, err = call(*words)
    assert (code, out) == (4, "")
    assert one_sentence(err) == "cannot read runs: a part of the path is a file, not a folder"
    assert (tmp_path / "runs").read_text() == "mine"


# --- solve --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        ("--quality", "superb"),
        ("--feed", "loop"),
        ("--limit-minutes", "0"),
        ("--limit-minutes", "soon"),
        ("--no-such",),
    ],
    ids=" ".join,
)
def test_wrong_options_are_wrong_command_lines(call, tmp_path, words):
    code, out, err = call("solve", RECORD, *words)
    assert (code, out) == (2, "") and "Error: " in err and list(tmp_path.iterdir()) == []


def test_an_interruption_after_sealing_does_not_say_that_nothing_was_kept(
    call, solver, monkeypatch, tmp_path
):
    from simharness.cli.commands import show

    folder = sealed(tmp_path / "runs")

    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(run_module, "solve", lambda *_, **__: Store(tmp_path / "runs").open(folder.name))
    monkeypatch.setattr(show, "describe", interrupt)
    code, _, err = call("solve", RECORD, "--quality", "draft")
    assert code == 130
    assert f"'simharness show five-slot-2g45-{KEY}'" in one_sentence(err) and "interrupted" in err


def test_a_path_that_the_system_refuses_is_one_sentence(call, monkeypatch):
    import simharness

    def refuse(_):
        raise FileNotFoundError(2, "No such file or directory", "gone/away")

    monkeypatch.setattr(simharness, "read_record", refuse)
    code, out, err = call("check", RECORD)
    assert (code, out, one_sentence(err)) == (4, "", "cannot use gone/away: No such file or directory")


def test_the_sentence_and_code_in_a_process_of_its_own(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "simharness.cli.main", "show", "none", "--runs", str(tmp_path)],
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.returncode, done.stdout) == (7, "")
    assert one_sentence(done.stderr) == f"there is no run 'none' in {tmp_path}"
