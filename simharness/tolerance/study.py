"""How exact the dimensions of an antenna must be, and how many of a number made with given tools will do.

Every dimension that a hand tool makes is turned a little by itself, in the fast model of
`simharness.estimate.response_surface`: what that does (`Effect`), how far it may be off alone before the
match misses its target (`Allowed`), and what all errors together do to a large sample (`Yield`).
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError
from simharness.estimate.deviations import Deviation, deviations
from simharness.estimate.response_surface import Figures, Quadratic, ResponseSurface
from simharness.numerics.proportion import wilson_interval
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.tolerance.limits import Allowed, allowed_deviation
from simharness.tolerance.tool_errors import Tolerance, common_dimensions, slot_dimensions

STEP_SHARE = 0.05
"""Step of the central differences as a share of a suspect's limit: 0.2 mm at 2.45 GHz; half of it gives the same
slopes of S11 within 2 %."""

SPOT_CHECKS = 5
"""Antennas of a sample that the model itself computes too."""

DEFECT_SHARE = 0.3
"""Error of a slot that is too long by a slip of the hand, as a share of a suspect's limit: a hundredth of a wavelength."""


@dataclass(frozen=True)
class Effect:
    """What one dimension does, from central differences.

    Attributes
    ----------
    name, unit : str
        As in `deviations`; "mm" or "%".
    tolerance, own_tolerance : float
        Of the tools, in that unit: of all slots alike, or of the one dimension; of each slot by itself.
    slopes : dict
        Name of a field of `Figures` to its change (Hz or dB) for one unit; nan where there is none.
    s11_change : float
        Largest change of S11 in the band, in the complex plane, for the tolerance of the tools.
    own_s11_change : float
        Root sum of squares of that for an error of each slot by itself; 0 where it makes no sense.
    """

    name: str
    unit: str
    tolerance: float
    own_tolerance: float
    slopes: dict[str, float]
    s11_change: float
    own_s11_change: float


@dataclass(frozen=True)
class Defect:
    """One piece of bad workmanship: words, and figures of the antenna with it."""

    words: str
    figures: Figures


@dataclass(frozen=True)
class Yield:
    """A sample of antennas with errors of the tools.

    Attributes
    ----------
    figures : Figures
        One value for each antenna.
    meets : (s,) bool array
        Whose worst S11 meets the target: what the share counts and the picture colours.
    spot_error : float
        Largest error of the surrogate's S11 in the complex plane over the band, against the fast model itself, in the
        first few antennas.
    """

    figures: Figures
    meets: NDArray
    spot_error: float

    @property
    def good(self) -> int:
        """How many meet the target."""
        return int(np.count_nonzero(self.meets))

    @property
    def share(self) -> float:
        """Of those that do."""
        return self.good / self.meets.size

    @property
    def interval(self) -> tuple[float, float]:
        """Shares of all such antennas that the sample does not contradict, 95 %; see `wilson_interval`."""
        return wilson_interval(self.good, self.meets.size)


@dataclass(frozen=True)
class ToleranceStudy:
    """All that is found about the tolerances of a record.

    Attributes
    ----------
    tools : str
    resonance_is : str
        What resonance means here.
    drawn : Figures
        Of the antenna as drawn.
    effects : tuple of Effect
        The strongest first.
    allowed : dict
        Name of a dimension to Allowed; empty if the antenna as drawn misses its target.
    sample : Yield
    defects : tuple of Defect
    run : str or None
        Name of the full-wave run that set the model right.
    """

    tools: str
    resonance_is: str
    drawn: Figures
    effects: tuple[Effect, ...]
    allowed: dict[str, Allowed]
    sample: Yield
    defects: tuple[Defect, ...]
    run: str | None


