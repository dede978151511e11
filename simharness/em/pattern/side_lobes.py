"""Side lobes of a radiation pattern, and shoulders of its main lobe: side lobes grown together with it.

A pattern is a power-like quantity over an angle in rad, as in `simharness.em.pattern.levels`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.em.pattern.levels import SAME_ANGLE, centred_cut, checked_cut, from_broadside, turned_in
from simharness.numerics.decibels import decibels
from simharness.numerics.parabola import refined_maximum, refined_minimum

_SLACK = 0.5
"""Share of the steepest fall before it to which a fall slackens in a shoulder; a choice."""

_HALF_POWER_DB = -3.0
_NOTHING = 1e-8
"""Relative power below which a flank is no longer looked at."""


class SideLobe(NamedTuple):
    """Highest side lobe: where it is in rad, how high in dB under the peak, and whether it is a shoulder."""

    angle: float
    level: float
    shoulder: bool = False


def side_lobe(angle: ArrayLike, power: ArrayLike, limit: float = np.pi) -> SideLobe | None:
    """Highest lobe or shoulder outside the main lobe.

    Parameters
    ----------
    angle : (n,) array
        rad, increasing; a full turn is taken as periodic.
    power : (n,) array
        Linear power-like pattern.
    limit : float
        Only directions within this angle in rad of broadside count, for the peak as for
        the lobes (pi/2: the front).

    Returns
    -------
    SideLobe or None
        None if there is nothing outside the main lobe.

    Raises
    ------
    InputError
        Unusable cut.

    Notes
    -----
    The main lobe ends at the first minimum on either side. A first side lobe that has grown together with
    it, so that no minimum is left between them, counts as well: where the fall of the level, in dB, slackens
    to less than half of the steepest before it, below half power. While the minimum fills up, lobe and
    minimum meet in that very point: two patterns that hardly differ have levels that hardly differ.
    """
    angle, power, top = centred_cut(*checked_cut(angle, power), limit)
    highest = refined_maximum(angle, power, top).value
    inside = from_broadside(angle) <= limit + SAME_ANGLE
    found = []
    for way in (1, -1):
        side = slice(top, None) if way > 0 else slice(top, None, -1)
        far, level = way * angle[side], power[side]
        allowed = inside[side]
        rising = np.flatnonzero(np.diff(level) > 0)
        end = int(rising[0]) if rising.size else level.size - 1
        slack = _shoulder(far[: end + 1], level[: end + 1], highest)
        if slack is not None and from_broadside(slack[0]) <= limit:
            found.append(SideLobe(way * slack[0], slack[1], shoulder=True))
        if rising.size:
            found += [SideLobe(way * place, value) for place, value in _lobes(far, level, allowed, end + 1)]
    best = max(found, key=lambda lobe: lobe.level, default=None)
    if best is None or best.level <= 0:
        return None
    return SideLobe(turned_in(best.angle), float(decibels(best.level / highest)), best.shoulder)


def _lobes(angle: NDArray, power: NDArray, allowed: NDArray, start: int) -> list[tuple[float, float]]:
    """Highest sample and tops of lobes from an index on, as (angle, power)."""
    usable = np.where(allowed, power, -1.0)[start:]
    if not usable.size or usable.max() < 0:
        return []
    index = start + int(np.argmax(usable))
    found = [(float(angle[index]), float(power[index]))]
    slope = np.diff(power)
    tops = np.flatnonzero((slope[:-1] > 0) & (slope[1:] <= 0)) + 1
    for lobe in tops[(tops >= start) & allowed[tops]]:
        top = refined_maximum(angle, power, int(lobe))
        found.append((top.place, top.value))
    return found


def _shoulder(angle: NDArray, power: NDArray, highest: float) -> tuple[float, float] | None:
    """Where a falling flank slackens first, as (angle, power); see `side_lobe`."""
    if power.size < 5:
        return None
    level = decibels(np.maximum(power / highest, _NOTHING))
    fall = -np.diff(level) / np.diff(angle)
    place = 0.5 * (angle[1:] + angle[:-1])
    middle = 0.5 * (level[1:] + level[:-1])
    counts = (middle < _HALF_POWER_DB) & (middle > decibels(_NOTHING))
    for index in np.flatnonzero((fall[1:-1] < fall[:-2]) & (fall[1:-1] <= fall[2:])) + 1:
        if counts[index] and fall[index] < _SLACK * fall[:index].max():
            where, _ = refined_minimum(place, fall, int(index))
            return where, highest * 10 ** (float(np.interp(where, angle, level)) / 10)
    return None


def side_lobe_level(angle: ArrayLike, power: ArrayLike, limit: float = np.pi) -> float:
    """Level of the highest side lobe in dB under the peak, -inf where there is none; see `side_lobe`."""
    found = side_lobe(angle, power, limit)
    return float("-inf") if found is None else found.level
