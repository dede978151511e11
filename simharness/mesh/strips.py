"""Thin strips of metal that stand aslant on the mesh: stairs of sheets of no thickness.

A strip thinner than a cell has no cells of its own. Its stairs follow mesh lines, as near as whole cells
allow to the line from foot to tip, step by step from one crossing of lines to the next: the metal is
whole, and no wave gets through. Currents across run along every step.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from simharness.geometry.solids import SlantedStrip
from simharness.mesh.grid import Grid

Crossing = tuple[int, int]
"""Indices of the lines of x and y that cross."""


def stairs(strip: SlantedStrip, grid: Grid) -> Iterator[tuple[Crossing, Crossing]]:
    """The steps of a strip, each a straight run between two crossings, the lower one first."""
    path = list(_path(strip, grid))
    first = path[0]
    for here, there, following in zip(path, path[1:], [*path[2:], None]):
        if following is None or _turns(here, there, following):
            low, high = sorted((first, there))
            yield low, high
            first = there


def _turns(here: Crossing, there: Crossing, following: Crossing) -> bool:
    return (here[0] == there[0]) != (there[0] == following[0])


def _path(strip: SlantedStrip, grid: Grid) -> Iterator[Crossing]:
    """Crossings from foot to tip, always to the neighbour that lies nearer to the line between them."""
    foot, tip = (tuple(grid.index(axis, end[axis]) for axis in (0, 1)) for end in (strip.foot, strip.tip))
    start, stop = np.array(strip.foot), np.array(strip.tip)
    along = (stop - start) / np.hypot(*(stop - start))
    steps = [int(np.sign(last - first)) for first, last in zip(foot, tip)]

    def off(crossing: Crossing) -> float:
        away = np.array([grid.x[crossing[0]], grid.y[crossing[1]]]) - start
        return abs(float(along[0] * away[1] - along[1] * away[0]))

    here = (foot[0], foot[1])
    yield here
    while here != tip:
        open_ways = [
            (here[0] + steps[0], here[1]) if axis == 0 else (here[0], here[1] + steps[1])
            for axis in (0, 1)
            if here[axis] != tip[axis]
        ]
        here = min(open_ways, key=off)
        yield here
