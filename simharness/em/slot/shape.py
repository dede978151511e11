"""Measures of one slot."""

from __future__ import annotations

import math
from dataclasses import dataclass

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
