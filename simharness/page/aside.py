"""Work that a view has done in a process of its own, which ends with this one.

The process works in a private folder, which goes with it.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import tempfile
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

Work = Callable[[Any, "Teller"], Any]
"""Given what is asked and a teller, returns the answer; a function of a module, for a process to find."""


class Teller:
    """What the work tells on its way, as the progress of the models does; where nobody listens any more, it
    ends."""

    def __init__(self, pipe: Connection):
        self._pipe = pipe

    def note(self, text: str) -> None: ...

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        """Tell how far it is."""
        self._pipe.send(("progress", (share, seconds_left, text)))

    def done(self) -> None: ...

    def found(self, part: Any) -> None:
        """Tell a part of the answer that is there before the rest."""
        self._pipe.send(("part", part))


class Aside:
    """Work under way in a process of its own.

    Parameters
    ----------
    work : callable
        See `Work`.
    asked : object
        Goes to the process as it is.
    ended : str
        What is said where the process dies.

    Attributes
    ----------
    share : float
        Done, 0 to 1.
    seconds_left : float
        As now believed.
    text : str
        What is being done.
    part : object
        What is there before the rest, None before that.
    answer : object
        None before there is one.
    trouble : str
        Why there is none; "" while there is none of it.
    """

    def __init__(self, work: Work, asked: Any, ended: str):
        self.share, self.seconds_left, self.text = 0.0, 0.0, "begins"
        self.part: Any = None
        self.answer: Any = None
        self.trouble, self._ended = "", ended
        spawn = multiprocessing.get_context("spawn")
        self._pipe, theirs = spawn.Pipe()
        self._process = spawn.Process(target=_begin, args=(theirs, work), daemon=True)
        self._process.start()
        theirs.close()
        threading.Thread(target=self._talk, args=(asked,), daemon=True).start()

    @property
    def ended(self) -> bool:
        """Whether there is an answer, or never will be."""
        return self.answer is not None or bool(self.trouble)

    def cancel(self) -> None:
        """End it; what it kept is removed."""
        if not self.ended:
            self.trouble = "cancelled"
        self._process.terminate()

    def _talk(self, asked: Any) -> None:
        """Ask the process, which takes what is asked when it has begun, and hear what it tells to its end."""
        try:
            self._pipe.send(asked)
            while not self.ended:
                what, told = self._pipe.recv()
                if what == "progress":
                    self.share, self.seconds_left, self.text = told
                elif what == "part":
                    self.part = told
                elif what == "answer":
                    self.answer = told
                else:
                    self.trouble = self.trouble or told
        except (EOFError, OSError):
            self.trouble = self.trouble or self._ended
        self._process.join(10)
        self._pipe.close()


def _begin(pipe: Connection, work: Work) -> None:
    """The process: do what comes through the pipe, and send the answer back.

    Sent are ("progress", (share, seconds left, text)) and ("part", part), then ("answer", answer) or
    ("trouble", sentence).
    """
    from simharness.errors import HarnessError

    # An end that is asked for unwinds, so that the private folder goes too; Ctrl-C is for the server.
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(1))
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    try:
        asked = pipe.recv()
    except EOFError:
        return
    with tempfile.TemporaryDirectory(prefix="simharness-") as folder, contextlib.chdir(folder):
        try:
            pipe.send(("answer", work(asked, Teller(pipe))))
        except HarnessError as error:
            pipe.send(("trouble", str(error)))
        except BrokenPipeError:
            return  # the server is gone
        except OSError as error:
            pipe.send(("trouble", f"nothing could be kept for the work: {error.strerror}"))
