"""A started child: its output read piece by piece, its end asked for, waited for, or brought about."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import subprocess
import time
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from io import FileIO

from simharness.errors import MachineError
from simharness.files import machine_errors
from simharness.solver.lines import LineSplitter

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


class Child:
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
