"""The flat pattern of a plate with flaps that are folded up by 90 degrees, or with wings by any angle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely import unary_union
from shapely.geometry import box

from simharness.errors import InputError
from simharness.sheets.flat.fabrication import Fold
from simharness.sheets.flat.paths import Pair, Path, polygon_path

Side = Literal["u-", "u+", "v-", "v+"]
SIDES: tuple[Side, ...] = ("u-", "u+", "v-", "v+")
Rectangle = tuple[float, float, float, float]
"""u low, u high, v low, v high; m."""


@dataclass(frozen=True)
class Flap:
    """A flap on one side of a plate: its inside height over the plate, and its span along the side; m."""

    side: Side
    height: float
    low: float
    high: float


@dataclass(frozen=True)
class Bend:
    """Middle of a bend on the flat pattern, from `start` to `end`, m; towards the viewer."""

    start: Pair
    end: Pair
    fold: Fold


def flat_pattern(inside: Rectangle, flaps: tuple[Flap, ...], fold: Fold) -> tuple[Path, tuple[Bend, ...]]:
    """Outline and bends of the flat pattern.

    Parameters
    ----------
    inside : the plate between the inner faces of its folded flaps; where there is no flap, its edge.
        The flat pattern keeps these coordinates between the bends.
    flaps : at most one on each side.

    Raises
    ------
    InputError
        A flap is no higher than its bend.
    """
    flat = dict(zip(SIDES, inside))
    for flap in flaps:
        flat[flap.side] -= _outward(flap.side) * fold.radius
    pieces = [box(flat["u-"], flat["v-"], flat["u+"], flat["v+"])]
    bends = []
    for flap in flaps:
        tangent, out = flat[flap.side], _outward(flap.side)
        edge = tangent + out * fold.flat_height(flap.height)
        low, high = min(tangent, edge), max(tangent, edge)
        along_u = flap.side.startswith("v")
        pieces.append(box(flap.low, low, flap.high, high) if along_u else box(low, flap.low, high, flap.high))
        middle = tangent + out * fold.allowance / 2
        start, end = (flap.low, middle), (flap.high, middle)
        bends.append(Bend(start, end, fold) if along_u else Bend(start[::-1], end[::-1], fold))
    return polygon_path(unary_union(pieces)), tuple(bends)


def winged_pattern(
    plate: Rectangle, width: float, fold: Fold | None, away: bool
) -> tuple[Path, tuple[Bend, ...]]:
    """Outline and bends of a plate with a wing on either side, v- and v+, over its whole length.

    Parameters
    ----------
    plate : up to where it must stay flat; the bends begin there.
    width : of a wing over its front, the bend included, m.
    fold : None: the wings lie in the plane of the plate.
    away : they are folded away from the viewer, so that their front is the outside of the bend.

    Raises
    ------
    InputError
        A wing is no wider than its bend.
    """
    u0, u1, v0, v1 = plate
    if fold is None:
        return polygon_path(box(u0, v0 - width, u1, v1 + width)), ()
    straight = width - 2 * fold.setback(away)
    if straight <= 0:
        raise InputError(
            "inside radius",
            f"{fold.radius * 1e3:g} mm",
            f"must leave something of wings {width * 1e3:g} mm wide beyond their bend",
        )
    more, middle = fold.allowance + straight, fold.allowance / 2
    bends = tuple(Bend((u0, v), (u1, v), fold) for v in (v0 - middle, v1 + middle))
    return polygon_path(box(u0, v0 - more, u1, v1 + more)), bends


def _outward(side: Side) -> int:
    return 1 if side.endswith("+") else -1
