"""How far one dimension may be off before S11 misses its target: by a surrogate first, then by the model."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError
from simharness.estimate.deviations import Deviation
from simharness.estimate.response_surface import ResponseSurface

ENOUGH_DB = 0.1
"""Accuracy of the worst S11 at an allowed deviation, dB."""

_STEPS = 5
"""Evaluations of the model for one allowed deviation."""

_SCAN = 80
"""Intervals in which the surrogate is scanned."""


@dataclass(frozen=True)
class Allowed:
    """How far one dimension may be off, all others as drawn, before S11 misses its target.

    Attributes
    ----------
    less, more : float
        Downwards and upwards, both positive, mm or %.
    less_open, more_open : bool
        The target is met over the whole range examined.
    """

    less: float
    more: float
    less_open: bool
    more_open: bool

    @property
    def either(self) -> float:
        """The smaller of both directions."""
        return min(self.less, self.more)


def allowed_deviation(
    model: ResponseSurface, dimension: Deviation, guessed: Callable[[NDArray], NDArray], target_db: float
) -> Allowed:
    """Largest deviations of one dimension alone for which the target is met.

    Parameters
    ----------
    model : ResponseSurface
        Its antenna as drawn meets the target.
    dimension : Deviation
    guessed : function
        Worst S11 in the band, dB (s,), by a surrogate for amounts (s,).
    target_db : float
        Of S11 in the band, dB.
    """
    ways = [_reach(model, dimension, guessed, target_db, end) for end in dimension.range(model.record)]
    (less, less_open), (more, more_open) = ways
    return Allowed(abs(less), abs(more), less_open, more_open)


def _reach(
    model: ResponseSurface,
    dimension: Deviation,
    guessed: Callable[[NDArray], NDArray],
    target_db: float,
    end: float,
) -> tuple[float, bool]:
    """Amount towards `end` at which the target is missed, and whether it is met all the way."""
    if not end:
        return 0.0, True
    scan = np.linspace(0.0, end, _SCAN + 1)
    margins = target_db - guessed(scan)
    missed = np.flatnonzero(margins[1:] < 0) + 1
    amount = end
    if missed.size:
        first = int(missed[0])
        part = margins[first - 1] / (margins[first - 1] - margins[first])
        amount = float(scan[first - 1] + part * (scan[first] - scan[first - 1]))

    def margin(value: float) -> float:
        """Target minus worst S11, dB, by the model itself; minus infinity where there is no such antenna."""
        try:
            parts = model.parts(dimension.applied(model.record, value))
        except InputError:
            return -math.inf
        return float(target_db - model.worst_s11(parts[None])[0])

    return _zero_of(margin, amount, end, float(margins[0]))


def _zero_of(margin: Callable[[float], float], amount: float, end: float, drawn: float) -> tuple[float, bool]:
    """Zero of a margin between 0, where it is `drawn`, and `end`, by false position from a first guess.

    Returns the amount, and whether the margin remains positive up to `end`.
    """
    good, good_margin = 0.0, drawn
    bad, bad_margin = None, 0.0
    for _ in range(_STEPS):
        found = margin(amount)
        if found >= 0 and amount == end:
            return end, True
        if abs(found) < ENOUGH_DB:
            break
        if found > 0:
            good, good_margin = amount, found
        else:
            bad, bad_margin = amount, found
        if bad is None:
            amount = end if abs(1.5 * amount) >= abs(end) else 1.5 * amount
        else:
            part = good_margin / (good_margin - bad_margin) if math.isfinite(bad_margin) else 0.5
            amount = good + min(max(part, 0.1), 0.9) * (bad - good)
    return amount, False
