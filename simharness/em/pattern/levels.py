"""Figures of a radiation pattern: peak, beamwidth, front to back.

A pattern is a power-like quantity over an angle in rad, measured from broadside (+y) from
-pi to pi, increasing. Terms follow IEEE Std 145.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import TWO_PI
from simharness.errors import InputError
from simharness.numerics.decibels import decibels
from simharness.numerics.parabola import refined_maximum

SAME_ANGLE = 1e-9
"""Angles nearer than this are one, rad."""


class Peak(NamedTuple):
    """Direction in rad and level in the unit of the pattern."""

    angle: float
    power: float


def checked_cut(angle: ArrayLike, power: ArrayLike) -> tuple[NDArray, NDArray]:
    """Arrays of a usable cut."""
    angle, power = np.asarray(angle, float), np.asarray(power, float)
    if angle.ndim != 1 or angle.shape != power.shape or angle.size < 5:
        raise InputError("cut", (angle.shape, power.shape), "two equal rows of 5 or more")
    if not np.all(np.diff(angle) > 0) or not np.all(power >= 0) or not power.max() > 0:
        raise InputError("cut", "unusable", "increasing angles, powers >= 0 and not all zero")
    return angle, power


def from_broadside(angle: ArrayLike) -> NDArray:
    """Magnitude of the angle, brought into [0, pi]."""
    return np.abs(np.angle(np.exp(1j * np.asarray(angle))))


def turned_in(angle: float) -> float:
    """The angle within (-pi, pi], rad."""
    return float(angle - TWO_PI * np.ceil((angle - np.pi) / TWO_PI))


def centred_cut(angle: NDArray, power: NDArray, limit: float = np.pi) -> tuple[NDArray, NDArray, int]:
    """Cut and index of its highest sample within ``limit`` of broadside.

    A full turn is cut open opposite to that sample; a part of a turn stays as it is.
    """
    allowed = np.where(from_broadside(angle) <= limit + SAME_ANGLE, power, -1.0)
    if abs(angle[-1] - angle[0] - TWO_PI) > SAME_ANGLE:
        return angle, power, int(np.argmax(allowed))
    centre = angle[np.argmax(allowed)]
    turned = angle[:-1] + TWO_PI * np.round((centre - angle[:-1]) / TWO_PI)
    order = np.argsort(turned)
    turned, power = turned[order], power[:-1][order]
    top = int(np.argmin(np.abs(turned - centre)))
    return np.append(turned, turned[0] + TWO_PI), np.append(power, power[0]), top


def peak(angle: ArrayLike, power: ArrayLike, limit: float = np.pi) -> Peak:
    """Direction and level of the maximum.

    Parameters
    ----------
    angle : (n,) array
        rad, increasing.
    power : (n,) array
        Linear power-like pattern.
    limit : float
        Only directions within this angle in rad of broadside count (pi/2: the front).

    Returns
    -------
    Peak
        Top of a parabola through the three highest samples; the angle within
        (-pi, pi].

    Raises
    ------
    InputError
        Unusable cut.

    Examples
    --------
    >>> x = np.radians(np.arange(-180, 181, 2.0))
    >>> print(round(float(np.degrees(peak(x, 1 + np.cos(x - np.radians(31))).angle)), 2))
    31.0
    """
    angle, power, highest = centred_cut(*checked_cut(angle, power), limit)
    place, level = refined_maximum(angle, power, highest)
    return Peak(turned_in(place), level)


def largest(power: ArrayLike) -> float:
    """Maximum over the sphere, by parabolas through the highest sample and its neighbours in theta and phi.

    Parameters
    ----------
    power : (nt, np) array
        Power-like, at even steps of theta and phi, the end of phi repeating its start.

    Returns
    -------
    float
        In the unit of `power`.

    Examples
    --------
    >>> theta, phi = np.radians(np.arange(0, 181, 2.0)), np.radians(np.arange(0, 361, 2.0))
    >>> print(round(largest(np.sin(theta - 0.01)[:, None] ** 40 * (2 + np.cos(phi - 0.02))), 3))
    3.0
    """
    power = np.asarray(power, float)
    row, column = np.unravel_index(np.argmax(power), power.shape)
    highest, top = float(power[row, column]), float(power[row, column])
    for cut, at in ((power[:, column], row), (np.roll(power[row, :-1], 1 - column), 1)):
        top += refined_maximum(np.arange(cut.size, dtype=float), cut, int(at)).value - highest
    return top


def _crossing(angle: NDArray, power: NDArray, level: float, index: int) -> float:
    """Where the pattern falls through ``level`` between ``index`` and ``index + 1``.

    A cubic through four samples of the linear power, which is smooth even at nulls.
    """
    first = min(max(index - 1, 0), angle.size - 4)
    x, y = angle[first : first + 4], power[first : first + 4]
    step = angle[index + 1] - angle[index]
    cubic = np.polyfit((x - angle[index]) / step, y / level, 3)
    cubic[-1] -= 1
    roots = np.roots(cubic)
    inside = roots.real[(np.abs(roots.imag) < 1e-9) & (np.abs(roots.real - 0.5) <= 0.5 + 1e-9)]
    if inside.size == 0:
        raise InputError("cut", "no single crossing", "finer angles")
    return float(angle[index] + step * inside[0])


def half_power_beamwidth(angle: ArrayLike, power: ArrayLike) -> float:
    """Angle between the half-power directions of the main lobe.

    Parameters
    ----------
    angle : (n,) array
        rad, increasing; a full turn is taken as periodic.
    power : (n,) array
        Linear power-like pattern.

    Returns
    -------
    float
        rad; nan when the pattern does not fall to half its peak on both sides. With five
        samples across the beamwidth the interpolation is good to about 0.1 %.

    Raises
    ------
    InputError
        Unusable cut.

    Examples
    --------
    >>> x = np.radians(np.arange(-180, 181, 2.0))
    >>> print(round(float(np.degrees(half_power_beamwidth(x, np.cos(x) ** 2))), 2))
    90.0
    """
    angle, power, top = centred_cut(*checked_cut(angle, power))
    half = 0.5 * refined_maximum(angle, power, top).value
    right = np.flatnonzero(power[top:] < half)
    left = np.flatnonzero(power[: top + 1] < half)
    if right.size == 0 or left.size == 0:
        return float("nan")
    end = _crossing(angle, power, half, top + int(right[0]) - 1)
    return end - _crossing(angle, power, half, int(left[-1]))


def front_to_back(angle: ArrayLike, power: ArrayLike, sector: float = 0.0) -> float:
    """Peak over the level in the opposite direction.

    Parameters
    ----------
    angle : (n,) array
        rad over a full turn, increasing, the end repeating the start.
    power : (n,) array
        Linear power-like pattern.
    sector : float
        Half width in rad of the rear sector whose highest level counts; 0 takes the
        direction opposite to the peak alone (linear interpolation).

    Returns
    -------
    float
        dB; inf when nothing radiates backwards.

    Raises
    ------
    InputError
        Unusable cut, or not a full turn.
    """
    angle, power = checked_cut(angle, power)
    if abs(angle[-1] - angle[0] - TWO_PI) > SAME_ANGLE:
        raise InputError("angle", np.ptp(angle), "a full turn of 2 pi")
    top = peak(angle, power)
    back = top.angle + np.pi
    level = float(np.interp(back, angle, power, period=TWO_PI))
    near = np.abs(np.angle(np.exp(1j * (angle - back)))) <= sector
    level = max(level, float(np.max(power[near], initial=0.0)))
    return decibels(top.power / level) if level > 0 else float("inf")
