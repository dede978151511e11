"""The comparison of a dropped file with a run, in a process of its own.

The process keeps the file in a private folder, which goes with it.
"""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Mapping
from typing import Any

from simharness.page.compare.dropped import Answer, Dropped
from simharness.page.compare.work import work

_ENDED = "the comparison ended before it had an answer; drop the file again"


class Comparison:
    """A comparison under way in a process of its own, which ends with this one.

    Parameters
    ----------
    runs, run : str
        Folder of the stored runs, and full name of one.
    file : Dropped
    options : mapping
        As `simharness.compare` takes them.

    Attributes
    ----------
    share : float
        Done, 0 to 1.
    seconds_left : float
        As now believed.
    text : str
        What is being done.
    answer : Answer or None
    trouble : str
        Why there is none; "" while there is none of it.
    """

    def __init__(self, runs: str, run: str, file: Dropped, options: Mapping[str, Any]):
        self.run, self.file = run, file
        self.share, self.seconds_left, self.text = 0.0, 0.0, "begins"
        self.answer: Answer | None = None
        self.trouble = ""
        spawn = multiprocessing.get_context("spawn")
        self._pipe, theirs = spawn.Pipe()
        self._process = spawn.Process(target=work, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()
        asked = (runs, run, file, dict(options))
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

    def _talk(self, asked: tuple[Any, ...]) -> None:
        """Ask the process, which takes the file when it has begun, and hear what it tells to its end."""
        try:
            self._pipe.send(asked)
            while not self.ended:
                what, told = self._pipe.recv()
                if what == "progress":
                    self.share, self.seconds_left, self.text = told
                elif what == "answer":
                    self.answer = told
                else:
                    self.trouble = self.trouble or told
        except (EOFError, OSError):
            self.trouble = self.trouble or _ENDED
        self._process.join(10)
        self._pipe.close()
