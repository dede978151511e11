"""One child process under supervision: transcript, progress, timeout, cancel.

The child gets a session of its own, so that it can be ended together with
everything it starts. Its output (both streams) goes byte for byte to a transcript
file and line by line to a callback; memory does not grow with the output.
"""

from __future__ import annotations

import contextlib
import os
import select
import signal
import subprocess
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from io import FileIO
from pathlib import Path

from simharness.errors import MachineError
from simharness.files import machine_errors
from simharness.solver.lines import LineSplitter
from simharness.solver.parent_death import PARENT_VARIABLE, die_with_parent, tied_to_parent

__all__ = [
    "Cancel",
    "LineSplitter",
    "ProcessOutcome",
    "die_with_parent",
    "ignore_line",
    "nothing",
    "supervise",
    "tied_to_parent",
]

Cancel = threading.Event | Callable[[], bool]
"""Asked again and again whether to stop: an event that is set, or a function that returns true."""

LAST_LINES = 20
"""How many lines an outcome remembers."""

_POLL_S = 0.1
_END_POLL_S = 0.01
"""Between the end of the output and that of the child there are usually a few hundredths of a second."""

_CHUNK = 65536
_PIPE_LIMIT = 1 << 20


@dataclass(frozen=True)
class ProcessOutcome:
    """How a child ended.

    `status` is ``"exited"`` (by itself, or by a signal not of ours), ``"timeout"``
    or ``"cancelled"``; `returncode` is negative for a signal, whose name is then in
    `signal`; `seconds` is wall-clock time; `last_lines` the end of the output.
    """

    status: str
    returncode: int
    signal: str | None
    seconds: float
    last_lines: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """Whether the child exited by itself with 0 (which proves nothing about its results)."""
        return self.status == "exited" and self.returncode == 0


def ignore_line(line: str) -> None:
    """The callback that does nothing."""


def nothing() -> None:
    """No work beside that of the child."""


def supervise(
    argv: Sequence[str | Path],
    cwd: Path | str,
    transcript_path: Path | str,
    *,
    on_line: Callable[[str], object] = ignore_line,
    meanwhile: Callable[[], object] = nothing,
    timeout_s: float | None = None,
    cancel: Cancel | None = None,
    env: Mapping[str, str] | None = None,
    grace_s: float = 5.0,
) -> ProcessOutcome:
    """Run a child to its end, or end it.

    Parameters
    ----------
    argv : sequence of str or Path
        Program and arguments; no shell.
    cwd : Path or str
        Working folder of the child.
    transcript_path : Path or str
        File for the output of the child, made anew.
    on_line : callable
        Called with each line in the calling thread; what it raises ends the child
        and passes on, but for KeyboardInterrupt, which cancels.
    meanwhile : callable
        Called once when the child has been started, in the calling thread: work of a
        second or so that need not wait for the child, whose output waits in the pipe
        until then, as do timeout and interrupts. What it raises ends the child and
        passes on.
    timeout_s : float, optional
        Wall-clock allowance in seconds.
    cancel : threading.Event or callable, optional
        Asked ten times a second whether to end the child.
    env : mapping, optional
        The whole environment of the child (default: that of this process); LC_ALL=C
        and `PARENT_VARIABLE` are set on top.
    grace_s : float
        Seconds between SIGTERM and SIGKILL.

    Returns
    -------
    ProcessOutcome
        With a keyboard interrupt as ``"cancelled"``; a second one kills at once.

    Raises
    ------
    MachineError
        When the program cannot be started, or the transcript cannot be written
        (the child is killed then).
    """
    asked = _cancel_question(cancel)
    with contextlib.ExitStack() as stack:
        with machine_errors(f"write {transcript_path}"):
            transcript = stack.enter_context(open(transcript_path, "wb", buffering=0))
        interrupts = stack.enter_context(_counted_interrupts())
        child = _Child(_started(argv, cwd, env), transcript, on_line)
        try:
            meanwhile()
            outcome = child.followed(timeout_s, grace_s, asked, interrupts)
        except BaseException:
            child.kill()
            raise
    # An interrupt may have come when the child had just ended: it must not be lost.
    late = interrupts and outcome.status == "exited"
    return replace(outcome, status="cancelled") if late else outcome


def _cancel_question(cancel: Cancel | None) -> Callable[[], bool]:
    if cancel is None:
        return lambda: False
    return cancel if callable(cancel) else cancel.is_set


