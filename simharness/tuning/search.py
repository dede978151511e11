"""Height of the probe, or the legs of a bent one, and what else is asked for, for the best match: few full-wave runs steered by a fast model.

The fast model proposes, a full-wave run answers, the model learns from it (`tuning_model`) and proposes again, until it
sees nothing more to gain or the runs are used up. The tuned record is always one that was run. Proposals depend on
the runs alone, and runs are found again in the store: an interrupted tuning goes on where it stopped.
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
from simharness.records import BentProbe, Record
from simharness.results.match import worst_in_band
from simharness.runs.execution import Plan, record_plan, solve
from simharness.runs.store import Store
from simharness.solver.machine import Machine, machine
from simharness.tuning.model import Objective, TuningMap, TuningModel, tuning_objective
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
from simharness.verdict.error_bars import ESTIMATE_ERROR, estimate_error, solver_error
from simharness.verdict.match_state import MatchState, match_state

MAX_RUNS = 3

MIN_GAIN = 0.5
"""A run is made when it promises to better |S11| by as much, dB."""

DEEP = -30.0
"""Matches deeper than this count as equally good, dB: no mesh is as true as the difference."""

BELIEVED = 2 * ESTIMATE_ERROR["s11"]
"""A model that missed the last run by more, in the complex plane, is not believed when it sees nothing to gain."""

NEAR = 1.0
"""What counts as nearly as good as the best, dB."""

HALF_MM = 0.5


@dataclass(frozen=True)
class TunedRun:
    """A full-wave run that was learned from.

    Attributes
    ----------
    name : str
        Of the stored run.
    record : Record
    values : tuple of float
        Of the knobs, mm.
    s11 : (f,) complex array
        At `Tuning.objective.frequency`.
    centre_db, worst_db : float
        |S11| at the design frequency, and the worst in the band.
    missed : float
        Largest distance in the band, in the complex plane, from what the model had foretold.
    """

    name: str
    record: Record
    values: Point
    s11: NDArray
    centre_db: float
    worst_db: float
    missed: float


@dataclass(frozen=True)
class MatchCurve:
    """|S11| against the first knob, the height of a straight probe, the others held.

    Attributes
    ----------
    height : (h,) array
        mm.
    centre_db, worst_db : (h,) arrays
        At the design frequency, and the worst in the band.
    """

    height: NDArray
    centre_db: NDArray
    worst_db: NDArray

    def over(self, objective: Objective) -> NDArray:
        """What is made small (h,), dB."""
        return self.centre_db if objective.over == "centre" else self.worst_db


@dataclass(frozen=True)
class Tuning:
    """Result of `tune`.

    Attributes
    ----------
    before, record : Record
        As it was, and as tuned.
    quality : str
        Of the mesh.
    objective : Objective
    variables : tuple of TuningVariable
    runs : tuple of TunedRun
        In their order.
    best : TunedRun
        That of the tuned record.
    settled : bool
        Whether the model sees nothing more to gain by the same knobs, and had foretold the last run well enough to be believed.
    optimum : tuple of float
        Where the corrected model sees the best, mm, before rounding.
    gain_db : float
        By how much it is better there, once rounded, than the best run, dB.
    estimate_curve, curve : MatchCurve
        By the estimate before any run, the other knobs as they were; by the corrected model, the other knobs as tuned.
    near : tuple of 2 floats
        Least and largest value of the first knob within `NEAR` of the tuned one, mm, without a gap between.
    keeps : tuple of 2 floats or None
        Least and largest value of it that keep the record's target over the band, mm; None where the tuned one misses it.
    map : TuningMap or None
        By the corrected model, over the two knobs of a bent probe; None for a straight one.
    shorter_db, longer_db : float or None
        What half a millimetre less and more costs, dB; None beyond the curve.
    """

    before: Record
    record: Record
    quality: str
    objective: Objective
    variables: tuple[TuningVariable, ...]
    runs: tuple[TunedRun, ...]
    best: TunedRun
    settled: bool
    optimum: Point
    gain_db: float
    estimate_curve: MatchCurve
    curve: MatchCurve
    near: tuple[float, float]
    keeps: tuple[float, float] | None
    shorter_db: float | None
    longer_db: float | None
    map: TuningMap | None = None

    @property
    def meets_target(self) -> bool:
        """Whether the tuned record's run stays below the target over the whole band."""
        return self.best.worst_db <= self.record.band.target_s11_db

    @property
    def state(self) -> MatchState:
        """How the tuned record's run stands to the target, for what its mesh is good for."""
        return match_state(
            self.best.worst_db, self.record.band.target_s11_db, solver_error(self.record, self.quality)["s11"]
        )

    @property
    def conclusion(self) -> str:
        """How it ended, in one line."""
        band = self.record.band
        return (
            f"{self.state.headline}: S11 of the tuned record is at worst {self.best.worst_db:.1f} dB from {band.low_ghz:g} to "
            f"{band.high_ghz:g} GHz ({self.quality} mesh), the target {band.target_s11_db:g} dB."
        )

    @property
    def surprised(self) -> bool:
        """Whether the first run came out farther from the estimate than both allow."""
        return (
            self.runs[0].missed
            > estimate_error(self.record)["s11"] + solver_error(self.record, self.quality)["s11"]
        )

    @property
    def at_border(self) -> bool:
        """Whether the best value of the first knob lies at an end of those looked at."""
        return self.optimum[0] in (self.curve.height[0], self.curve.height[-1])


