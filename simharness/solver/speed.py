"""How fast the solver steps on this machine, and with how many threads: measured once by short runs."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from simharness.errors import CancelledError, MachineError, SolverError
from simharness.geometry import antenna_scene
from simharness.mesh.grid import grid
from simharness.mesh.settings import QUALITIES
from simharness.progress import Progress
from simharness.records import Record
from simharness.solver import log
from simharness.solver.interpreter import child_command
from simharness.solver.machine import Machine, Speed, remember, remembered, usable_cores
from simharness.solver.model.request import write_request
from simharness.solver.process import supervise
from simharness.solver.settings import SolverRequest, SolverSettings

STEPS = 200
"""Time steps of one measurement: a second or so. Start and operator take two or three more."""

BUSY = 0.5
"""Programs that run or want to, per core of the machine, above which it is not measured."""

LIMIT_SECONDS = 60.0
"""Allowance of one measurement."""

ANTENNA = {
    "schema": 1,
    "name": "speed",
    "note": "Invented: as many cells, solids and records as a short antenna on a draft mesh.",
    "band": {"low_ghz": 2.4, "centre_ghz": 2.44, "high_ghz": 2.48},
    "mounting": {"axis": "vertical"},
    "guide": {"a_mm": 90.0, "b_mm": 45.0, "length_mm": 320.0, "front_wall_mm": 0.5, "other_walls_mm": 0.5},
    "slot_rule": {
        "count": 3,
        "first_mm": 110.0,
        "spacing_mm": 83.5,
        "offset_mm": 13.7,
        "alternate": True,
        "length_mm": 59.3,
        "width_mm": 6.0,
    },
    "feed": {
        "kind": "probe",
        "position_mm": 30.0,
        "height_mm": 26.0,
        "wire_diameter_mm": 1.5,
        "coax_inner_mm": 1.27,
        "coax_outer_mm": 4.1,
    },
}


class ShortRequest(SolverRequest):
    """A request that ends after a few steps, whatever its pulse."""

    @property
    def steps(self) -> int:
        """Time steps made."""
        return STEPS


def measured_machine(known: Machine, progress: Progress) -> Machine:
    """A machine with measured threads and speeds: as known, or measured now and remembered.

    Parameters
    ----------
    known : Machine
        From `machine()`. It is returned as it is where it was measured before, where nothing can be
        remembered, and where other programs would spoil the measurement.

    Raises
    ------
    CancelledError
        The user interrupted.
    """
    if known.measured or remembered() is None:
        return known
    if os.getloadavg()[0] > BUSY * (os.cpu_count() or 1):
        progress.note("this machine is busy: its speed is taken as usual, and measured when it is idle")
        return known
    counts = thread_counts(usable_cores())
    threads, seconds = " or ".join(map(str, counts)), 4 * len(counts) + 6
    progress.note(f"measuring this machine once, with {threads} threads: about {seconds} s")
    try:
        found = measured(known.solver, counts, known.python)
    except (SolverError, MachineError) as error:
        progress.note(f"this machine could not be measured, its speed is taken as usual ({error})")
        return known
    remember(found)
    return found


def measured(solver: str, counts: Sequence[int], python: str = "") -> Machine:
    """The fastest number of threads, and the speeds with it.

    Parameters
    ----------
    solver : str
        Its name and version.
    counts : sequence of int
        Numbers of threads to try.
    python : str
        The Python that runs it; see `Machine`.

    Raises
    ------
    SolverError, MachineError, CancelledError
        A run failed, the machine refused the files, the user interrupted.
    """
    plain = {count: run_speed(short_request(layered=False), count, python) for count in counts}
    threads = max(counts, key=lambda count: plain[count].cells_per_second)
    layered = run_speed(short_request(layered=True), threads, python)
    return Machine(solver, threads, plain[threads], layered, date.today().isoformat(), python)


def thread_counts(cores: int) -> tuple[int, ...]:
    """Numbers of threads worth trying, at most four, from one to all cores.

    The solver is bound by memory: on many cores the fastest number may be far below theirs.

    Examples
    --------
    >>> [thread_counts(cores) for cores in (1, 2, 4, 8, 64)]
    [(1,), (1, 2), (1, 2, 3, 4), (1, 2, 4, 8), (1, 4, 16, 64)]
    """
    if cores <= 4:
        return tuple(range(1, cores + 1))
    return tuple(round(cores ** (part / 3)) for part in range(4))


def short_request(layered: bool) -> ShortRequest:
    """A few steps of an invented antenna on a draft mesh, open faces with absorbing layers or without."""
    mesh = QUALITIES["draft"]
    mesh = (
        replace(mesh, margin_wavelengths=0.25, absorber_cells=8)
        if layered
        else replace(mesh, absorber_cells=0)
    )
    scene = antenna_scene(Record.model_validate(ANTENNA))
    return ShortRequest(scene, grid(scene, mesh), SolverSettings(mesh))


def run_speed(request: SolverRequest, threads: int, python: str = "") -> Speed:
    """Speed of the solver on one request, by its own child; `python` as in `Machine`.

    Raises
    ------
    SolverError
        The child failed or took too long.
    CancelledError
        The user interrupted.
    """
    lines: list[str] = []
    marks: dict[type, float] = {}

    def note(line: str) -> None:
        lines.append(line)
        marks.setdefault(str, time.monotonic())
        marks.setdefault(type(log.event(line)), time.monotonic())

    with tempfile.TemporaryDirectory(prefix="simharness-") as name:
        folder = Path(name)
        write_request(request, folder)
        argv = child_command(python, folder, str(threads))
        outcome = supervise(argv, folder, folder / "transcript.txt", on_line=note, timeout_s=LIMIT_SECONDS)
    if outcome.status == "cancelled":
        raise CancelledError("interrupted: nothing was kept")
    finished = log.digest(lines).finished
    if not outcome.ok or finished is None or finished.seconds <= 0 or log.Running not in marks:
        raise SolverError("a short run failed")
    cells = request.grid.cells
    return Speed(cells * finished.iterations / finished.seconds, (marks[log.Running] - marks[str]) / cells)
