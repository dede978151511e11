"""What a tuning makes small, and a fast model of it that learns from every full-wave run.

Before the first run the model is the estimate itself. The first run calibrates it
(`simharness.estimate.surrogate`: the estimate's own dimensions are moved a little, what is left is added);
what every run then shows beyond it is interpolated over the tuned dimensions and added too. The
model therefore follows the estimate from run to run, and agrees with the runs where they are.
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
"""Distance over which the misfit of the fast model is alike, in free-space wavelengths."""

RUN_NOISE = 1e-3
"""Share of the misfit's variance that is put down to the mesh, which differs from run to run."""

_NODES = 17
"""Values of the first knob at which the estimate is asked. Splines between them are within 0.002 of it for the shipped records."""

_MAP_NODES, _MAP_POINTS = 7, 61
"""Values of either knob of a map at which the estimate is asked, and at which the map is given."""

_SAMPLES = 1001
_WIDE, _NARROW = 41, 21
"""Frequencies over the span and over the band."""

_BESIDE = 0.1
"""Weight of the band where only the centre counts: of all ways to match the centre, it picks a wide one."""


@dataclass(frozen=True)
class Objective:
    """What is made small: |S11| at the centre, or at its worst in the band.

    Attributes
    ----------
    over : str
        "band" or "centre".
    frequency : (f,) array
        Hz: all that the model computes.
    band : (f,) bool array
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
        """What is made small (...), of S11 (..., f)."""
        return self.at_centre(s11) if self.over == "centre" else self.worst(s11)

    def weight(self) -> NDArray:
        """Weight (f,) of each frequency in a least-squares fit of the match."""
        weight = self.band * (1.0 if self.over == "band" else _BESIDE)
        weight[self.centre] = 1.0
        return weight


def tuning_objective(record: Record, over: str, span: tuple[float, float]) -> Objective:
    """What a record is tuned for.

    Parameters
    ----------
    over : str
        "band" or "centre".
    span : tuple of 2 floats
        Frequencies that a full-wave run of it covers, Hz.

    Raises
    ------
    InputError
        Another word.
    """
    if over not in ("band", "centre"):
        raise InputError("over", over, "must be band or centre")
    low, centre, high = (1e9 * f for f in (record.band.low_ghz, record.band.centre_ghz, record.band.high_ghz))
    widest = estimate_span(record)
    wide = np.linspace(max(span[0], widest[0]), min(span[1], widest[1]), _WIDE)
    frequency = np.unique(np.concatenate([wide, np.linspace(low, high, _NARROW), [centre]]))
    return Objective(
        over, frequency, (frequency >= low) & (frequency <= high), int(np.searchsorted(frequency, centre))
    )


@dataclass(frozen=True)
class TuningMap:
    """|S11| over two knobs.

    Attributes
    ----------
    first, second : (m,), (n,) arrays
        Values of the knobs, mm.
    centre, worst : (n, m) arrays
        |S11| at the design frequency, and the worst in the band.
    """

    first: NDArray
    second: NDArray
    centre: NDArray
    worst: NDArray

    def size(self, objective: Objective) -> NDArray:
        """What is made small (n, m)."""
        return self.centre if objective.over == "centre" else self.worst


class TuningModel:
    """S11 of a record over its knobs; see the top of this module.

    Parameters
    ----------
    record : Record
    tuned : sequence of TuningVariable
    objective : Objective
    reflection : function
        The fast model that is corrected.
    """

    def __init__(
        self, record: Record, tuned: Sequence[TuningVariable], objective: Objective, reflection: Reflection
    ):
        self._variables, self._objective, self._reflection = tuple(tuned), objective, reflection
        self._wave = 1e3 * C0 / (record.band.centre_ghz * 1e9)
        self._anchor, self._origin = record, np.array(point(record, tuned))
        self._remainder: NDArray | float = 0.0
        self._known: list[tuple[Point, NDArray]] = []
        self._misfit: RBFInterpolator | None = None
        self._columns: dict[Point, CubicSpline] = {}

    def learn(self, record: Record, s11: NDArray) -> None:
        """Take in a full-wave run: its record, and S11 (f,) at the frequencies of the aim."""
        here = point(record, self._variables)
        if not self._known:
            fast = SpaceMappingSurrogate(record, self._objective.frequency, s11, self._reflection)
            self._anchor, self._origin = fast.calibrated, np.array(here)
            self._remainder = s11 - self._reflection(fast.calibrated, self._objective.frequency)
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

    def heights(self, values: Point) -> NDArray:
        """Values (h,) of the first knob in mm, heights of a straight probe, that the model knows with the other knobs at a point, close together."""
        nodes = self._column(values[1:]).x
        return np.linspace(nodes[0], nodes[-1], _SAMPLES)

    def over_height(self, values: Point, heights: NDArray) -> NDArray:
        """S11 (h, f) at values of the first knob in mm, the others at a point."""
        places = np.column_stack([heights, *(np.full(heights.size, value) for value in values[1:])])
        return self._column(values[1:])(heights) + self._added(places)

    def map(self, values: Point) -> TuningMap:
        """What is made small over the first two knobs, any others at a point.

        The base is asked at few points that can be made, and interpolated between them.
        """
        nodes = [np.linspace(variable.least, variable.most, _MAP_NODES) for variable in self._variables[:2]]
        columns = np.array([[self._asked((x, y, *values[2:])) for x in nodes[0]] for y in nodes[1]])
        first, second = (np.linspace(line[0], line[-1], _MAP_POINTS) for line in nodes)
        base = CubicSpline(nodes[1], CubicSpline(nodes[0], columns, axis=1)(first))(second)
        places = np.array([(x, y, *values[2:]) for y in second for x in first])
        s11 = base + self._added(places).reshape(base.shape)
        return TuningMap(first, second, self._objective.at_centre(s11), self._objective.worst(s11))

    def _asked(self, values: Point) -> NDArray:
        """The base (f,) at a point, or a reflection of everything where it cannot be made."""
        try:
            return self._base(values)
        except InputError:
            return np.ones(self._objective.frequency.size, dtype=complex)

    def proposal(self, start: Point) -> Point:
        """The best point as far as the model knows: the other knobs by least squares over the band, then the first."""
        values = self._balanced(start) if len(self._variables) > 1 else start
        heights = self.heights(values)
        best = int(np.argmin(self._objective.size(self.over_height(values, heights))))
        return float(heights[best]), *values[1:]

    def _balanced(self, start: Point) -> Point:
        """All knobs for the least mean |S11|^2, from a point on."""
        weight = self._objective.weight()
        low, high = (
            np.array([getattr(variable, end) for variable in self._variables]) / self._wave
            for end in ("least", "most")
        )
        room = 1e-3 * (high - low)

        def misfit(x: NDArray) -> NDArray:
            try:
                s11 = weight * self.s11(tuple(x * self._wave))
            except InputError:  # no such antenna: as bad as one that reflects everything
                s11 = weight + 0j
            return np.concatenate([s11.real, s11.imag])

        begin = np.clip(np.array(start) / self._wave, low + room, high - room)
        found = least_squares(
            misfit, begin, bounds=(low, high), xtol=1e-4, ftol=1e-3, diff_step=1e-3, max_nfev=12
        )
        return tuple(float(value) for value in found.x * self._wave)

    def _base(self, values: Point) -> NDArray:
        """The estimate, calibrated by the first run, with what it then lacked there."""
        moved = np.array(point(self._anchor, self._variables)) + np.array(values) - self._origin
        record = tuned_record(self._anchor, self._variables, tuple(float(value) for value in moved))
        return self._reflection(record, self._objective.frequency) + self._remainder

    def _added(self, places: NDArray) -> NDArray:
        """What the runs show beyond the base (n, f), at points (n, k)."""
        if self._misfit is None:
            return np.zeros((len(places), self._objective.frequency.size), dtype=complex)
        return self._misfit(places / (REACH * self._wave))

    def _column(self, others: Point) -> CubicSpline:
        """The base over the first knob, the others at their values."""
        if others not in self._columns:
            heights, s11 = [], []
            for height in np.linspace(self._variables[0].least, self._variables[0].most, _NODES):
                try:
                    s11.append(self._base((float(height), *others)))
                except InputError:  # the calibrated probe would touch a wall
                    continue
                heights.append(height)
            self._columns[others] = CubicSpline(heights, s11)
        return self._columns[others]
