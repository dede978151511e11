"""A measured file that was dropped on the page: what it is, and its comparison with a run in a process of its
own.

Its name is only ever shown. The process keeps the file in a private folder, which goes with it.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath, PureWindowsPath
from typing import Any

from simharness.errors import InputError
from simharness.printable import quoted

LARGEST = 2_000_000
"""Bytes of a file that is taken."""

ONE_PORT, LEVELS = "one-port", "levels"
_TABLES = (".csv", ".txt", ".tsv", ".dat")
_ENDED = "the comparison ended before it had an answer; drop the file again"


def too_large(name: str) -> str:
    """The sentence about a file that is too large."""
    return f"measured file = {quoted(name)}: must be at most {LARGEST // 1_000_000} MB"


@dataclass(frozen=True)
class Dropped:
    """A file in memory.

    Attributes
    ----------
    name : str
        Its last part, safe to show and never a path.
    kind : str
        `ONE_PORT` or `LEVELS`.
    data : bytes
    """

    name: str
    kind: str
    data: bytes = field(repr=False)


def dropped(name: str, data: bytes) -> Dropped:
    """What was dropped, by its name.

    Raises
    ------
    InputError
        It is too large, or of no known kind.

    Examples
    --------
    >>> dropped("../../etc/<b>.S1P", b"")
    Dropped(name='<b>.S1P', kind='one-port')
    """
    last = PureWindowsPath(PurePosixPath(name).name).name
    shown = quoted(last)
    if len(data) > LARGEST:
        raise InputError("measured file", shown, f"must be at most {LARGEST // 1_000_000} MB")
    ending = PurePosixPath(last).suffix.lower()
    if ending == ".s1p":
        return Dropped(shown, ONE_PORT, data)
    if ending in _TABLES:
        return Dropped(shown, LEVELS, data)
    raise InputError(
        "measured file",
        shown,
        f"must be a Touchstone one-port (.s1p) or a table of levels ({', '.join(_TABLES)})",
    )


@dataclass(frozen=True)
class Answer:
    """What a comparison found, as plain texts.

    Attributes
    ----------
    title : str
    head : tuple of str
    rows : tuple of tuple of str
    sentences : tuple of str
    picture : bytes
        PNG.
    """

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    sentences: tuple[str, ...]
    picture: bytes = field(repr=False)


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
        from simharness.page.compare.work import work

        spawn = multiprocessing.get_context("spawn")
        self._pipe, theirs = spawn.Pipe()
        self._process = spawn.Process(target=work, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()
        with contextlib.suppress(OSError):  # a process that is gone is seen when its end is read
            self._pipe.send((runs, run, file, dict(options)))
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def ended(self) -> bool:
        """Whether there is an answer, or never will be."""
        return self.answer is not None or bool(self.trouble)

    def cancel(self) -> None:
        """End it; what it kept is removed."""
        if not self.ended:
            self.trouble = "cancelled"
        self._process.terminate()

    def _listen(self) -> None:
        """Take what the process tells, until it ends."""
        try:
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
