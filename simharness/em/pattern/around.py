"""Ripple of a pattern around the guide, and its nulls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.numerics.decibels import decibels
from simharness.numerics.parabola import refined_minimum

SECTOR = np.radians(60.0)
"""Half width of the sectors about front and back where the ripple counts, rad; two thirds of a turn."""
NULL_DB = 10.0
"""Depth below the maximum from which on a minimum counts as a null, dB; a choice."""
_FLOOR = 1e-12


@dataclass(frozen=True)
class Null:
    """A null in a plane: angle from broadside, rad, and level relative to the strongest direction, dB."""

    angle: float
    level_db: float


def ripple_db(angle: NDArray, power: NDArray) -> float:
    """Largest over smallest level within `SECTOR` of front or back, dB.

    Parameters
    ----------
    angle : (n,) array
        rad from broadside, -pi to pi.
    power : (n,) array
        Linear power-like pattern.

    Examples
    --------
    >>> angle = np.radians(np.arange(-180, 181))
    >>> round(ripple_db(angle, np.cos(angle) ** 2), 2)
    6.02
    """
    near = power[np.abs(np.sin(angle)) <= np.sin(SECTOR) + 1e-9]
    return decibels(near.max() / max(near.min(), _FLOOR * near.max()))


def nulls(angle: NDArray, power: NDArray) -> tuple[Null, ...]:
    """Nulls of a full turn, in order of the angle; see `NULL_DB`.

    The place is the vertex of a parabola through the three lowest samples; the level is that of the lowest
    one, so that a coarse grid makes a null look shallower, never deeper.

    Parameters
    ----------
    angle : (n,) array
        rad, -pi to pi in even steps, the end repeating the start.
    power : (n,) array
        Linear power-like pattern.

    Examples
    --------
    >>> angle = np.radians(np.arange(-180, 181, 2.0))
    >>> [round(float(np.degrees(null.angle)), 3) for null in nulls(angle, np.sin(angle - 0.3) ** 2)]
    [-162.811, 17.189]
    """
    power = power[:-1] / power.max()
    before, after = np.roll(power, 1), np.roll(power, -1)
    lowest = np.flatnonzero((power < before) & (power <= after) & (power < 10 ** (-NULL_DB / 10)))
    step, neighbours = angle[1] - angle[0], np.arange(-1.0, 2.0)
    return tuple(
        Null(
            refined_minimum(angle[i] + step * neighbours, np.array([before[i], power[i], after[i]]), 1).place,
            decibels(power[i]),
        )
        for i in lowest
    )
