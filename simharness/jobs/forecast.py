"""What a work will take, before it is begun."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from simharness.jobs.options import full_options
from simharness.progress import span
from simharness.records import Record

ESTIMATE_ALONE = "half a minute or so by the estimate alone; the solver is not needed"


@dataclass(frozen=True)
class Forecast:
    """Cost of a work.

    Attributes
    ----------
    kind : str
    runs : int
        Full-wave runs at most.
    stored : int
        How many of them are stored already, and cost nothing.
    cells : int
        Of the largest mesh; 0 where there is none.
    memory : int
        Of the solver with that mesh, bytes.
    seconds : float
        Wall clock as expected, of what is not stored, s.
    most_seconds : float or None
        At most, s; None where nobody can say.
    measured : bool
        Whether the speed of this machine is measured, not guessed.
    sentence : str
        All of it in words.
    """

    kind: str
    runs: int
    stored: int
    cells: int
    memory: int
    seconds: float
    most_seconds: float | None
    measured: bool
    sentence: str


def forecast(
    kind: str, record: Record, options: Mapping[str, Any] | None = None, runs: Path | str = "runs"
) -> Forecast:
    """What a work will take: a second or two for the mesh and the estimate.

    Parameters
    ----------
    kind : str
    record : Record
    options : mapping, optional
        As for `simharness.jobs.queue.Queue.add`.
    runs : Path or str
        Folder of the stored runs.

    Raises
    ------
    InputError
        Kind or option is not allowed, or the work is impossible with this record.
    MachineError
        The solver is missing, or a mesh does not fit into memory.
    """
    asked = full_options(kind, options or {})
    return _FORECASTS[kind](record, asked, Path(runs))


def _solve(record: Record, options: Mapping[str, Any], runs: Path) -> Forecast:
    from simharness.library import plan
    from simharness.runs.store import Store

    job = plan(record, options["quality"], feed=options["feed"]).with_forecast()
    stored = not options["again"] and Store(runs).find(job.key) is not None
    slow = ", it settles slowly" if job.settles_slowly else ""
    return _forecast(
        "solve",
        [job.run],
        [stored],
        f"one run of {_mesh(job.run)}: "
        + (
            "it is stored already, and opened at once"
            if stored
            else f"about {span(job.typical_seconds)}, at most {span(job.most_seconds)}{slow}"
        ),
        most=job.most_seconds,
    )


def _tune(record: Record, options: Mapping[str, Any], runs: Path) -> Forecast:
    from dataclasses import replace

    from simharness.library.tuning import tune_plan
    from simharness.runs.prediction import settling_periods
    from simharness.runs.store import Store

    job = tune_plan(record, options["quality"], options["also"], options["max_runs"], Store(runs))
    run = replace(job.run, predicted=settling_periods(record, job.run.request))
    own = "; that of the unchanged record is stored already, and counts as one" if job.stored else ""
    return _forecast(
        "tune",
        [run] * job.max_runs,
        [job.stored] + [False] * (job.max_runs - 1),
        f"at most {_counted(job.max_runs)} of {_mesh(run)}, about {span(run.typical_seconds)} each{own}",
        most=job.max_runs * run.most_seconds,
    )


def _tolerance(record: Record, options: Mapping[str, Any], runs: Path) -> Forecast:
    if options["seam_mm"] is None:
        return Forecast("tolerance", 0, 0, 0, 0, 30.0, None, True, ESTIMATE_ALONE)
    from simharness.library import plan

    job = plan(record, options["quality"]).with_forecast()
    return _forecast(
        "tolerance",
        [job.run] * 2,
        [False] * 2,
        f"half a minute for the estimate, and two runs of {_mesh(job.run)}, "
        f"about {span(job.typical_seconds)} each",
        most=30.0 + 2 * job.most_seconds,
    )


def _converge(record: Record, options: Mapping[str, Any], runs: Path) -> Forecast:
    from simharness.library import convergence_plan

    job = convergence_plan(record, options["levels"], spreads=options["spreads"], runs=runs)
    plans = [step.plan for step in job.steps]
    stored = [job.store.find(what.key) is not None for what in plans]
    largest = max(plans, key=lambda what: what.cells)
    return _forecast(
        "converge",
        plans,
        stored,
        f"{_counted(len(plans))} up to {_mesh(largest)}{_of_them_stored(stored)}{_time(job.seconds)}",
        seconds=job.seconds,
    )


def _sweep(record: Record, options: Mapping[str, Any], runs: Path) -> Forecast:
    from simharness.library import sweep_plan

    job = sweep_plan(
        record,
        options["vary"],
        options["quality"],
        workers=options["workers"],
        threads=options["threads"],
        runs=runs,
    )
    points, missing = job.points, job.missing
    plans = list(points.plans)
    stored = [key not in missing for key in points.runs]
    largest = max(plans, key=lambda what: what.cells)
    return _forecast(
        "sweep",
        plans,
        stored,
        f"{len(points.points)} points, {_counted(len(stored))} up to {_mesh(largest)}"
        f"{_of_them_stored(stored)}{_time(job.seconds or 0.0)}",
        seconds=job.seconds or 0.0,
    )


_FORECASTS: dict[str, Callable[[Record, Mapping[str, Any], Path], Forecast]] = {
    "solve": _solve,
    "tune": _tune,
    "tolerance": _tolerance,
    "converge": _converge,
    "sweep": _sweep,
}


def _forecast(
    kind: str,
    plans: list,
    stored: list[bool],
    sentence: str,
    *,
    seconds: float | None = None,
    most: float | None = None,
) -> Forecast:
    largest = max(plans, key=lambda what: what.cells)
    if seconds is None:
        seconds = sum(what.typical_seconds for what, is_there in zip(plans, stored) if not is_there)
    measured = bool(largest.machine.measured)
    guess = "" if measured or not seconds else " (a guess: this machine is measured with the first run)"
    return Forecast(
        kind,
        len(stored),
        sum(stored),
        largest.cells,
        largest.memory,
        seconds,
        None if most is None else (most if seconds else 0.0),
        measured,
        sentence + guess,
    )


def _mesh(what: Any) -> str:
    return f"{what.cells / 1e6:.2f} million cells with {what.memory / 1e6:.0f} MB of memory"


def _counted(number: int) -> str:
    return "one run" if number == 1 else f"{number} runs"


def _of_them_stored(stored: list[bool]) -> str:
    return f", {sum(stored)} of them stored" if any(stored) else ""


def _time(seconds: float) -> str:
    return f", about {span(seconds)} in all" if seconds else ": nothing is left to solve"
