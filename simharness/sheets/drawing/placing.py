"""Where text and lines of a drawing find room: what is added keeps clear of what is there already; m."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from simharness.sheets.drawing.lettering import text_bounds
from simharness.sheets.flat.paths import HEAD, Dimensions, Drawing, Path, Text

CLEAR = 0.7e-3
"""Distance between text and lines, and half of that between texts, m; a choice."""


class Room:
    """A drawing as it fills: lines, which text must not touch, and boxes of text, which nothing may touch."""

    def __init__(self, paths: Iterable[Path] = ()):
        self._lines: list[BaseGeometry] = [path.line() for path in paths]
        self._text_boxes: list[BaseGeometry] = []

    def add(self, more: Dimensions) -> Dimensions:
        """Add something, and return it."""
        self._lines += _lines(more)
        self._text_boxes += [text_box(text) for text in more.texts]
        return more

    def has_room(self, more: Dimensions) -> bool:
        """Whether its texts touch neither lines nor texts, and its lines no texts."""
        return not any(_touched(shape, others).any() for shape, others in self._meetings(more))

    def is_empty(self, area: Polygon) -> bool:
        """Whether nothing at all is in an area."""
        return not _touched(area, self._lines + self._text_boxes).any()

    def first(self, candidates: Iterable[Dimensions]) -> Dimensions:
        """Add the first candidate that has room, or else the one that touches the least, and return it."""
        crowded = []
        for candidate in candidates:
            if self.has_room(candidate):
                return self.add(candidate)
            crowded.append(candidate)
        return self.add(min(crowded, key=self._trouble, default=Dimensions()))

    def _trouble(self, more: Dimensions) -> int:
        return sum(int(_touched(shape, others).sum()) for shape, others in self._meetings(more))

    def _meetings(self, more: Dimensions) -> Iterator[tuple[BaseGeometry, list[BaseGeometry]]]:
        """Shapes of an addition, each with those that it must not touch."""
        for text in more.texts:
            yield text_box(text, CLEAR), self._lines
            yield text_box(text, 2 * CLEAR), self._text_boxes
        for line in _lines(more):
            yield line, self._text_boxes


def text_box(text: Text, clear: float = 0.0) -> Polygon:
    """The area of a text with `clear` around it, m."""
    u0, v0, u1, v1 = text_bounds(text)
    return box(u0 - clear, v0 - clear, u1 + clear, v1 + clear)


def _lines(dimensions: Dimensions) -> list[BaseGeometry]:
    heads = [
        LineString([a.tip, (a.tip[0] - HEAD * math.cos(a.way), a.tip[1] - HEAD * math.sin(a.way))])
        for a in dimensions.arrows
    ]
    return [path.line() for path in dimensions.paths] + heads


def _touched(shape: BaseGeometry, others: list[BaseGeometry]) -> np.ndarray:
    """Which of the others a shape touches."""
    return np.asarray(shapely.intersects(shape, others), dtype=bool)


@functools.lru_cache(maxsize=64)
def drawn_bounds(drawing: Drawing) -> tuple[float, float, float, float]:
    """u low, v low, u high, v high of all that is drawn, dimensions and texts too; m."""
    boxes = [drawing.bounds()]
    boxes += [path.line().bounds for path in drawing.dimensions.paths]
    boxes += [text_bounds(text) for text in (*drawing.texts, *drawing.dimensions.texts)]
    low, high = zip(*((b[:2], b[2:]) for b in boxes))
    return (*map(min, zip(*low)), *map(max, zip(*high)))
