"""A worker process: makes the run of the pickled task that it is given, and prints its progress.

Each line of its own is JSON with the key "share" or "status"; other lines are transcript.
"""

from __future__ import annotations

import json
import pickle
import signal
import sys
from pathlib import Path

from simharness.solver.parent_death import die_with_parent
from simharness.sweep.task import solved

LONGEST = 2000
"""Characters of a reason: long lines are cut by the reader."""


class JsonProgress:
    """Progress as lines of JSON on standard output."""

    def note(self, text: str) -> None: ...

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        print(json.dumps({"share": round(min(share, 1.0), 4)}), flush=True)

    def done(self) -> None: ...


def interrupt(number: int, frame: object) -> None:
    """Turn a request to terminate into an interruption, so that solver and run are ended in order."""
    signal.raise_signal(signal.SIGINT)


def main() -> None:
    """Make the run of the task whose file is the first argument."""
    die_with_parent()
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, interrupt)
    task = pickle.loads(Path(sys.argv[1]).read_bytes())
    outcome = solved(task, JsonProgress())
    print(json.dumps({"status": outcome.status, "reason": outcome.reason[:LONGEST]}), flush=True)


if __name__ == "__main__":
    main()
