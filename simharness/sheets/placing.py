"""Where words and lines of a drawing find room: whatever is put down keeps clear of all that stands there already; m."""

from __future__ import annotations

import math
from collections.abc import Iterable

import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from simharness.sheets.lettering import text_bounds
from simharness.sheets.shapes import HEAD, Dimensions, Drawing, Path, Text

CLEAR = 0.7e-3
"""Between words and lines, and half the distance between words, m; a choice."""


class Room:
    """A drawing as it fills: lines, which words must not touch, and boxes of words, which nothing may touch."""

    def __init__(self, paths: Iterable[Path] = ()):
        self._lines: list[BaseGeometry] = [path.line() for path in paths]
        self._words: list[BaseGeometry] = []

    def add(self, more: Dimensions) -> Dimensions:
        """Put something down, and hand it back."""
        self._lines += _lines(more)
        self._words += [word_box(text) for text in more.texts]
        return more

    def trouble(self, more: Dimensions) -> float:
        """Length of lines under words and area of words on words, each in its own measure; 0 where there is room."""
        words = [word_box(text, CLEAR) for text in more.texts]
        found = sum(_met(word, self._lines, "length") + _met(word.buffer(CLEAR), self._words, "area") / CLEAR for word in words)
        return found + sum(_met(line, self._words, "length") for line in _lines(more))

    def free(self, area: Polygon) -> bool:
        """Whether nothing at all is in an area."""
        return not _met(area, self._lines, "length") and not _met(area, self._words, "area")

    def first(self, candidates: Iterable[Dimensions]) -> Dimensions:
        """Put down the first candidate with room, or else the one with the least trouble."""
        best, least = Dimensions(), float("inf")
        for candidate in candidates:
            trouble = self.trouble(candidate)
            if trouble < least:
                best, least = candidate, trouble
            if trouble == 0:
                break
        return self.add(best)


def word_box(text: Text, clear: float = 0.0) -> Polygon:
    """The room of words with `clear` around them, m."""
    u0, v0, u1, v1 = text_bounds(text)
    return box(u0 - clear, v0 - clear, u1 + clear, v1 + clear)


def _lines(dimensions: Dimensions) -> list[BaseGeometry]:
    heads = [LineString([a.tip, (a.tip[0] - HEAD * math.cos(a.way), a.tip[1] - HEAD * math.sin(a.way))]) for a in dimensions.arrows]
    return [path.line() for path in dimensions.paths] + heads


def _met(shape: BaseGeometry, others: list[BaseGeometry], measure: str) -> float:
    """How much of others meets a shape; a touch without length counts as a little."""
    if not others:
        return 0.0
    met = [other for other, touched in zip(others, shapely.intersects(shape, others)) if touched]
    return sum(max(getattr(shape.intersection(other), measure), 1e-12) for other in met)


def drawn_bounds(drawing: Drawing) -> tuple[float, float, float, float]:
    """u low, v low, u high, v high of all that is drawn, dimensions and words too; m."""
    boxes = [drawing.bounds()]
    boxes += [path.line().bounds for path in drawing.dimensions.paths]
    boxes += [text_bounds(text) for text in (*drawing.texts, *drawing.dimensions.texts)]
    low, high = zip(*((b[:2], b[2:]) for b in boxes))
    return (*map(min, zip(*low)), *map(max, zip(*high)))  # type: ignore[return-value]