@dataclass
class _Search:
    """A tuning under way: what is wanted, the model, and the runs so far."""

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
    def best(self) -> TunedRun | None:
        """The run with the least of what is made small."""
        return min(self.runs, key=lambda run: float(self.objective.size(run.s11)), default=None)

    @property
    def predicted(self) -> bool:
        """Whether the last run came out near enough to what the model said for its trend to be believed."""
        return bool(self.runs) and self.runs[-1].missed <= BELIEVED

    def tried(self, record: Record) -> bool:
        """Whether this very record was run."""
        return point(record, self.variables) in [run.values for run in self.runs]

    def proposal(self) -> tuple[Record, Point, float]:
        """The record to run next, the model's optimum before rounding, and what it promises to gain, dB."""
        best = self.best
        optimum = self.model.proposal(point(self.record, self.variables) if best is None else best.values)
        record = tuned_record(self.record, self.variables, optimum, self.step_mm)
        if best is None:
            return record, optimum, np.inf
        there, here = (
            self.objective.size(s11) for s11 in (self.model.s11(point(record, self.variables)), best.s11)
        )
        return (
            record,
            optimum,
            float(np.maximum(amplitude_decibels(here), DEEP) - np.maximum(amplitude_decibels(there), DEEP)),
        )

    def run(self, record: Record, progress: Progress) -> None:
        """Solve a record, and learn from it."""
        record = record.model_copy(update={"name": self.name})
        self.learn(record, record_plan(record, self.quality, on=self.on), progress)

    def learn(self, record: Record, what: Plan, progress: Progress) -> None:
        """Take in the run of a record, the stored one where there is one."""
        run = solve(what, self.store, record, progress=progress, notes={"quality": self.quality})
        results, here = run.results(), point(record, self.variables)
        s11 = CubicSpline(results["frequency"], results["s11"])(self.objective.frequency)
        missed = float(self.objective.worst(s11 - self.model.s11(here)))
        self.model.learn(record, s11)
        centre = full_wave_figures(results, record, self.quality)["s11_at_centre"].value
        worst = worst_in_band(record, results)[1]
        self.runs.append(TunedRun(run.path.name, record, here, s11, centre, worst, missed))

    def curve(self, values: Point) -> MatchCurve:
        """What the model now says over the height, the other knobs at a point."""
        height = self.model.heights(values)
        s11 = self.model.over_height(values, height)
        return MatchCurve(
            height,
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
    """Tune the probe of a record by at most a few full-wave runs.

    Parameters
    ----------
    quality : str
        Of the mesh, one of `grid.QUALITIES`.
    over : str
        "band": worst |S11| in the record's band; "centre": |S11| at its centre.
    also : sequence of str
        What is tuned besides the first knob, of `tuning_variables.ALSO`.
    name : str
        Of the tuned record; that of the record with "-tuned" by default.
    step_mm : float
        What can be marked: tuned dimensions are multiples of it.
    most_runs : int
        The stored run of the record as it is, where there is one, is used and counted.
    reflection : function
        The fast model.

    Raises
    ------
    InputError
        There is no probe, or an option is not of those allowed.
    SolverError, NotConvergedError, CancelledError, BusyError, StoreError, MachineError
        As `run.solve`; the runs sealed before stay in the store.
    """
    if most_runs < 1:
        raise InputError("most runs", most_runs, "must be at least 1")
    progress, on = progress or Silent(), on or machine()
    tuned, own = tuning_variables(record, also), record_plan(record, quality, on=on)
    spectrum = own.request.scene.spectrum
    objective = tuning_objective(record, over, (spectrum.low, spectrum.high))
    model = TuningModel(record, tuned, objective, reflection)
    search = _Search(record, store, quality, name or tuned_name(record), step_mm, on, tuned, objective, model)
    progress.note(f"the fast model over the {tuned[0].words}: some seconds, and again after the first run")
    estimate_curve = search.curve(point(record, tuned))
    if store.find(own.key) is not None:
        search.learn(record, own, progress)
    while True:
        candidate, optimum, gain = search.proposal()
        settled = gain < MIN_GAIN and search.predicted
        if settled or search.tried(candidate) or len(search.runs) >= most_runs:
            return _result(search, settled, optimum, gain, estimate_curve)
        progress.note(
            f"run {len(search.runs) + 1} of at most {most_runs}: {point_text(tuned, point(candidate, tuned))}"
        )
        search.run(candidate, progress)


def tuned_name(record: Record) -> str:
    """Name of the tuned record.

    It stays within the 48 characters of a name.
    """
    return f"{record.name[:42]}-tuned"


def _result(
    search: _Search, settled: bool, optimum: Point, gain: float, estimate_curve: MatchCurve
) -> Tuning:
    best, target = search.best, search.record.band.target_s11_db
    curve, chosen = search.curve(best.values), best.values[0]
    size = np.maximum(curve.over(search.objective), DEEP)
    here = float(np.interp(chosen, curve.height, size))
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
        _stretch(curve.height, size, here + NEAR, chosen),
        _stretch(curve.height, curve.worst_db, target, chosen) if best.worst_db <= target else None,
        _cost(curve.height, size, chosen, -HALF_MM),
        _cost(curve.height, size, chosen, HALF_MM),
        search.model.map(best.values) if isinstance(search.record.feed, BentProbe) else None,
    )


def _named(search: _Search) -> Record:
    """The tuned record, with its name and with a note that is true of it."""
    best = search.best
    return best.record.model_copy(
        update={
            "name": search.name,
            "note": tuned_note(search.record, search.variables, best.values, search.quality),
        }
    )


def _cost(height: NDArray, size: NDArray, here: float, move: float) -> float | None:
    """Change of a curve over a move from a height; None beyond the curve."""
    if not height[0] <= here + move <= height[-1]:
        return None
    before, after = np.interp([here, here + move], height, size)
    return float(after - before)


def _stretch(height: NDArray, size: NDArray, limit: float, around: float) -> tuple[float, float]:
    """Ends of the stretch around a height on which a curve stays at or below a limit; the height itself at least."""
    first = last = int(np.argmin(np.abs(height - around)))
    while first > 0 and size[first - 1] <= limit:
        first -= 1
    while last < size.size - 1 and size[last + 1] <= limit:
        last += 1
    return min(float(height[first]), around), max(float(height[last]), around)
