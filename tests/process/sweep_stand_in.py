"""A stand-in for the solver in the workers of a sweep, and the programs that use it.

    python sweep_stand_in.py worker TASK     a worker whose runs take no time, or last as long as a file
                                             `hold-HEIGHT` is there
    python sweep_stand_in.py cli WORDS ...   the command line with such workers

Its solver is a process of its own, supervised like the real one. Each solver that starts leaves a file
`begun-HEIGHT-PID` beside the folder of the runs. All data is invented: |S11| is least at 10 GHz and 20 MHz
more for each millimetre of the probe above 6 mm.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from simharness.errors import CancelledError, SolverError
from simharness.results.outputs import write_results
from simharness.solver.machine import Machine
from simharness.solver.process import supervise
from simharness.sweep import cluster, task

ON = Machine("stand-in 1", 1)
CENTRE, PER_MM, WIDTH, FLOOR = 10.0e9, 20e6, 1e9, 0.1

SOLVER = """
import sys, time
from pathlib import Path
from simharness.solver.process import die_with_parent
die_with_parent()
hold, begun = Path(sys.argv[1]), Path(sys.argv[2])
import os
begun.with_name(f"{begun.name}-{os.getpid()}").touch()
while hold.exists():
    print("holding", flush=True)
    time.sleep(0.05)
"""


def best_match(height_mm: float) -> float:
    """Frequency (Hz) of the best match of the stand-in."""
    return CENTRE + PER_MM * (height_mm - 6.0)


def stand_in_results(height_mm: float) -> dict[str, np.ndarray]:
    """Arrays of a run."""
    frequency = np.linspace(9.6e9, 10.4e9, 401)
    return {"frequency": frequency, "s11": FLOOR + 1j * (frequency - best_match(height_mm)) / WIDTH}


def solve(what, store, record, *, progress):
    """In the place of `simharness.runs.execution.solve`."""
    found = store.find(what.key)
    if found is not None:
        return found
    store.clear_stale()
    height = f"{record.feed.height_mm:g}"
    with store.writer(what.key, what.request.scene.name) as writer:
        argv = [
            sys.executable,
            "-c",
            SOLVER,
            store.root.parent / f"hold-{height}",
            store.root.parent / f"begun-{height}",
        ]
        end = supervise(
            argv,
            writer.path,
            writer.path / "transcript.txt",
            on_line=lambda line: progress.advance(0.5, 1.0, line),
        )
        if end.status == "cancelled":
            raise CancelledError("interrupted: nothing was kept")
        if (store.root.parent / f"fail-{height}").exists():
            raise SolverError("the stand-in was told to fail")
        write_results(
            writer.path / "results.h5",
            stand_in_results(record.feed.height_mm),
            {"note": "invented", "quality": what.quality},
        )
        return writer.finalize("finished")


def work(what: task.Task, mark: str) -> task.Outcome:
    """In the place of `simharness.sweep.cluster.work`: the same with this solver."""
    _put_in()
    return cluster.work(what, mark)


def _put_in() -> None:
    task.solve = solve
    cluster.machine = lambda: ON


def main() -> None:
    """See the top of this file."""
    kind = sys.argv.pop(1)
    _put_in()
    if kind == "worker":
        from simharness.sweep.worker import main as run
    else:
        from functools import partial

        import sweep_stand_in  # by this name the Dask workers find it too

        from simharness.cli.main import main as run
        from simharness.sweep import backend, execution, local

        local.PROGRAM = program()
        backend.cluster_events = partial(cluster.cluster_events, what=sweep_stand_in.work)
        execution.machine = lambda: ON
    run()


def program() -> tuple[str, ...]:
    """Command line of a worker with this solver."""
    return sys.executable, str(Path(__file__).resolve()), "worker"


if __name__ == "__main__":
    main()
