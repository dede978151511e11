"""A dropped file held against a run in a process of its own: the answer, and the ways to none."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from simharness.page.compare.comparison import Comparison
from simharness.page.compare.dropped import Dropped, dropped

ROOT = Path(__file__).parents[2]
RUNS = ROOT / "docs" / "runs"
RUN = "four-slot-9g6-8ac674ebc42b45b2"
LEVELS = dropped("turned.csv", (ROOT / "docs" / "turned-across.csv").read_bytes())
ONE_PORT = dropped("bench.s1p", (ROOT / "docs" / "bench-9g6.s1p").read_bytes())
PATIENCE = 90.0


@pytest.fixture
def private(tmp_path, monkeypatch):
    """The folder in which the process makes its own."""
    folder = tmp_path / "private"
    folder.mkdir()
    monkeypatch.setenv("TMPDIR", str(folder))
    return folder


def until(question, seconds: float = PATIENCE) -> None:
    """Wait for something to be so."""
    end = time.monotonic() + seconds
    while not question():
        assert time.monotonic() < end, "nothing came of it"
        time.sleep(0.05)


def begun(file: Dropped, **options) -> Comparison:
    return Comparison(str(RUNS), RUN, file, options)


def test_levels_are_answered_as_the_command_says_it(private):
    found = begun(LEVELS, turned="across")
    until(lambda: found.ended)
    assert not found.trouble
    assert found.answer.picture.startswith(b"\x89PNG")
    assert "four-slot-9g6" in found.answer.title and "turned.csv" in found.answer.title
    assert len(found.answer.rows[0]) == len(found.answer.head) and found.answer.sentences
    until(lambda: not found._process.is_alive())
    assert list(private.iterdir()) == []


def test_a_file_that_cannot_be_read_is_told_by_its_own_name(private):
    for file in (
        dropped("<b>.s1p", b"# GHz S RI R 50\nx y z\n"),
        dropped("<b>.csv", b"1 2\n3 4 5\n"),
        dropped("<b>.csv", b"\xff\xfe\x00"),
    ):
        found = begun(file, **({"turned": "along"} if file.kind == "levels" else {}))
        until(lambda found=found: found.ended)
        assert found.answer is None
        assert (
            "<b>" in found.trouble and str(private) not in found.trouble and "dropped." not in found.trouble
        )


def test_an_unknown_run_is_one_sentence(private):
    found = Comparison(str(RUNS), "nothing", LEVELS, {"turned": "along"})
    until(lambda: found.ended)
    assert "there is no run 'nothing'" in found.trouble


def test_a_cancelled_comparison_ends_and_keeps_nothing(private):
    found = begun(ONE_PORT)
    until(lambda: found.share > 0)
    assert list(private.iterdir())
    found.cancel()
    until(lambda: not found._process.is_alive(), 10)
    assert found.trouble == "cancelled" and found.answer is None and list(private.iterdir()) == []


def test_a_process_that_dies_is_one_sentence(private):
    found = begun(ONE_PORT)
    until(lambda: found.share > 0)
    os.kill(found._process.pid, signal.SIGKILL)
    until(lambda: found.ended, 10)
    assert found.trouble == "the comparison ended before it had an answer; drop the file again"


def test_the_process_ends_with_a_server_that_is_killed(private):
    code = (
        "import sys, time\n"
        "sys.path[:0] = [sys.argv[1]]\n"
        "if __name__ == '__main__':\n"
        "    import test_dropped_file as here\n"
        "    found = here.begun(here.ONE_PORT)\n"
        "    here.until(lambda: found.share > 0)\n"
        "    print(found._process.pid, flush=True)\n"
        "    time.sleep(60)\n"
    )
    script = private.parent / "server.py"
    script.write_text(code)
    server = subprocess.Popen(
        [sys.executable, str(script), str(Path(__file__).parent)], stdout=subprocess.PIPE, text=True
    )
    child = int(server.stdout.readline())
    assert Path(f"/proc/{child}").exists()
    server.kill()
    server.wait()
    server.stdout.close()
    until(lambda: not Path(f"/proc/{child}").exists(), 30)
    assert list(private.iterdir()) == []
