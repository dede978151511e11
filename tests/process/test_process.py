"""Supervision of one child, tried on stand-in children that misbehave.

Times are compared with wide margins, since the machine may be busy: a limit of seconds
stands for "well before the child would have ended by itself" (60 s in all children).
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from simharness.errors import MachineError
from simharness.solver.log import digest
from simharness.solver.process import LineSplitter, supervise, tied_to_parent

SLEEP = "import time\nprint('up', flush=True)\ntime.sleep(60)\n"
STUBBORN = "import signal\nsignal.signal(signal.SIGTERM, signal.SIG_IGN)\n" + SLEEP


@pytest.fixture
def child(tmp_path):
    """A function that runs python code as supervised child in `tmp_path`."""

    def run(code: str, **options):
        script = tmp_path / "child.py"
        script.write_text(code)
        return supervise([sys.executable, script], tmp_path, tmp_path / "transcript.txt", **options)

    return run


def is_alive(pid: int) -> bool:
    """Whether a process runs (a zombie does not)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] not in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        return False


def is_gone_within(pid: int, seconds: float) -> bool:
    """Whether a process ends within a time."""
    limit = time.monotonic() + seconds
    while is_alive(pid) and time.monotonic() < limit:
        time.sleep(0.02)
    return not is_alive(pid)


def test_good_child(child, tmp_path):
    lines = []
    outcome = child(
        "import sys\nprint('one')\nsys.stdout.flush()\nprint('two', file=sys.stderr)\n", on_line=lines.append
    )
    assert (outcome.status, outcome.returncode, outcome.signal) == ("exited", 0, None)
    assert outcome.ok and lines == ["one", "two"] == list(outcome.last_lines)
    assert (tmp_path / "transcript.txt").read_bytes() == b"one\ntwo\n"


def test_environment_and_folder_of_the_child(child, tmp_path):
    code = (
        "import os, sys\nprint(os.environ['LC_ALL'], os.getcwd(), os.environ.get('EXTRA'))\n"
        "print(os.getsid(0) == os.getpid(), sys.stdin.read() == '')\n"
    )
    outcome = child(code, env={"EXTRA": "7"})
    assert outcome.last_lines == (f"C {tmp_path} 7", "True True")
    assert "EXTRA" not in os.environ and os.environ.get("LC_ALL") != "7"


def test_crash_names_the_signal(child):
    # Without the core file that the crash would leave on some machines.
    outcome = child(
        "import os, resource, signal\nprint('busy', flush=True)\n"
        "resource.setrlimit(resource.RLIMIT_CORE, (0, 0))\n"
        "os.kill(os.getpid(), signal.SIGSEGV)\n"
    )
    assert (outcome.status, outcome.returncode, outcome.signal) == ("exited", -11, "SIGSEGV")
    assert not outcome.ok and outcome.last_lines == ("busy",)


def test_exit_code_is_passed_on(child):
    outcome = child("import sys\nsys.exit(2)\n")
    assert (outcome.status, outcome.returncode, outcome.signal) == ("exited", 2, None)
    assert outcome.last_lines == ()


def test_exit_0_without_results_is_seen_in_the_transcript(child):
    """The outcome is good, the digest of the transcript is not: no last line of the solver."""
    lines = []
    outcome = child("print('Running FDTD engine...')\n", on_line=lines.append)
    assert outcome.ok and digest(lines).finished is None


def test_nan_energy_with_exit_0_is_seen_in_the_transcript(child):
    lines = []
    outcome = child(
        "print('[@        4s] Timestep:         6068 || Speed:   45.2 MC/s (6.592e-04 s/TS) "
        "|| Energy: ~  -nan (- 0.00dB)')\n"
        "print('Time for 9000 iterations with 29791.00 cells : 5.92 sec')\n",
        on_line=lines.append,
    )
    assert outcome.ok
    assert digest(lines).blown_up and digest(lines).finished.iterations == 9000


def test_hanging_child_is_ended_by_the_timeout(child):
    outcome = child(SLEEP, timeout_s=0.5)
    assert (outcome.status, outcome.signal) == ("timeout", "SIGTERM")
    assert 0.5 <= outcome.seconds < 5


def test_child_that_ignores_sigterm_is_killed_after_the_grace(child):
    cancel = threading.Event()
    outcome = child(STUBBORN, on_line=lambda line: cancel.set(), cancel=cancel, grace_s=0.5)
    assert (outcome.status, outcome.signal) == ("cancelled", "SIGKILL")
    assert 0.5 <= outcome.seconds < 10
    assert outcome.last_lines == ("up",)


