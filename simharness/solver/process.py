"""One child process under supervision: transcript, progress, timeout, cancel.

The child gets a session of its own, so that it can be ended together with
everything it starts. Its output (both streams) goes byte for byte to a transcript
file and line by line to a callback; memory does not grow with the output.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from simharness.errors import MachineError
from simharness.files import machine_errors
from simharness.solver.child import Child, ProcessOutcome
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
    asked = cancel_question(cancel)
    with contextlib.ExitStack() as stack:
        with machine_errors(f"write {transcript_path}"):
            transcript = stack.enter_context(open(transcript_path, "wb", buffering=0))
        interrupts = stack.enter_context(_counted_interrupts())
        child = Child(_started(argv, cwd, env), transcript, on_line)
        try:
            meanwhile()
            outcome = child.followed(timeout_s, grace_s, asked, interrupts)
        except BaseException:
            child.kill()
            raise
    # An interrupt may have come when the child had just ended: it must not be lost.
    late = interrupts and outcome.status == "exited"
    return replace(outcome, status="cancelled") if late else outcome


def cancel_question(cancel: Cancel | None) -> Callable[[], bool]:
    """What to ask whether work is to end, whichever way it was given; without one it never is."""
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
