"""A record and its neighbours: what is predicted of them without solving anything."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simharness.em.pattern.aperture import Aperture
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.estimate.slot_order import same_order
from simharness.live.answers import Exact, Prediction, in_phase, match_figures
from simharness.live.cuts import ANGLE, SlotCuts
from simharness.live.differences import differences, field_step, field_values
from simharness.live.path import FIRST_REACH, QUADRATIC, Path, path
from simharness.live.surface import NearSurface
from simharness.records import Record
from simharness.sweep.points import Variable, varied_record


@dataclass(frozen=True)
class _Correction:
    """What an exact estimate has taught: it is added to all that is predicted."""

    exact: Exact
    parts: NDArray
    s11: NDArray
    gain: float
    side_lobes: float


class LiveModel:
    """The response surface of a record and its paths over single dimensions.

    Of the shipped records, with four fields off by half a step each, S11 in the band was that of the estimate
    within 0.014 (a whole step: 0.05); after `learn` it is that of the estimate itself at the record learned.

    Parameters
    ----------
    record : Record
        With slots.

    Attributes
    ----------
    record : Record
    paths : dict
        Name of a field, or of a dimension that tools make, to its `Path`; None where there is none.

    Raises
    ------
    InputError
        The record has no slots, or another mode than TE10 may travel.
    """

    def __init__(self, record: Record):
        self.record = record
        self.surface = NearSurface(record)
        self.paths: dict[str, Path | None] = {}
        self._cuts = SlotCuts(record)
        self._exact: Exact | None = None
        self._correction: _Correction | None = None

    def solve_field(self, name: str, steps: tuple[int, ...] = QUADRATIC) -> Path | None:
        """Solve the path of a field and keep it; None where the antenna does not vary smoothly with it."""
        step = field_step(self.record, name)
        found = None
        if step is not None:
            by_rule = self.record.slot_rule is not None and not name.startswith("slot.")
            value = field_values(self.record, by_rule)[name]

            def changed(amount: float) -> Record:
                return varied_record(self.record, [Variable(name, (value,))], [value + amount])

            found = self.solved_path(changed, step, steps)
        self.paths[name] = found
        return found

    def solved_path(
        self, changed: Callable[[float], Record], step: float, steps: tuple[int, ...] = QUADRATIC
    ) -> Path | None:
        """The path of a dimension; `changed` makes the record with the dimension off by an amount."""
        drawn = self.surface.drawn
        return path(lambda amount: self.surface.parts(changed(amount)) - drawn, step, steps)

    def keep(self, name: str, found: Path | None) -> None:
        """Take the path of a dimension that was solved elsewhere."""
        again, self.paths[name] = name in self.paths, found
        if again:
            self._correction = None  # it was made with the path before

    def unknown(self, names: Iterable[str]) -> tuple[str, ...]:
        """Those whose path has not been solved."""
        return tuple(name for name in names if name not in self.paths)

    def parts(self, other: Record) -> NDArray | None:
        """Predicted parts (m,) of a record, what was learned included; None where they are not known."""
        plain = self._plain_parts(other)
        correction = self._corrected()
        return plain if plain is None or correction is None else plain + correction.parts

    def _plain_parts(self, other: Record) -> NDArray | None:
        amounts = differences(self.record, other)
        if amounts is None:
            return None
        found = self.surface.drawn.copy()
        for name, amount in amounts.items():
            known = self.paths.get(name)
            if known is None or not known.reaches(amount):
                return None
            found += known.change(amount)
        return found

    def s11(self, parts: NDArray) -> NDArray:
        """S11 (s, f) of parts (s, m), at the frequencies of the surface, what was learned included."""
        correction = self._corrected()
        return self.surface.s11(parts) + (0.0 if correction is None else correction.s11)

    def predicted(self, other: Record) -> Prediction | None:
        """What a record near this one does; None where it is not known; see `reached`."""
        if self._exact is not None and differences(self._exact.record, other) == {}:
            return self._shown(other)
        parts = self.parts(other)
        if parts is None:
            return None
        s11 = self.s11(parts[None])[0]
        grid = self.surface.grid
        voltages = self._turned(other, self.surface.voltages(parts[None])[0])
        along, across = self._cuts.levels(self._aperture(other, voltages))
        figures = self.surface.figures(parts[None])
        correction = self._corrected()
        gain, lobes = (0.0, 0.0) if correction is None else (correction.gain, correction.side_lobes)
        shown = replace(
            match_figures(other, grid, s11[: grid.size]),
            gain=float(figures.gain[0]) + gain,
            side_lobes=float(figures.side_lobes[0]) + lobes,
        )
        return Prediction(grid, s11[: grid.size], voltages, ANGLE, along, across, shown, False)

    def _shown(self, other: Record) -> Prediction:
        """The exact answer for a record that differs by its target alone."""
        assert self._exact is not None
        known = self._exact.shown
        worst = match_figures(other, known.frequency, known.s11).worst_s11
        return replace(known, figures=replace(known.figures, worst_s11=worst))

    def learn(self, exact: Exact) -> None:
        """Take an exact answer: from now on it is what this model says of that record."""
        self._exact = exact

    def _corrected(self) -> _Correction | None:
        """What the last exact answer adds; it waits until the paths to its record are known."""
        exact, known = self._exact, self._correction
        if exact is not None and (known is None or known.exact is not exact):
            plain = self._plain_parts(exact.record)
            if plain is not None:
                known = self._correction = self._compared(exact, plain)
        return known

    def _compared(self, exact: Exact, plain: NDArray) -> _Correction:
        surface, shown = self.surface, exact.shown
        known = surface.known_parts(
            exact.record, shown.frequency, exact.reflection, shown.slot_voltages, plain
        )
        own, grid = surface.s11(known[None])[0, : surface.grid.size], surface.grid
        s11 = np.interp(surface.frequency, grid, _on_grid(shown, grid) - own)
        figures, told = surface.figures(known[None]), shown.figures
        gain, lobes = told.gain - float(figures.gain[0]), told.side_lobes - float(figures.side_lobes[0])
        return _Correction(exact, known - plain, s11, _finite(gain), _finite(lobes))

    def _turned(self, other: Record, voltages: NDArray) -> NDArray:
        """Voltages in the order of another record's slots."""
        place = self._places(other)
        found = np.empty_like(voltages)
        found[place] = voltages
        return in_phase(found)

    def _places(self, other: Record) -> NDArray:
        """Where along the other record each slot of this one lies, (n,) int."""
        return same_order(self.record, other, np.arange(len(other.slots)))

    def _aperture(self, other: Record, voltages: NDArray) -> Aperture:
        """The slots of another record in the order of this one's."""
        found, place = model_inputs.aperture(other, voltages), self._places(other)
        values = (found.offsets, found.positions, found.lengths, found.voltages, found.behind)
        return Aperture(*(value[place] for value in values))


def _on_grid(shown: Prediction, grid: NDArray) -> NDArray:
    """S11 of an exact answer at other frequencies: a guide of another width may have another span."""
    if np.array_equal(shown.frequency, grid):
        return shown.s11
    return CubicSpline(shown.frequency, shown.s11)(np.clip(grid, *shown.frequency[[0, -1]]))


def _finite(value: float) -> float:
    return value if np.isfinite(value) else 0.0


def reached(base: Record, other: Record, paths: Mapping[str, Path | None]) -> tuple[str, ...] | None:
    """Fields by which a record differs from a base; None where another record must be the base.

    That is where something else than smooth fields differ, or one has moved farther than its path reaches (or
    can be expected to, before it is solved).
    """
    found = differences(base, other)
    if found is None:
        return None
    for name, amount in found.items():
        known = paths.get(name)
        if known is None:
            step = None if name in paths else field_step(base, name)
            if step is None or abs(amount) > FIRST_REACH * step:
                return None
        elif not known.reaches(amount):
            return None
    return tuple(found)


def live_model(record: Record) -> LiveModel | None:
    """The model of a record; None where nothing can be predicted: without slots, or beyond what the estimate
    can do."""
    try:
        return LiveModel(record) if record.slots else None
    except InputError:
        return None