def test_child_may_say_goodbye_and_still_counts_as_timed_out(child, tmp_path):
    outcome = child(
        "import signal, sys\n"
        "def bye(*_):\n    print('bye', flush=True)\n    sys.exit(0)\n"
        "signal.signal(signal.SIGTERM, bye)\n" + SLEEP,
        timeout_s=2.0,
    )
    assert (outcome.status, outcome.returncode) == ("timeout", 0) and not outcome.ok
    assert (tmp_path / "transcript.txt").read_text() == "up\nbye\n"


def test_cancel_by_event_from_the_callback(child):
    cancel = threading.Event()
    outcome = child(SLEEP, on_line=lambda line: cancel.set(), cancel=cancel)
    assert (outcome.status, outcome.signal) == ("cancelled", "SIGTERM")
    assert outcome.seconds < 10


def test_cancel_by_callable(child):
    calls = []
    outcome = child(SLEEP, cancel=lambda: len(calls) > 2 or calls.append(1))
    assert outcome.status == "cancelled" and outcome.seconds < 10


def test_keyboard_interrupt_cancels_and_the_handler_comes_back(child):
    before = signal.getsignal(signal.SIGINT)
    outcome = child(SLEEP, on_line=lambda line: os.kill(os.getpid(), signal.SIGINT))
    assert (outcome.status, outcome.signal) == ("cancelled", "SIGTERM")
    assert signal.getsignal(signal.SIGINT) is before


def test_second_keyboard_interrupt_kills_without_grace(child):
    def twice(line):
        os.kill(os.getpid(), signal.SIGINT)
        os.kill(os.getpid(), signal.SIGINT)

    outcome = child(STUBBORN, on_line=twice, grace_s=60)
    assert (outcome.status, outcome.signal) == ("cancelled", "SIGKILL")
    assert outcome.seconds < 10


def test_keyboard_interrupt_raised_by_the_callback_cancels(child):
    def interrupt(line):
        raise KeyboardInterrupt

    outcome = child(SLEEP, on_line=interrupt)
    assert (outcome.status, outcome.signal) == ("cancelled", "SIGTERM")


def test_interrupt_just_after_the_end_is_not_lost(child):
    """A line without an end is passed on only when the child is gone; so is the interrupt."""
    outcome = child("print('last', end='')\n", on_line=lambda line: os.kill(os.getpid(), signal.SIGINT))
    assert (outcome.status, outcome.returncode) == ("cancelled", 0)


def test_error_of_the_callback_ends_the_child_and_passes_on(child):
    pids = []

    def fail(line):
        pids.append(int(line))
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        child("import os, time\nprint(os.getpid(), flush=True)\ntime.sleep(60)\n", on_line=fail)
    assert len(pids) == 1 and not is_alive(pids[0])


def test_work_beside_the_child_counts_and_its_error_ends_the_child(child, tmp_path):
    (tmp_path / "go").touch()
    outcome = child(
        "import pathlib, time\nwhile pathlib.Path('go').exists(): time.sleep(0.01)\n",
        meanwhile=lambda: (time.sleep(0.3), (tmp_path / "go").unlink()),
        timeout_s=60.0,
    )
    assert outcome.ok and outcome.seconds >= 0.3
    with pytest.raises(ZeroDivisionError):
        child(
            "import os, pathlib, time\npathlib.Path('pid').write_text(str(os.getpid()))\ntime.sleep(60)\n",
            meanwhile=lambda: (_wait_for(tmp_path / "pid"), 1 / 0),
        )
    assert not is_alive(int((tmp_path / "pid").read_text()))


def _wait_for(path):
    """Until the file holds something; half a minute at most."""
    end = time.monotonic() + 30
    while not (path.exists() and path.read_text()) and time.monotonic() < end:
        time.sleep(0.01)


def test_grandchildren_are_ended_too(child):
    """They ignore SIGTERM and hold the pipe open; the child itself exits at once."""
    code = (
        "import subprocess, sys\n"
        f"p = subprocess.Popen([sys.executable, '-c', {STUBBORN!r}])\n"
        "print(p.pid, flush=True)\n"
    )
    outcome = child(code)
    assert outcome.status == "exited" and outcome.seconds < 10
    assert is_gone_within(int(outcome.last_lines[0]), 5)


