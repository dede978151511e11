"""The objective of a tuning, and a surrogate model of S11 that is corrected by every full-wave run.

Before the first run the model is the estimate itself. The first run calibrates it
(`simharness.estimate.surrogate`: dimensions of the estimate are shifted a little, the rest is added); what
every run then shows beyond it is interpolated over the variables and added as well. The model therefore
follows the estimate between the runs, and agrees with them where they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, RBFInterpolator
from scipy.optimize import least_squares

from simharness.constants import C0
from simharness.errors import InputError
from simharness.estimate.antenna import estimate_span
from simharness.estimate.surrogate import Reflection, SpaceMappingSurrogate
from simharness.records import Record
from simharness.tuning.variables import Point, TuningVariable, point, tuned_record

REACH = 1 / 30
"""Correlation length of the misfit of the surrogate, in free-space wavelengths."""

RUN_NOISE = 1e-3
"""Share of the variance of the misfit that is attributed to the mesh, which differs from run to run."""

_NODES = 17
"""Values of the first variable at which the estimate is evaluated. Splines between them are within 0.002 of
it for the shipped records."""

_MAP_NODES, _MAP_POINTS = 7, 61
"""Values of either variable of a map at which the estimate is evaluated, and of the map itself."""

_SAMPLES = 1001
_WIDE, _NARROW = 41, 21
"""Frequencies over the span and over the band."""

_BESIDE = 0.1
"""Weight of the band where only the centre counts: of all ways to match the centre, it selects a wide one."""


@dataclass(frozen=True)
class Objective:
    """What is minimized: |S11| at the centre, or its largest value in the band.

    Attributes
    ----------
    over : str
        "band" or "centre".
    frequency : (f,) array
        Hz: all frequencies of the model.
    band : (f,) bool array
        Whether each of them lies in the band.
    centre : int
        Index of the design frequency.
    """

    over: str
    frequency: NDArray
    band: NDArray
    centre: int

    def at_centre(self, s11: NDArray) -> NDArray:
        """|S11| (...) at the design frequency, of S11 (..., f)."""
        return np.abs(s11[..., self.centre])

    def worst(self, s11: NDArray) -> NDArray:
        """Largest |S11| (...) in the band, of S11 (..., f)."""
        return np.abs(s11[..., self.band]).max(axis=-1)

    def size(self, s11: NDArray) -> NDArray:
        """The objective (...), of S11 (..., f)."""
        return self.at_centre(s11) if self.over == "centre" else self.worst(s11)

    def weight(self) -> NDArray:
        """Weight (f,) of each frequency in a least-squares fit of the match."""
        weight = self.band * (1.0 if self.over == "band" else _BESIDE)
        weight[self.centre] = 1.0
        return weight


def tuning_objective(record: Record, over: str, span: tuple[float, float]) -> Objective:
    """The objective of a record.

    Parameters
    ----------
    over : str
        "band" or "centre".
    span : tuple of 2 floats
        Frequencies that a full-wave run of it covers, Hz.

    Raises
    ------
    InputError
        `over` is another word.
    """
    if over not in ("band", "centre"):
        raise InputError("over", over, "must be band or centre")
    low, centre, high = record.band.low, record.band.centre, record.band.high
    widest = estimate_span(record)
    wide = np.linspace(max(span[0], widest[0]), min(span[1], widest[1]), _WIDE)
    frequency = np.unique(np.concatenate([wide, np.linspace(low, high, _NARROW), [centre]]))
    return Objective(
        over, frequency, (frequency >= low) & (frequency <= high), int(np.searchsorted(frequency, centre))
    )


@dataclass(frozen=True)
class TuningMap:
    """|S11| over two variables.

    Attributes
    ----------
    first, second : (m,), (n,) arrays
        Values of the variables, mm.
    centre, worst : (n, m) arrays
        |S11| at the design frequency, and the worst in the band.
    """

    first: NDArray
    second: NDArray
    centre: NDArray
    worst: NDArray

    def size(self, objective: Objective) -> NDArray:
        """The objective (n, m)."""
        return self.centre if objective.over == "centre" else self.worst


class TuningModel:
    """S11 of a record over its variables; see the top of this module.

    Parameters
    ----------
    record : Record
    variables : sequence of TuningVariable
    objective : Objective
    reflection : function
        The estimate that is corrected.
    """

    def __init__(
        self,
        record: Record,
        variables: Sequence[TuningVariable],
        objective: Objective,
        reflection: Reflection,
    ):
        self._variables, self._objective, self._reflection = tuple(variables), objective, reflection
        self._wave = 1e3 * C0 / record.band.centre
        self._anchor, self._origin = record, np.array(point(record, variables))
        self._remainder: NDArray | float = 0.0
        self._known: list[tuple[Point, NDArray]] = []
        self._misfit: RBFInterpolator | None = None
        self._columns: dict[Point, CubicSpline] = {}

    def learn(self, record: Record, s11: NDArray) -> None:
        """Correct the model by a full-wave run: its record, and S11 (f,) at the objective's frequencies."""
        here = point(record, self._variables)
        if not self._known:
            surrogate = SpaceMappingSurrogate(record, self._objective.frequency, s11, self._reflection)
            self._anchor, self._origin = surrogate.calibrated, np.array(here)
            self._remainder = s11 - self._reflection(surrogate.calibrated, self._objective.frequency)
            self._columns.clear()
        self._known.append((here, s11))
        misfits = np.array([found - self._base(where) for where, found in self._known])
        places = np.array([where for where, _ in self._known]) / (REACH * self._wave)
        self._misfit = RBFInterpolator(
            places, misfits, kernel="gaussian", epsilon=1.0, degree=0, smoothing=RUN_NOISE
        )

    def s11(self, values: Point) -> NDArray:
        """S11 (f,) at a point."""
        return self._base(values) + self._added(np.array([values]))[0]

    def first_values(self, values: Point) -> NDArray:
        """Closely spaced values (h,) of the first variable, mm, over its range; the others as in `values`."""
        nodes = self._column(values[1:]).x
        return np.linspace(nodes[0], nodes[-1], _SAMPLES)

    def over_first(self, values: Point, first: NDArray) -> NDArray:
        """S11 (h, f) at values (h,) of the first variable, mm, the others as in `values`."""
        places = np.column_stack([first, *(np.full(first.size, value) for value in values[1:])])
        return self._column(values[1:])(first) + self._added(places)

    def map(self, values: Point) -> TuningMap:
        """|S11| over the first two variables, any others as in `values`.

        The base is evaluated at a few points, and interpolated between them.
        """
        nodes = [np.linspace(variable.least, variable.most, _MAP_NODES) for variable in self._variables[:2]]
        columns = np.array([[self._evaluated((x, y, *values[2:])) for x in nodes[0]] for y in nodes[1]])
        first, second = (np.linspace(line[0], line[-1], _MAP_POINTS) for line in nodes)
        base = CubicSpline(nodes[1], CubicSpline(nodes[0], columns, axis=1)(first))(second)
        places = np.array([(x, y, *values[2:]) for y in second for x in first])
        s11 = base + self._added(places).reshape(base.shape)
        return TuningMap(first, second, self._objective.at_centre(s11), self._objective.worst(s11))

    def _evaluated(self, values: Point) -> NDArray:
        """The base (f,) at a point; total reflection where no such antenna exists."""
        try:
            return self._base(values)
        except InputError:
            return np.ones(self._objective.frequency.size, dtype=complex)

    def proposal(self, start: Point) -> Point:
        """The best point by the model: all variables by least squares, then the first one by a scan."""
        values = self._balanced(start) if len(self._variables) > 1 else start
        first = self.first_values(values)
        best = int(np.argmin(self._objective.size(self.over_first(values, first))))
        return float(first[best]), *values[1:]

    def _balanced(self, start: Point) -> Point:
        """All variables for the least weighted mean |S11|^2, from a starting point."""
        weight = self._objective.weight()
        low, high = (
            np.array([getattr(variable, end) for variable in self._variables]) / self._wave
            for end in ("least", "most")
        )
        room = 1e-3 * (high - low)

        def misfit(x: NDArray) -> NDArray:
            try:
                s11 = weight * self.s11(tuple(x * self._wave))
            except InputError:  # no such antenna: as total reflection
                s11 = weight + 0j
            return np.concatenate([s11.real, s11.imag])

        begin = np.clip(np.array(start) / self._wave, low + room, high - room)
        found = least_squares(
            misfit, begin, bounds=(low, high), xtol=1e-4, ftol=1e-3, diff_step=1e-3, max_nfev=12
        )
        return tuple(float(value) for value in found.x * self._wave)

    def _base(self, values: Point) -> NDArray:
        """The estimate (f,) at a point, calibrated by the first run, with the remaining difference there."""
        moved = np.array(point(self._anchor, self._variables)) + np.array(values) - self._origin
        record = tuned_record(self._anchor, self._variables, tuple(float(value) for value in moved))
        return self._reflection(record, self._objective.frequency) + self._remainder

    def _added(self, places: NDArray) -> NDArray:
        """Correction by the runs beyond the base (n, f), at points (n, k)."""
        if self._misfit is None:
            return np.zeros((len(places), self._objective.frequency.size), dtype=complex)
        return self._misfit(places / (REACH * self._wave))

    def _column(self, others: Point) -> CubicSpline:
        """The base over the first variable, the others at their values."""
        if others not in self._columns:
            nodes, s11 = [], []
            for node in np.linspace(self._variables[0].least, self._variables[0].most, _NODES):
                try:
                    s11.append(self._base((float(node), *others)))
                except InputError:  # the calibrated probe would touch a wall
                    continue
                nodes.append(node)
            self._columns[others] = CubicSpline(nodes, s11)
        return self._columns[others]
