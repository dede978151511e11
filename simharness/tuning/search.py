"""Tuning of a feed for the best match by a few full-wave runs, steered by the estimate as a surrogate.

The surrogate proposes a point, a full-wave run answers, the model is corrected by it (`tuning.model`) and
proposes again, until no further gain is expected or the runs are used up. The tuned record is always one that
was run. Proposals depend on the runs alone, and stored runs are found again: an interrupted tuning continues
where it stopped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simharness.errors import InputError
from simharness.estimate.surrogate import Reflection, estimated_reflection
from simharness.numerics.decibels import amplitude_decibels
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.results.match import worst_in_band
from simharness.runs.execution import solve
from simharness.runs.planning import Plan, record_plan
from simharness.runs.store import Store
from simharness.solver.machine import Machine, machine
from simharness.tuning.feeds import tunable_feed
from simharness.tuning.model import Objective, TuningModel, tuning_objective
from simharness.tuning.result import DEEP, HALF_MM, MIN_GAIN, NEAR, MatchCurve, TunedRun, Tuning
from simharness.tuning.variables import (
    Point,
    TuningVariable,
    point,
    point_text,
    tuned_note,
    tuned_record,
    tuning_variables,
)
from simharness.verdict.assessment import full_wave_figures
from simharness.verdict.error_bars import ESTIMATE_ERROR

MAX_RUNS = 3
"""Full-wave runs of a tuning, unless another number is asked for."""

BELIEVED = 2 * ESTIMATE_ERROR["s11"]
"""Largest error of the last prediction, in the complex plane, with which the model is still trusted."""


@dataclass
class _Search:
    """A tuning in progress: what is tuned, the model, and the runs so far."""

    record: Record
    store: Store
    quality: str
    name: str
    step_mm: float
    on: Machine
    variables: tuple[TuningVariable, ...]
    objective: Objective
    model: TuningModel
    runs: list[TunedRun] = field(default_factory=list)

    @property
    def best(self) -> TunedRun:
        """The run with the smallest objective; there must be one."""
        return min(self.runs, key=lambda run: float(self.objective.size(run.s11)))

    @property
    def predicted(self) -> bool:
        """Whether the model predicted the last run well enough for its trend to be trusted."""
        return bool(self.runs) and self.runs[-1].missed <= BELIEVED

    def tried(self, record: Record) -> bool:
        """Whether the record with these values was run."""
        return point(record, self.variables) in [run.values for run in self.runs]

    def proposal(self) -> tuple[Record, Point, float]:
        """The record to run next, the model's optimum (mm) before rounding, and the predicted gain, dB."""
        start = self.best.values if self.runs else point(self.record, self.variables)
        optimum = self.model.proposal(start)
        record = tuned_record(self.record, self.variables, optimum, self.step_mm)
        if not self.runs:
            return record, optimum, np.inf
        curves = self.best.s11, self.model.s11(point(record, self.variables))
        here, there = (np.maximum(amplitude_decibels(self.objective.size(s11)), DEEP) for s11 in curves)
        return record, optimum, float(here - there)

    def run(self, record: Record, progress: Progress) -> None:
        """Solve a record, and correct the model by it."""
        record = record.model_copy(update={"name": self.name})
        self.learn(record, record_plan(record, self.quality, on=self.on), progress)

    def learn(self, record: Record, what: Plan, progress: Progress) -> None:
        """Correct the model by the run of a record, which is solved unless it is stored."""
        run = solve(what, self.store, record, progress=progress)
        results, here = run.results(), point(record, self.variables)
        s11 = CubicSpline(results["frequency"], results["s11"])(self.objective.frequency)
        missed = float(self.objective.worst(s11 - self.model.s11(here)))
        self.model.learn(record, s11)
        centre = full_wave_figures(results, record, self.quality)["s11_at_centre"].value
        worst = worst_in_band(record, results)[1]
        self.runs.append(TunedRun(run.path.name, record, here, s11, centre, worst, missed))

    def curve(self, values: Point) -> MatchCurve:
        """S11 by the present model over the first variable, the others as in `values`."""
        first = self.model.first_values(values)
        s11 = self.model.over_first(values, first)
        return MatchCurve(
            first,
            amplitude_decibels(self.objective.at_centre(s11)),
            amplitude_decibels(self.objective.worst(s11)),
        )


