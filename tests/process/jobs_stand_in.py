"""Stand-ins for the works of a queue, and the programs that use them.

    python jobs_stand_in.py worker RUNS      a worker whose works are those below
    python jobs_stand_in.py add RUNS NAME    adds a job and prints its number, then waits to be killed

A work tells half, writes its record's name into `done.txt` beside the runs, and ends; while a file
`hold-NAME` is there it goes on, and with a file `fail-NAME` or `break-NAME` it fails.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from simharness.errors import CancelledError, SolverError
from simharness.jobs import entry, worker, works
from simharness.jobs.queue import Queue
from simharness.solver.process import cancel_question

FREQUENCY = np.linspace(9.8e9, 10.2e9, 5)
S11 = np.array([0.5, 0.2 + 0.1j, 0.05j, 0.2 - 0.1j, 0.5])

RECORD = """
schema = 1
name = "{name}"
note = "Invented: one slot in a short length of WR-90."
band = {{low_ghz = 9.8, centre_ghz = 10.0, high_ghz = 10.2}}
mounting = {{axis = "vertical"}}
guide = {{a_mm = 22.86, b_mm = 10.16, length_mm = 40.0, front_wall_mm = 1.27, other_walls_mm = 1.27}}
slot = [{{position_mm = 28.0, offset_mm = 4.0, length_mm = 14.4, width_mm = 1.6}}]

[feed]
kind = "probe"
position_mm = 8.0
height_mm = 6.0
wire_diameter_mm = 1.27
coax_inner_mm = 1.27
coax_outer_mm = 4.1
"""


def record_text(name: str) -> str:
    """A record of this name."""
    return RECORD.format(name=name)


def work(task: works.Task) -> works.Outcome:
    """In the place of every function of `simharness.jobs.works`."""
    beside, name, asked = task.runs.parent, task.record.name, cancel_question(task.cancel)
    task.progress.note(f"{name} begins")
    task.progress.interim_match(FREQUENCY, S11, 0.25)
    (beside / f"begun-{name}").touch()
    while (beside / f"hold-{name}").exists():
        task.progress.advance(0.5, 12.0, "holding")
        if asked():
            raise CancelledError("interrupted: nothing was kept")
        time.sleep(0.02)
    if (beside / f"fail-{name}").exists():
        raise SolverError("the stand-in was told to fail")
    if (beside / f"break-{name}").exists():
        raise RuntimeError("the stand-in was told to break")
    with open(beside / "done.txt", "a", encoding="utf-8") as done:
        done.write(f"{name}\n")
    return works.Outcome(f"{name} is done", (f"{name}-run",), ("all is well",), {"tool": task.options})


def program() -> tuple[str, ...]:
    """Command line of a worker with these works."""
    return sys.executable, str(Path(__file__).resolve()), "worker"


def main() -> None:
    """See the top of this file."""
    kind, runs = sys.argv[1:3]
    if kind == "worker":
        works.WORKS.update(dict.fromkeys(works.WORKS, work))
        del sys.argv[1]
        worker.IDLE_S = 0.5
        worker.main()
    else:
        entry.PROGRAM = program()
        print(Queue(runs).add("solve", record_text(sys.argv[3])).number, flush=True)
        time.sleep(600)


if __name__ == "__main__":
    main()