class Tolerances:
    """The dimensions of a record with their surrogate.

    Parameters
    ----------
    model : ResponseSurface
    tools : dict
        Name of a common dimension to Tolerance.
    progress : Progress or None
    """

    def __init__(self, model: ResponseSurface, tools: dict[str, Tolerance], progress: Progress | None = None):
        self.model, self.tools, self._progress = model, tools, progress or Silent()
        self.common, self.own = common_dimensions(model.record), slot_dimensions(model.record)
        everything = self.common + self.own
        self.steps = np.array([STEP_SHARE * dimension.limit for dimension in everything])
        self.quadratic = self._surrogate(everything)
        common = [tools[dimension.name].common for dimension in self.common]
        own = [tools[dimension.name.rsplit(" ", 1)[0]].own for dimension in self.own]
        self.sizes = np.array(common + own)
        self.drawn = model.figures(model.drawn[None])
        self.target_db = model.record.band.target_s11_db

    def _surrogate(self, dimensions: tuple[Deviation, ...]) -> Quadratic:
        rows = [
            self.model.slope_and_bend(dimension, self.steps[number])
            for number, dimension in self._in_turn(dimensions)
        ]
        slopes, bends = zip(*rows)
        return Quadratic(self.model.drawn, np.array(slopes), np.array(bends))

    def _in_turn(self, dimensions: tuple[Deviation, ...]) -> Iterator[tuple[int, Deviation]]:
        """Dimensions with their numbers, while the progress is told."""
        begin = time.monotonic()
        for number, dimension in enumerate(dimensions):
            left = (time.monotonic() - begin) / max(number, 1) * (len(dimensions) - number)
            self._progress.advance(number / len(dimensions), left, dimension.name)
            yield number, dimension
        self._progress.done()

    def _alone(self, number: int, amounts: NDArray) -> NDArray:
        """Parts (s, m) with one dimension off by some amounts (s,)."""
        everything = np.zeros((len(amounts), self.sizes.size))
        everything[:, number] = amounts
        return self.quadratic(everything)

    def effects(self) -> tuple[Effect, ...]:
        """What each common dimension does, the strongest first."""
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
        """How far each common dimension may be off alone; empty if the antenna as drawn misses its target."""
        if self.drawn.worst_s11[0] > self.target_db:
            return {}
        found = {}
        for number, dimension in self._in_turn(self.common):

            def guessed(amounts: NDArray, number: int = number) -> NDArray:
                return self.model.worst_s11(self._alone(number, amounts))

            found[dimension.name] = allowed_deviation(self.model, dimension, guessed, self.target_db)
        return found

    def amounts(self, count: int, seed: int) -> NDArray:
        """Random errors (count, dimensions): normal, the tolerance being two standard deviations."""
        return 0.5 * self.sizes * np.random.default_rng(seed).standard_normal((count, self.sizes.size))

    def sample(self, count: int = 2000, seed: int = 1) -> Yield:
        """Figures of a number of antennas made with the tools, by the surrogate.

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
        """Largest error of the surrogate's S11 in the band for some antennas (s, dimensions)."""
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
        """One slot too long, and one covered: of each the slot where it is worst."""
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
        return Defect(f"{slot.words} {amount:.2g} mm too long", self.model.figures(parts[None]))

    def _covered_slot(self) -> Defect | None:
        record = self.model.record
        covers = [deviation for deviation in deviations(record) if not deviation.unit]
        if not covers:
            return None
        parts = np.array(
            [self.model.parts(cover.applied(record, 1.0), slot) for slot, cover in enumerate(covers)]
        )
        slot = int(np.argmax(self.model.worst_s11(parts)))
        return Defect(f"slot {slot + 1} is covered", self.model.figures(parts[slot : slot + 1]))

    def study(self, tools: str, count: int, seed: int, run: str | None = None) -> ToleranceStudy:
        """Everything about the tolerances of the record.

        Parameters
        ----------
        tools : str
            What the tolerances are called in `tool_errors.TOOLS`.
        count, seed : int
            Of the sample.
        run : str or None
            Name of the full-wave run that set the model right.
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
