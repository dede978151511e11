"""The program of a worker: `python -m simharness.live.worker near` or `exact`, messages by stdin and stdout.

Messages are tuples, the first entry a word. A thread reads them, so that the newest are known before the next
piece of work begins; when there is nothing more to read the process ends at once.
"""

from __future__ import annotations

import os
import queue
import sys
import threading
import time
from collections.abc import Callable
from typing import IO, Any, Protocol

from simharness.errors import HarnessError
from simharness.live.channel import read_message, write_message

_WATCH_SECONDS = 1.0
NICE = {"near": 15, "exact": 5}
"""How far a worker stands back: browser and server draw first, a solver under way keeps its cores."""

Told = Callable[[tuple], None]


class Duty(Protocol):
    """What a worker does."""

    def take(self, message: tuple) -> None:
        """Note a message; nothing is computed yet."""

    def work(self) -> bool:
        """Do one piece of work; False where there is none."""


class ExactDuty:
    """Estimate and check of one record after the other: one is asked at a time.

    Told are ``("exact", number, Exact)`` and, unless another record is asked meanwhile, ``("warned", number,
    sentences)``; ``("failed", number, sentence)`` in place of either.
    """

    def __init__(self, told: Told):
        self._told = told
        self._asked: tuple[int, Any] | None = None
        self._unchecked: tuple[int, Any] | None = None

    def take(self, message: tuple) -> None:
        """``("exact", number, record)``."""
        self._asked, self._unchecked = (message[1], message[2]), None

    def work(self) -> bool:
        """Make the estimate that is asked for, if one is; else the check of the last."""
        if self._asked is not None:
            from simharness.live.answers import exact_answer

            (number, record), self._asked = self._asked, None
            if self._answered("exact", number, lambda: exact_answer(record)):
                self._unchecked = number, record
        elif self._unchecked is not None:
            from simharness.library.analysis import check

            (number, record), self._unchecked = self._unchecked, None
            self._answered("warned", number, lambda: check(record).warnings)
        else:
            return False
        return True

    def _answered(self, word: str, number: int, work: Callable[[], Any]) -> bool:
        try:
            answer = work()
        except Exception as error:  # whatever it is, the one who waits must hear of it
            self._told(("failed", number, error_sentence(error)))
            return False
        self._told((word, number, answer))
        return True


def error_sentence(error: Exception) -> str:
    """One sentence for an error of an estimate."""
    if isinstance(error, HarnessError):
        return str(error)
    return f"the estimate of this record failed ({type(error).__name__}: {error})"


def _read(stream: IO[bytes], waiting: queue.SimpleQueue) -> None:
    while True:
        try:
            message = read_message(stream)
        except (EOFError, OSError):
            os._exit(0)  # nobody is there any more who could want an answer
        waiting.put(message)


def _watch_parent(parent: int) -> None:
    """End with the parent even where a copy of it holds the other end of the pipe open."""
    while os.getppid() == parent:
        time.sleep(_WATCH_SECONDS)
    os._exit(0)


def run(duty: Duty, waiting: queue.SimpleQueue) -> None:
    """Work for ever: all messages first, then a piece of work."""
    busy = False
    while True:
        try:
            while True:
                duty.take(waiting.get(block=not busy))
                busy = True
        except queue.Empty:
            pass
        busy = duty.work()


def main(role: str) -> None:
    """Serve as a worker of a role until the other end closes."""
    from simharness.live.near_duty import NearDuty

    if hasattr(os, "nice"):
        os.nice(NICE[role])
    source, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library may print is no message

    def told(message: tuple) -> None:
        try:
            write_message(answers, message)
        except OSError:
            os._exit(0)

    waiting: queue.SimpleQueue = queue.SimpleQueue()
    threading.Thread(target=_read, args=(source, waiting), daemon=True).start()
    threading.Thread(target=_watch_parent, args=(os.getppid(),), daemon=True).start()
    duty: Duty = NearDuty(told) if role == "near" else ExactDuty(told)
    run(duty, waiting)


if __name__ == "__main__":
    main(sys.argv[1])
