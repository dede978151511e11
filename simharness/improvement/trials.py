"""A record tried with dimensions changed: one alone, or the wire of the feed with another one.

S11 over the band is computed at a few values of a dimension, interpolated between them, and computed again at
the best of the interpolation, rounded to what can be marked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simharness.em.signals.match import deepest_match, match_band
from simharness.errors import InputError
from simharness.estimate.antenna import estimate_span, estimated_match, exact_reflection
from simharness.estimate.surrogate import POINTS, SpaceMappingSurrogate
from simharness.improvement.change import Change, Undo
from simharness.measurement.files import OnePort
from simharness.numerics.decibels import decibels
from simharness.records import Record
from simharness.verdict.match_state import MatchState, match_state

INSIDE = 9
"""Frequencies in the band at which changes are judged; S11 between them is interpolated."""

MODEL_ERROR = 0.03
"""How far the calibrated model is trusted beside its run, a distance in the complex plane. Of 23 antennas
changed by its advice 17 came out within it and 22 within 0.05; the last, 0.11 off, had two dimensions changed
by much (`tests/references/advice-cases.csv`)."""

_MANY_NODES, _NODES = 13, 7
"""Amounts of a dimension at which S11 is computed: many where the guide need not be solved again."""
_FINE = 81
_DENSE = 41
_ROUNDS = 3
_MIN_AMOUNTS = 4
"""Fewest amounts for a cubic spline between them."""


class Calibrated(Protocol):
    """The estimate of a record brought near what is known of its S11; see `SpaceMappingSurrogate`."""

    @property
    def calibrated(self) -> Record:
        """What the estimate is made of."""

    @property
    def frequency(self) -> NDArray:
        """Frequencies (f,), Hz."""

    @property
    def remainder(self) -> NDArray:
        """What is added to the estimate (f,)."""


@dataclass(frozen=True)
class Proposal:
    """One or two dimensions changed, and what the model predicts.

    Attributes
    ----------
    parts : tuple of (Change, float)
        What is changed, and by how much, mm.
    record : Record
        Changed so.
    worst_db : float
        Largest |S11| in the band, dB.
    best : float
        Frequency of the best match, Hz.
    low, high : float or None
        Edges of the -10 dB band, Hz.
    state : MatchState
        Against the target, with the error of the model.
    """

    parts: tuple[tuple[Change, float], ...]
    record: Record
    worst_db: float
    best: float
    low: float | None
    high: float | None
    state: MatchState

    @property
    def undo(self) -> Undo:
        """Of the part that is hardest to undo."""
        return max(change.undo for change, _ in self.parts)


class Trials:
    """The calibrated model of a record in its band.

    Parameters
    ----------
    record : Record
    run : OnePort
        Its S11.
    step_mm : float
        Amounts are multiples of it.
    model : Calibrated or None
        Made from the run without it.
    """

    def __init__(self, record: Record, run: OnePort, step_mm: float, model: Calibrated | None = None):
        self.record, self.step, band = record, step_mm, record.band
        low, high = estimate_span(record)
        wide = np.linspace(max(low, run.frequency[0]), min(high, run.frequency[-1]), POINTS)
        self.model: Calibrated = model or SpaceMappingSurrogate(record, wide, run.at(wide))
        self.anchor = self.model.calibrated
        self.frequency = np.linspace(band.low, band.high, INSIDE)
        self.dense = np.linspace(self.frequency[0], self.frequency[-1], _DENSE)
        self.remainder = run.at(self.frequency) - exact_reflection(self.anchor, self.frequency)
        self.worst_db = float(decibels(self._worst(run.at(self.frequency)) ** 2))

    def _worst(self, s11: NDArray) -> NDArray:
        """Largest |S11| (...) over the band of S11 (..., f)."""
        return np.abs(CubicSpline(self.frequency, s11, axis=-1)(self.dense)).max(axis=-1)

    def _s11(self, *parts: tuple[Change, float]) -> NDArray:
        """S11 (f,) with dimensions changed by amounts; nan where there is no such antenna."""
        record = self.anchor
        try:
            for change, amount in parts:
                record = change.applied(record, amount)
            return exact_reflection(record, self.frequency) + self.remainder
        except InputError:
            return np.full(INSIDE, np.nan, dtype=complex)

    def alone(self, first: Change) -> list[Proposal]:
        """The best of the first dimension."""
        bases = _bases(first)
        return list(
            self._proposal(
                [(first, self._along(bases, np.array([self._s11((first, base)) for base in bases])))]
            )
        )

    def proposals(self, first: Change | None, other: Change) -> list[Proposal]:
        """The best of another dimension, and of the first with it."""
        bases = _bases(first)
        columns = {
            float(amount): self._column(first, other, bases, amount) for amount in _nodes(other, _NODES)
        }
        for _ in range(_ROUNDS):
            places, stacked = _known(columns)
            if places.size < _MIN_AMOUNTS:
                break
            fine, surface = _surface(bases, places, stacked)
            size = self._worst(surface)  # (other, first)
            alone, both = size[:, np.argmin(np.abs(fine[0]))], size.min(axis=1)
            wanted = {self._rounded(fine[1][int(np.argmin(curve))]) for curve in (alone, both)} - set(columns)
            if not wanted:
                break
            columns |= {amount: self._column(first, other, bases, amount) for amount in wanted}
        return list(self._best(first, other, bases, columns))

    def _column(self, first: Change | None, other: Change, bases: NDArray, amount: float) -> NDArray:
        """S11 (first, f) with the other dimension changed by an amount."""
        if first is None:
            return self._s11((other, amount))[None]
        return np.array([self._s11((other, amount), (first, base)) for base in bases])

    def _rounded(self, amount: float) -> float:
        return round(round(amount / self.step) * self.step, 6)

    def _best(
        self, first: Change | None, other: Change, bases: NDArray, columns: dict[float, NDArray]
    ) -> Iterator[Proposal]:
        """Rounded optima: of the other dimension alone, and of both."""
        places, stacked = _known(columns)
        if places.size < _MIN_AMOUNTS:
            return
        yield from self._proposal([(other, self._along(places, stacked[:, np.argmin(np.abs(bases))]))])
        if first is not None:
            fine, surface = _surface(bases, places, stacked)
            row, column = np.unravel_index(np.argmin(self._worst(surface)), surface.shape[:2])
            yield from self._proposal(
                [(first, self._rounded(fine[0][column])), (other, self._rounded(fine[1][row]))]
            )

    def _along(self, places: NDArray, s11: NDArray) -> float:
        """Rounded amount with the least worst |S11|, of S11 (n, f) at some amounts."""
        good = np.isfinite(s11).all(axis=1)
        fine = np.linspace(places[good][0], places[good][-1], 8 * _FINE)
        return self._rounded(fine[np.argmin(self._worst(CubicSpline(places[good], s11[good])(fine)))])

    def _proposal(self, parts: Sequence[tuple[Change, float]]) -> Iterator[Proposal]:
        """The proposal of some changes, computed once more; none where nothing changes or cannot be made."""
        kept = tuple((change, amount) for change, amount in parts if abs(amount) >= self.step / 2)
        s11 = self._s11(*kept)
        if not kept or not np.all(np.isfinite(s11)):
            return
        changed, record = self.anchor, self.record
        try:
            for change, amount in kept:
                changed, record = change.applied(changed, amount), change.applied(record, amount)
        except InputError:
            return
        grid, estimated = estimated_match(changed, POINTS)
        curve = estimated + np.interp(grid, self.model.frequency, self.model.remainder)
        worst, (low, high) = float(decibels(self._worst(s11) ** 2)), match_band(grid, curve)
        state = match_state(worst, record.band.target_s11_db, MODEL_ERROR)
        yield Proposal(kept, record, worst, deepest_match(grid, curve)[0], low, high, state)


def _nodes(change: Change, count: int) -> NDArray:
    """Amounts at which a change is computed, none among them."""
    even = np.linspace(change.low, change.high, count)
    apart = np.abs(even) > 0.3 * (even[1] - even[0])
    return np.sort(np.append(even[apart], 0.0))


def _bases(first: Change | None) -> NDArray:
    """Amounts at which the first dimension is computed; none alone where there is no such dimension."""
    if first is None:
        return np.array([0.0])
    return _nodes(first, _MANY_NODES if first.range.same_guide else _NODES)


def _known(columns: dict[float, NDArray]) -> tuple[NDArray, NDArray]:
    """Amounts (n,) of those columns that are whole, in order, and their S11 (n, first, f)."""
    places = sorted(amount for amount, column in columns.items() if np.all(np.isfinite(column)))
    return np.array(places), np.array([columns[amount] for amount in places])


def _surface(bases: NDArray, places: NDArray, s11: NDArray) -> tuple[tuple[NDArray, NDArray], NDArray]:
    """Fine amounts of both dimensions, and S11 (other, first, f) there, of S11 (other, first, f) at nodes."""
    fine = [np.linspace(nodes[0], nodes[-1], _FINE) if nodes.size > 1 else nodes for nodes in (bases, places)]
    dense = CubicSpline(places, s11, axis=0)(fine[1])
    if bases.size > 1:
        dense = CubicSpline(bases, dense, axis=1)(fine[0])
    return (fine[0], fine[1]), dense
