"""Result of a tuning: its runs, the tuned record, and how exact the tuned dimension must be."""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import NDArray

from simharness.records import Record
from simharness.tuning.model import Objective, TuningMap
from simharness.tuning.variables import Point, TuningVariable
from simharness.verdict.error_bars import estimate_error, solver_error
from simharness.verdict.match_state import MatchState, match_state

MIN_GAIN = 0.5
"""Least improvement of |S11| for which another run is made, dB."""

DEEP = -30.0
"""Matches below this level count as equally good, dB: no mesh resolves the difference."""

NEAR = 1.0
"""What counts as nearly as good as the best, dB."""

HALF_MM = 0.5
"""Deviation whose effect is stated, mm."""


@dataclass(frozen=True)
class TunedRun:
    """A full-wave run by which the model was corrected.

    Attributes
    ----------
    name : str
        Of the stored run.
    record : Record
    values : tuple of float
        Of the variables, mm.
    s11 : (f,) complex array
        At `Tuning.objective.frequency`.
    centre_db, worst_db : float
        |S11| at the design frequency, and the worst in the band.
    missed : float
        Largest distance in the band, in the complex plane, from what the model had predicted.
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
    """|S11| against the first variable, the others held.

    Attributes
    ----------
    first : (h,) array
        Values of the first variable, mm.
    centre_db, worst_db : (h,) arrays
        At the design frequency, and the worst in the band.
    """

    first: NDArray
    centre_db: NDArray
    worst_db: NDArray

    def over(self, objective: Objective) -> NDArray:
        """The objective (h,), dB."""
        return self.centre_db if objective.over == "centre" else self.worst_db


@dataclass(frozen=True)
class Tuning:
    """Result of `tune`.

    Attributes
    ----------
    before, record : Record
        Before and after tuning.
    quality : str
        Of the mesh.
    objective : Objective
    variables : tuple of TuningVariable
    runs : tuple of TunedRun
        In their order.
    best : TunedRun
        That of the tuned record.
    settled : bool
        Whether the model expects no further gain by the same variables, and predicted the last run well
        enough to be trusted.
    optimum : tuple of float
        Optimum of the corrected model, mm, before rounding.
    gain_db : float
        By how much the model is better there, once rounded, than the best run, dB.
    estimate_curve, curve : MatchCurve
        By the estimate before any run, the other variables as before tuning; by the corrected model, the
        others as tuned.
    near : tuple of 2 floats
        Interval of the first variable within which S11 is within `NEAR` of the tuned one, mm.
    keeps : tuple of 2 floats or None
        Interval of it within which the target is met over the band, mm; None where the tuned one misses it.
    map : TuningMap or None
        By the corrected model, over the first two variables where the feed needs two.
    shorter_db, longer_db : float or None
        Change of the objective by half a millimetre less and more, dB; None beyond the curve.
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
        """How the run of the tuned record stands to the target, within the error of its mesh."""
        return match_state(
            self.best.worst_db, self.record.band.target_s11_db, solver_error(self.record, self.quality)["s11"]
        )

    @property
    def conclusion(self) -> str:
        """The result in one line."""
        band = self.record.band
        return (
            f"{self.state.headline}: S11 of the tuned record is at worst {self.best.worst_db:.1f} dB from "
            f"{band.low_ghz:g} to {band.high_ghz:g} GHz ({self.quality} mesh), "
            f"the target {band.target_s11_db:g} dB."
        )

    @property
    def surprised(self) -> bool:
        """Whether the first run differs from the estimate by more than the errors of both."""
        return (
            self.runs[0].missed
            > estimate_error(self.record)["s11"] + solver_error(self.record, self.quality)["s11"]
        )

    @property
    def at_border(self) -> bool:
        """Whether the best value of the first variable lies at an end of its range."""
        return self.optimum[0] in (self.curve.first[0], self.curve.first[-1])