def _started(
    argv: Sequence[str | Path], cwd: Path | str, env: Mapping[str, str] | None
) -> subprocess.Popen[bytes]:
    environment = dict(os.environ if env is None else env)
    environment |= {"LC_ALL": "C", PARENT_VARIABLE: str(os.getpid())}
    try:
        return subprocess.Popen(
            [os.fspath(word) for word in argv],
            cwd=cwd,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            bufsize=0,
            start_new_session=True,
        )
    except OSError as exc:
        raise MachineError(f"cannot start {argv[0]} in {cwd}: {exc.strerror}") from exc


@contextlib.contextmanager
def _counted_interrupts() -> Iterator[list[int]]:
    """Keyboard interrupts inside the block, gathered in a list instead of raised.

    An interrupt raised between the start of the child and the first line of a `try`
    would leave the child alone. Only the main thread gets interrupts, and a handler
    that somebody else has put in place is left there.
    """
    seen: list[int] = []
    usual = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if not usual or threading.current_thread() is not threading.main_thread():
        yield seen
        return
    signal.signal(signal.SIGINT, lambda number, frame: seen.append(number))
    try:
        yield seen
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)


class _Child:
    """A started child and its output; no process of its group outlives `end` or `kill`."""

    def __init__(
        self,
        process: subprocess.Popen[bytes],
        transcript: FileIO,
        on_line: Callable[[str], object],
    ):
        self._process, self._transcript, self._on_line = process, transcript, on_line
        assert process.stdout is not None
        self._pipe = process.stdout
        self._splitter = LineSplitter()
        self._last: deque[str] = deque(maxlen=LAST_LINES)
        self._open = True
        self._begin = time.monotonic()

    def followed(
        self,
        timeout_s: float | None,
        grace_s: float,
        cancelled: Callable[[], bool],
        interrupts: list[int],
    ) -> ProcessOutcome:
        """Read until the child is gone, ending it when time is up or on request."""
        status, kill_at = "exited", None
        while not self._has_exited():
            try:
                self._read(_POLL_S if self._open else _END_POLL_S)
                if kill_at is None and (interrupts or cancelled()):
                    raise KeyboardInterrupt
            except KeyboardInterrupt:
                if kill_at is None:
                    status = "cancelled"
                    kill_at = self._ask_to_end(grace_s)
            now = time.monotonic()
            if kill_at is None and timeout_s is not None and now - self._begin > timeout_s:
                status = "timeout"
                kill_at = self._ask_to_end(grace_s)
            if kill_at is not None and (now > kill_at or len(interrupts) > 1):
                break
        seconds = time.monotonic() - self._begin
        code = self.end()
        name = None
        if code < 0:
            with contextlib.suppress(ValueError):
                name = signal.Signals(-code).name
        return ProcessOutcome(status, code, name, seconds, tuple(self._last))

    def _ask_to_end(self, grace_s: float) -> float:
        """Send SIGTERM to the group; the moment when patience ends."""
        self._signal_group(signal.SIGTERM)
        return time.monotonic() + grace_s

    def end(self) -> int:
        """Kill what is left of the group, read what it still had to say, reap; the return code."""
        # The leader is not reaped yet: nobody else can have its number.
        self._signal_group(signal.SIGKILL)
        # Twice as much as a pipe can hold: a process that left the group may go on writing.
        for _ in range(2 * _PIPE_LIMIT // _CHUNK):
            if not self._open or not self._read(0.05):
                break
        self._emit(self._splitter.flush())
        return self.kill()

    def kill(self) -> int:
        """Kill the group and reap without reading any more; the return code."""
        if self._process.returncode is None:
            self._signal_group(signal.SIGKILL)
            self._pipe.close()
            self._reap()
        return self._process.returncode

    def _reap(self) -> None:
        try:
            self._process.wait(10.0)
        except subprocess.TimeoutExpired as exc:
            raise MachineError(
                f"process {self._process.pid} does not end though killed: "
                "it hangs inside the operating system"
            ) from exc

    def _has_exited(self) -> bool:
        flags = os.WEXITED | os.WNOHANG | os.WNOWAIT
        return os.waitid(os.P_PID, self._process.pid, flags) is not None

    def _signal_group(self, number: int) -> None:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self._process.pid, number)

    def _read(self, wait_s: float) -> bool:
        """Pass on a piece of output; whether there was any within the time."""
        if not self._open:
            time.sleep(wait_s)
            return False
        if not select.select([self._pipe], [], [], wait_s)[0]:
            return False
        chunk = os.read(self._pipe.fileno(), _CHUNK)
        if not chunk:
            self._open = False
            return False
        with machine_errors(f"write {self._transcript.name}"):
            rest = memoryview(chunk)
            while rest:
                rest = rest[self._transcript.write(rest) :]
        self._emit(self._splitter.feed(chunk))
        return True

    def _emit(self, lines: Iterator[str]) -> None:
        for line in lines:
            self._last.append(line)
            self._on_line(line)
