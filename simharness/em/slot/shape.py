"""Shapes of slots: dimensions, equal-area rectangles, and centre lines that are straight, an arc or an S.

A bent slot is one circular arc; an S is two equal arcs of opposite curvature that meet in the middle with a
common tangent. Both tips lie on the z axis, their chord, with its middle at the origin; the centre line
leaves the chord towards +x first where `aside` is positive: a bent one by `aside` in the middle, an S by
`aside` to either side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError

_ROUND_END_LOSS = 1.0 - math.pi / 4.0


@dataclass(frozen=True)
class SlotShape:
    """One slot in its wall, SI units.

    Attributes
    ----------
    offset : float
        Centre of the slot from the centre line of the broad wall, m.
    length : float
        Length of the rectangular slot, m; see `rectangular_length` for round ends.
    width : float
        m.
    wall : float
        Thickness of the slotted wall, m.
    """

    offset: float
    length: float
    width: float
    wall: float


def reach_under_tape(width: float, wall: float) -> float:
    """How far a slot acts beyond the edge of foil that is laid over its end from outside; unit as given.

    The cut in the wall goes on under the foil, and the field fades in it over a part of the wall or of the
    width. Fitted to the full wave: slots of 56 x 5 mm at 2.45 GHz in walls of 0.5 and 2 mm, which act 0.27 to
    0.29 mm and 0.88 to 0.89 mm longer than the same slots cut short (draft and normal mesh;
    tests/references/tape-series.csv).

    Examples
    --------
    >>> round(reach_under_tape(5.0, 2.0), 2), reach_under_tape(5.0, 0.0)
    (0.89, 0.0)
    """
    return 0.365 * width * (1.0 - math.exp(-wall / (0.6 * width)))


def rectangular_length(length: float, width: float, ends: str) -> float:
    """Length of the rectangular slot of equal area, m.

    Round ends of diameter `width` take away (1 - pi/4) w^2. Equal area is a rule of
    thumb (memory). Full wave, eight cells across a slot of 15.3 x 1.6 mm in WR-90, wall
    1.27 mm: round ends resonate at 9.593 GHz, this rectangle at 9.575, the full length
    with square ends at 9.392 GHz.

    Examples
    --------
    >>> round(rectangular_length(60e-3, 6e-3, "round") * 1e3, 2)
    58.71
    """
    return length - _ROUND_END_LOSS * width if ends == "round" else length


MAX_ASIDE = {"straight": 0.0, "bent": 1 / math.pi, "s": 1 / (2 * math.pi)}
"""Largest `aside` over the length along the centre line: there an arc is half a circle."""

_ARCS = {"bent": 1, "s": 2}


def arc_half_angle(shape: str, length: float, aside: float) -> float:
    """Half the angle that each arc of a centre line turns through, rad; 0 for a straight one.

    An arc of length l that stands off its chord by h turns through twice t, with h/l = (1 - cos t)/(2 t).

    Parameters
    ----------
    shape : 'straight', 'bent' or 's'
    length, aside : float
        Of the whole centre line, m; the sign of `aside` does not count.

    Raises
    ------
    InputError
        More than half a circle.

    Examples
    --------
    >>> round(arc_half_angle("bent", math.pi, 1.0), 6)
    1.570796
    """
    share = abs(aside) / length
    if share > MAX_ASIDE[shape] * (1 + 1e-9):
        raise InputError("aside", aside, f"at most {MAX_ASIDE[shape]:.3f} of the length {length:g}")
    if share == 0:
        return 0.0
    from scipy.optimize import brentq  # loaded only for curved slots: it takes a quarter of a second

    share *= _ARCS[shape]
    return float(brentq(lambda t: (1 - math.cos(t)) / (2 * t) - share, 1e-12, 0.5001 * math.pi, xtol=1e-14))


def bend_radius(shape: str, length: float, aside: float) -> float:
    """Radius of the arcs, m; infinite for a straight line."""
    turn = arc_half_angle(shape, length, aside)
    return length / _ARCS[shape] / (2 * turn) if turn else math.inf


def centre_line(shape: str, length: float, aside: float, along: NDArray) -> tuple[NDArray, NDArray]:
    """Points x, z of a centre line and its direction there.

    Parameters
    ----------
    shape : 'straight', 'bent' or 's'
    length, aside : float
        m.
    along : (n,) array
        Distances along the line from its middle, -length/2 to length/2, m.

    Returns
    -------
    points : (n, 2) array
        x, z, m.
    tangents : (n, 2) array
        Unit vectors x, z towards the upper tip.
    """
    turn, along = arc_half_angle(shape, length, aside), np.asarray(along, dtype=float)
    side = math.copysign(1.0, aside)
    if turn == 0:
        return np.stack([0 * along, along], axis=1), np.stack([0 * along, 0 * along + 1], axis=1)
    radius = length / _ARCS[shape] / (2 * turn)
    if shape == "bent":
        middle, sense = 0.0 * along, np.full(along.shape, side)
    else:
        # the lower arc stands off to one side, the upper to the other
        sense = np.where(along < 0, side, -side)
        middle = np.where(along < 0, -length / 4, length / 4)
    angle = (along - middle) / radius
    x = sense * radius * (np.cos(angle) - math.cos(turn))
    z = radius * np.sin(angle) + middle * (math.sin(turn) / turn)
    return np.stack([x, z], axis=1), np.stack([-sense * np.sin(angle), np.cos(angle)], axis=1)
