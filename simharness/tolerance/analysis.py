"""How exact the dimensions must be, and what share of the antennas made with given tools meets the target.

Every dimension that a tool makes is varied by itself in the model of `simharness.estimate.response_surface`:
what that changes (`Effect`), how far it may be off alone before S11 misses its target (`Allowed`), and the
effect of all errors together on a large sample (`Yield`).
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError
from simharness.estimate.deviations import COVERED, Deviation, deviations
from simharness.estimate.response_surface import Quadratic, ResponseSurface
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.tolerance.limits import Allowed, allowed_deviation
from simharness.tolerance.study import Defect, Effect, ToleranceStudy, Yield
from simharness.tolerance.tool_errors import (
    Tolerance,
    common_dimensions,
    error_sizes,
    random_errors,
    slot_dimensions,
    tools_for,
)

STEP_SHARE = 0.05
"""Step of the central differences as a share of the limit of the deviation: 0.2 mm at 2.45 GHz; half of
it gives the same slopes of S11 within 2 %."""

SPOT_CHECKS = 5
"""Number of antennas of a sample that are also computed by the model itself."""

DEFECT_SHARE = 0.3
"""Error of a slot that is too long by mistake, as a share of the limit of the deviation: a hundredth of a
wavelength."""


class ToleranceAnalysis:
    """Tolerance study of a record by a quadratic surrogate of its model.

    Parameters
    ----------
    model : ResponseSurface
    tools : dict
        Name of a common dimension to Tolerance.
    progress : Progress or None
    """

    def __init__(self, model: ResponseSurface, tools: dict[str, Tolerance], progress: Progress | None = None):
        self.model, self.tools = model, tools_for(model.record, tools)
        self._progress = progress or Silent()
        self.common, self.own = common_dimensions(model.record), slot_dimensions(model.record)
        everything = self.common + self.own
        self.steps = np.array([STEP_SHARE * dimension.limit for dimension in everything])
        self.quadratic = self._surrogate(everything)
        self.sizes = np.array(list(error_sizes(model.record, tools).values()))
        self.drawn = model.figures(model.drawn[None])
        self.target_db = model.record.band.target_s11_db

    def _surrogate(self, dimensions: tuple[Deviation, ...]) -> Quadratic:
        rows = [
            self.model.slope_and_bend(dimension, self.steps[number])
            for number, dimension in self._with_progress(dimensions)
        ]
        slopes, bends = zip(*rows)
        return Quadratic(self.model.drawn, np.array(slopes), np.array(bends))

    def _with_progress(self, dimensions: tuple[Deviation, ...]) -> Iterator[tuple[int, Deviation]]:
        """Dimensions with their numbers; progress is reported meanwhile."""
        begin = time.monotonic()
        for number, dimension in enumerate(dimensions):
            left = (time.monotonic() - begin) / max(number, 1) * (len(dimensions) - number)
            self._progress.advance(number / len(dimensions), left, dimension.name)
            yield number, dimension
        self._progress.done()

    def _alone(self, number: int, amounts: NDArray) -> NDArray:
        """Parts (s, m) of the model with one dimension off by amounts (s,)."""
        everything = np.zeros((len(amounts), self.sizes.size))
        everything[:, number] = amounts
        return self.quadratic(everything)

    def effects(self) -> tuple[Effect, ...]:
        """Effects of the common dimensions, the strongest first."""
        found = [self._effect(number, dimension) for number, dimension in enumerate(self.common)]
        return tuple(sorted(found, key=lambda effect: -math.hypot(effect.s11_change, effect.own_s11_change)))

    def _effect(self, number: int, dimension: Deviation) -> Effect:
        step = self.steps[number]
        figures = self.model.figures(self._alone(number, np.array([-step, step])))
        slopes = {name: float(np.diff(values)[0] / (2 * step)) for name, values in vars(figures).items()}
        own = [
            self._s11_change(len(self.common) + i)
            for i, one in enumerate(self.own)
            if one.name.startswith(f"{dimension.name} ")
        ]
        tolerance = self.tools[dimension.name]
        return Effect(
            dimension.name,
            dimension.unit,
            tolerance.common,
            tolerance.own,
            slopes,
            self._s11_change(number),
            float(np.linalg.norm(own)),
        )

    def _s11_change(self, number: int) -> float:
        size = self.sizes[number]
        bands = self.model.band_s11(self._alone(number, np.array([0.0, -size, size])))
        return float(np.abs(bands[1:] - bands[0]).max(axis=1).mean())

    def allowed(self) -> dict[str, Allowed]:
        """Allowed deviation of each common dimension alone; empty if the target is missed as drawn."""
        if self.drawn.worst_s11[0] > self.target_db:
            return {}
        found = {}
        for number, dimension in self._with_progress(self.common):

            def guessed(amounts: NDArray, number: int = number) -> NDArray:
                return self.model.worst_s11(self._alone(number, amounts))

            found[dimension.name] = allowed_deviation(self.model, dimension, guessed, self.target_db)
        return found

    def amounts(self, count: int, seed: int) -> NDArray:
        """Random errors (count, dimensions), mm or %: normal, the tolerance being two standard deviations."""
        return random_errors(self.sizes, count, seed)

    def sample(self, count: int = 2000, seed: int = 1) -> Yield:
        """A random sample of antennas made with the tools, by the surrogate.

        Parameters
        ----------
        count : int
        seed : int
            Of the random numbers: the same seed gives the same antennas.
        """
        amounts = self.amounts(count, seed)
        figures = self.model.figures(self.quadratic(amounts))
        return Yield(figures, figures.worst_s11 <= self.target_db, self.spot_error(amounts[:SPOT_CHECKS]))

    def spot_error(self, amounts: NDArray) -> float:
        """Largest error of the surrogate's S11 in the band for the antennas of `amounts` (s, dimensions)."""
        errors = [0.0]
        for row in amounts:
            try:
                parts = self.model.parts(self.record_with(row))
            except InputError:
                continue
            both = self.model.band_s11(np.stack([parts, self.quadratic(row[None])[0]]))
            errors.append(float(np.abs(both[0] - both[1]).max()))
        return max(errors)

    def record_with(self, amounts: NDArray) -> Record:
        """The record with every dimension off by its amount.

        Raises
        ------
        InputError
            No such antenna exists.
        """
        record = self.model.record
        for dimension, amount in zip(self.common + self.own, amounts):
            record = dimension.applied(record, float(amount))
        return record

    def defects(self) -> tuple[Defect, ...]:
        """One slot too long, and one slot covered: each time the slot where it is worst."""
        found = [self._long_slot(), self._covered_slot()]
        return tuple(defect for defect in found if defect is not None)

    def _long_slot(self) -> Defect | None:
        lengths = [
            (n, one) for n, one in enumerate(self.common + self.own) if one.name.startswith("slot length ")
        ]
        amount = DEFECT_SHARE * lengths[0][1].limit
        _, slot = max(
            lengths, key=lambda pair: self.model.worst_s11(self._alone(pair[0], np.array([amount])))[0]
        )
        try:
            parts = self.model.parts(slot.applied(self.model.record, amount))
        except InputError:
            return None
        return Defect(f"{slot.subject} {amount:.2g} mm too long", self.model.figures(parts[None]))

    def _covered_slot(self) -> Defect | None:
        record = self.model.record
        covers = [deviation for deviation in deviations(record) if deviation.name.endswith(COVERED)]
        if not covers:
            return None
        parts = np.array(
            [self.model.parts(cover.applied(record, 1.0), slot) for slot, cover in enumerate(covers)]
        )
        slot = int(np.argmax(self.model.worst_s11(parts)))
        return Defect(f"slot {slot + 1} is covered", self.model.figures(parts[slot : slot + 1]))

    def study(self, tools: str, count: int, seed: int, run: str | None = None) -> ToleranceStudy:
        """The whole study.

        Parameters
        ----------
        tools : str
            Key of the tolerances in `tool_errors.TOOLS`.
        count, seed : int
            Of the sample.
        run : str or None
            Name of the full-wave run that corrected the model.
        """
        sample = self.sample(count, seed)
        return ToleranceStudy(
            tools,
            self.model.resonance_is,
            self.drawn,
            self.effects(),
            self.allowed(),
            sample,
            self.defects(),
            run,
        )
