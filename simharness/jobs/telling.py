"""What a job tells while it is worked on: written to its folder a few times a second at most."""

from __future__ import annotations

import contextlib
import math
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.errors import MachineError
from simharness.files import atomic_write_text
from simharness.jobs.folder import INTERIM, LONGEST_TEXT, MOST_NOTES, STATUS, json_text
from simharness.jobs.job import RUNNING
from simharness.runs.manifest import utc_now

if TYPE_CHECKING:
    from numpy.typing import NDArray

EVERY_S = 0.25
"""Least time between two writings of the status."""

TRIES, PAUSE_S = 5, 0.5
"""How often the end of a job is tried to be written down, and how long it is waited in between."""

_DIGITS = 6
"""Decimals of S11 that are kept."""


class Teller:
    """Progress of a job, told through its status; the work never waits for the disk, nor fails by it.

    Parameters
    ----------
    folder : Path
        Of the job.

    Raises
    ------
    MachineError
        The folder cannot be written: then the work need not begin.
    """

    def __init__(self, folder: Path):
        self._folder = folder
        self._status: dict[str, Any] = {
            "state": RUNNING,
            "share": 0.0,
            "seconds_left": None,
            "text": "begun",
            "notes": [],
            "started": utc_now(),
            "looks": 0,
        }
        self._interim: dict[str, Any] | None = None
        self._lock = threading.Lock()
        self._new = False
        self._over = threading.Event()
        atomic_write_text(folder / STATUS, json_text(self._status))
        self._thread = threading.Thread(target=self._write_now_and_then, daemon=True)
        self._thread.start()

    def note(self, text: str) -> None:
        with self._lock:
            self._status["notes"] = [*self._status["notes"], text[:LONGEST_TEXT]][-MOST_NOTES:]
            self._new = True

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        with self._lock:
            self._status |= {
                "share": round(min(max(share, 0.0), 1.0), 4) if math.isfinite(share) else 0.0,
                "seconds_left": round(seconds_left, 1) if math.isfinite(seconds_left) else None,
                "text": text[:LONGEST_TEXT],
            }
            self._new = True

    def done(self) -> None: ...

    def interim_match(self, frequency: NDArray, s11: NDArray, moving: float) -> None:
        """Keep S11 (f,) of the run under way over frequency (f,) in Hz, which still moves by `moving`."""
        with self._lock:
            self._interim = {
                "frequency_hz": frequency.tolist(),
                "s11_re": s11.real.round(_DIGITS).tolist(),
                "s11_im": s11.imag.round(_DIGITS).tolist(),
                "moving": moving if math.isfinite(moving) else None,
            }
            self._status["looks"] += 1
            self._new = True

    def end(self, state: str, text: str, exit_code: int) -> None:
        """Write down how it ended; MachineError where that cannot be written."""
        self._over.set()
        self._thread.join()
        if state == "finished":
            self._status["share"] = 1.0
        self._status |= {
            "state": state,
            "text": text[:LONGEST_TEXT],
            "seconds_left": None,
            "ended": utc_now(),
            "exit_code": exit_code,
        }
        self._new = True
        for attempt in range(1, TRIES + 1):
            try:
                self._write()
                return
            except MachineError:
                if attempt == TRIES:
                    raise
                time.sleep(PAUSE_S)

    def _write_now_and_then(self) -> None:
        while not self._over.wait(EVERY_S):
            with contextlib.suppress(MachineError, OSError):
                self._write()

    def _write(self) -> None:
        with self._lock:
            if not self._new:
                return
            status, interim = json_text(self._status), self._interim
            self._new, self._interim = False, None
        try:
            # First, so that a look that the status counts is there.
            if interim is not None:
                atomic_write_text(self._folder / INTERIM, json_text(interim))
            atomic_write_text(self._folder / STATUS, status)
        except (MachineError, OSError):
            self._new = True
            raise