def tune(
    record: Record,
    store: Store,
    quality: str = "normal",
    over: str = "band",
    also: Sequence[str] = (),
    *,
    name: str = "",
    step_mm: float = 0.1,
    most_runs: int = MAX_RUNS,
    reflection: Reflection = estimated_reflection,
    on: Machine | None = None,
    progress: Progress | None = None,
) -> Tuning:
    """Tune the feed of a record by at most a few full-wave runs.

    Parameters
    ----------
    quality : str
        Of the mesh, one of `simharness.mesh.settings.QUALITIES`.
    over : str
        "band": worst |S11| in the record's band; "centre": |S11| at its centre.
    also : sequence of str
        What is tuned besides the variables of the feed, of `dimensions.ALSO`.
    name : str
        Of the tuned record; by default that of the record with "-tuned".
    step_mm : float
        Tuned dimensions are multiples of it.
    most_runs : int
        A stored run of the record as it is, where there is one, is used and counted.
    reflection : function
        The estimate of S11 that is corrected by the runs.

    Raises
    ------
    InputError
        There is no probe, or an option is not allowed.
    SolverError, NotConvergedError, CancelledError, BusyError, StoreError, MachineError
        As `runs.execution.solve`; runs that were finished before remain stored.
    """
    if most_runs < 1:
        raise InputError("most runs", most_runs, "must be at least 1")
    progress, on = progress or Silent(), on or machine()
    variables, own = tuning_variables(record, also), record_plan(record, quality, on=on)
    spectrum = own.request.scene.spectrum
    objective = tuning_objective(record, over, (spectrum.low, spectrum.high))
    model = TuningModel(record, variables, objective, reflection)
    search = _Search(
        record, store, quality, name or tuned_name(record), step_mm, on, variables, objective, model
    )
    progress.note(
        f"the fast model over the {variables[0].label}: some seconds, and again after the first run"
    )
    estimate_curve = search.curve(point(record, variables))
    if store.find(own.key) is not None:
        search.learn(record, own, progress)
    while True:
        candidate, optimum, gain = search.proposal()
        settled = gain < MIN_GAIN and search.predicted
        if settled or search.tried(candidate) or len(search.runs) >= most_runs:
            return _result(search, settled, optimum, gain, estimate_curve)
        chosen = point_text(variables, point(candidate, variables))
        progress.note(f"run {len(search.runs) + 1} of at most {most_runs}: {chosen}")
        search.run(candidate, progress)


def tuned_name(record: Record) -> str:
    """Default name of the tuned record, within the 48 characters of a name."""
    return f"{record.name[:42]}-tuned"


def _result(
    search: _Search, settled: bool, optimum: Point, gain: float, estimate_curve: MatchCurve
) -> Tuning:
    best, target = search.best, search.record.band.target_s11_db
    curve, chosen = search.curve(best.values), best.values[0]
    size = np.maximum(curve.over(search.objective), DEEP)
    here = float(np.interp(chosen, curve.first, size))
    return Tuning(
        search.record,
        _named(search),
        search.quality,
        search.objective,
        search.variables,
        tuple(search.runs),
        best,
        settled,
        optimum,
        gain,
        estimate_curve,
        curve,
        _interval(curve.first, size, here + NEAR, chosen),
        _interval(curve.first, curve.worst_db, target, chosen) if best.worst_db <= target else None,
        _cost(curve.first, size, chosen, -HALF_MM),
        _cost(curve.first, size, chosen, HALF_MM),
        search.model.map(best.values) if tunable_feed(search.record).has_map else None,
    )


def _named(search: _Search) -> Record:
    """The tuned record with its name and note."""
    best = search.best
    return best.record.model_copy(
        update={
            "name": search.name,
            "note": tuned_note(search.record, search.variables, best.values, search.quality),
        }
    )


def _cost(first: NDArray, size: NDArray, here: float, move: float) -> float | None:
    """Change (dB) of a curve over a move (mm) of the first variable; None beyond the curve."""
    if not first[0] <= here + move <= first[-1]:
        return None
    before, after = np.interp([here, here + move], first, size)
    return float(after - before)


def _interval(first: NDArray, size: NDArray, limit: float, around: float) -> tuple[float, float]:
    """Ends (mm) of the interval around a value in which a curve stays at or below a limit."""
    low = high = int(np.argmin(np.abs(first - around)))
    while low > 0 and size[low - 1] <= limit:
        low -= 1
    while high < size.size - 1 and size[high + 1] <= limit:
        high += 1
    return min(float(first[low]), around), max(float(first[high]), around)
