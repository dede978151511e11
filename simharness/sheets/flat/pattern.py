"""The flat pattern of a plate with flaps that are folded up by 90 degrees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely import unary_union
from shapely.geometry import box

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


def _outward(side: Side) -> int:
    return 1 if side.endswith("+") else -1