FLOOD = """
import os
block = b"y" * 1_000_000
for _ in range(100):
    rest = memoryview(block)
    while rest:
        rest = rest[os.write(1, rest):]
os.write(1, b"\\nend\\n")
"""
WATCH = """
import sys
from simharness.solver.process import supervise
def peak():
    return next(int(l.split()[1]) for l in open("/proc/self/status") if l.startswith("VmHWM"))
before, seen = peak(), []
outcome = supervise([sys.executable, "-c", sys.argv[2]], sys.argv[1], sys.argv[1] + "/t.txt",
                    on_line=lambda line: seen.append(len(line)))
print(outcome.ok, outcome.last_lines[-1], seen, peak() - before)
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_flood_goes_to_the_transcript_and_not_into_memory(tmp_path):
    """100 MB without a line end; the supervisor runs alone to have a clean memory peak."""
    done = subprocess.run(
        [sys.executable, "-c", WATCH, str(tmp_path), FLOOD], capture_output=True, text=True, timeout=30
    )
    *facts, growth_kib = done.stdout.split(" ")
    # 4096 bytes and the ellipsis, then the line "end".
    assert " ".join(facts) == "True end [4097, 3]", done.stderr
    assert (tmp_path / "t.txt").stat().st_size == 100_000_000 + len("\nend\n")
    # A fifth of the flood leaves ample room for buffers of 64 KiB.
    assert int(growth_kib) < 20_000


def test_endless_flood_is_stopped_by_the_timeout(child, tmp_path):
    outcome = child("while True:\n    print('flood')\n", timeout_s=0.5)
    assert outcome.status == "timeout" and outcome.seconds < 10
    assert len(outcome.last_lines) == 20
    assert (tmp_path / "transcript.txt").stat().st_size > 1000


def test_lines_end_at_carriage_returns_too_and_garbage_is_replaced(child, tmp_path):
    raw = b"a\rb\r\nc\n\n\xff\xfe\nopen"
    outcome = child(f"import os\nos.write(1, {raw!r})\n")
    assert outcome.last_lines == ("a", "b", "c", "\ufffd\ufffd", "open")
    assert (tmp_path / "transcript.txt").read_bytes() == raw


def test_splitter_does_not_depend_on_the_chunks():
    raw = b"one\r\ntwo" + b"x" * 50 + b"\rthree\n\xc3\xa9"
    expected = ["one", "two" + "x" * 17 + "…", "three", "é"]
    for size in (1, 2, 3, 7, 1000):
        splitter = LineSplitter(limit=20)
        lines = [
            line for start in range(0, len(raw), size) for line in splitter.feed(raw[start : start + size])
        ]
        assert lines + list(splitter.flush()) == expected


@pytest.mark.parametrize(
    "argv, sentence",
    [(["/nonexistent/solver"], "cannot start /nonexistent/solver"), (["/"], "cannot start /")],
)
def test_program_that_cannot_be_started(tmp_path, argv, sentence):
    with pytest.raises(MachineError, match=sentence):
        supervise(argv, tmp_path, tmp_path / "t.txt")


def test_transcript_that_cannot_be_opened(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(MachineError, match="cannot write .*: a part of the path is a file"):
        supervise([sys.executable, "-c", SLEEP], tmp_path, tmp_path / "file" / "t.txt")


def test_full_disk_kills_the_child(tmp_path):
    """/dev/full refuses every byte with the error of a full disk."""
    if not os.path.exists("/dev/full"):
        pytest.skip("this machine has no /dev/full")
    note = tmp_path / "pid"
    code = f"import os\nopen({str(note)!r}, 'w').write(str(os.getpid()))\n" + SLEEP
    with pytest.raises(MachineError, match="cannot write /dev/full: the disk is full"):
        supervise([sys.executable, "-c", code], tmp_path, "/dev/full")
    assert not is_alive(int(note.read_text()))


SUPERVISOR = """
import sys
from simharness.solver.process import supervise, tied_to_parent
argv = [sys.executable, "-c", sys.argv[2]]
supervise(tied_to_parent(argv) if sys.argv[3] == "tied" else argv, sys.argv[1],
          sys.argv[1] + "/t.txt", on_line=lambda line: print(line, flush=True))
"""
REPORT = "import os, time\nprint(os.getpid(), flush=True)\ntime.sleep(60)\n"
ITSELF = "from simharness.solver.process import die_with_parent\nassert die_with_parent()\n" + REPORT


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a feature of Linux")
@pytest.mark.parametrize("code, how", [(REPORT, "tied"), (ITSELF, "itself")])
def test_child_dies_with_a_killed_supervisor(tmp_path, code, how):
    supervisor = subprocess.Popen(
        [sys.executable, "-c", SUPERVISOR, str(tmp_path), code, how], stdout=subprocess.PIPE, text=True
    )
    with supervisor:
        pid = int(supervisor.stdout.readline())
        assert is_alive(pid)
        supervisor.kill()
    assert is_gone_within(pid, 5)


def test_tied_program_keeps_exit_code_and_arguments(tmp_path):
    argv = tied_to_parent([sys.executable, "-c", "import sys\nprint(sys.argv[1])\nsys.exit(5)", "a b"])
    outcome = supervise(argv, tmp_path, tmp_path / "t.txt")
    assert (outcome.returncode, outcome.last_lines) == (5, ("a b",))
