"""The process that compares a dropped file with a run: it tells how far it is, then what it found."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

    from simharness.library import LevelComparison, ReflectionComparison
    from simharness.page.compare.dropped import Answer, Dropped


_LARGEST_PICTURE = 20_000_000
"""Bytes; a picture of a comparison has a few hundred thousand."""


class _Told:
    """Progress that goes through the pipe; where nobody listens any more, the work ends."""

    def __init__(self, pipe: Connection):
        self._pipe = pipe

    def note(self, text: str) -> None: ...

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        self._pipe.send(("progress", (share, seconds_left, text)))

    def done(self) -> None: ...


def work(pipe: Connection) -> None:
    """Compare what comes through the pipe, and send the answer back.

    Sent are ("progress", (share, seconds left, text)), then ("answer", `Answer`) or ("trouble", sentence).
    """
    from simharness.errors import HarnessError
    from simharness.files import atomic_write_bytes

    # An end that is asked for unwinds, so that the private folder goes too; Ctrl-C is for the server.
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(1))
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    try:
        runs, run, file, options = pipe.recv()
    except EOFError:
        return
    # the name within its folder, so that no message shows where that is
    kept = Path("dropped.s1p" if file.kind == "one-port" else "dropped.csv")
    with tempfile.TemporaryDirectory(prefix="simharness-") as folder, contextlib.chdir(folder):
        try:
            atomic_write_bytes(kept, file.data)
            pipe.send(("answer", _answer(runs, run, file, kept, options, _Told(pipe))))
        except HarnessError as error:
            pipe.send(("trouble", str(error).replace(str(kept), file.name)))
        except BrokenPipeError:
            return  # the server is gone
        except OSError as error:
            pipe.send(("trouble", f"the file could not be kept for the comparison: {error.strerror}"))


def _answer(
    runs: str, run: str, file: Dropped, kept: Path, options: dict[str, Any], progress: _Told
) -> Answer:
    from simharness import compare, open_run
    from simharness.files import content
    from simharness.library import LevelComparison
    from simharness.page.compare.dropped import Answer

    opened = open_run(run, runs=runs)
    found = compare(opened, kept, progress=progress, **options)
    head, rows = _level_table(found) if isinstance(found, LevelComparison) else _reflection_table(found)
    picture = content(found.write_picture("picture.png"), _LARGEST_PICTURE)
    title = f"{opened.record.name}: full wave ({opened.quality} mesh) and {file.name}"
    return Answer(title, head, rows, tuple(found.sentences), picture)


def _reflection_table(
    found: ReflectionComparison,
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    from simharness.figures import number

    words = {True: "within the bar", False: "beyond the bar", None: ""}
    rows = [(row.label, number(row.run), number(row.measured), words[row.within]) for row in found.model.rows]
    return ("figure", "full wave", "measured", "agreement"), tuple(rows)


def _level_table(found: LevelComparison) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    from simharness.measurement.orientation_messages import level_rows

    head = (
        "angle",
        "measured, dB",
        "predicted, dB",
        "by pattern, dB",
        "by polarization, dB",
        "scattered, dB",
    )
    return head, tuple(tuple(row) for row in level_rows(found.model))
