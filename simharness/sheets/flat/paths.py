"""What a flat drawing is made of, all in m: paths of straight lines and arcs, marks, text, and dimensions."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely.geometry import LinearRing, LineString, Polygon
from shapely.geometry.base import BaseGeometry

Layer = Literal["cut", "etch", "score", "drill", "note", "dimension"]
Pair = tuple[float, float]
LETTERS = 3.5e-3
"""Height of the capitals of text on a part, m: a size of ISO 3098-1, to be read at arm's length."""


@dataclass(frozen=True)
class Arc:
    """A piece of a circle: centre, radius (m), start angle and signed sweep (rad)."""

    centre: Pair
    radius: float
    start: float
    sweep: float


def arc(begin: Pair, end: Pair, bulge: float) -> Arc:
    """Arc between two points; `bulge` is the tangent of a quarter of its sweep, positive to the left.

    Examples
    --------
    >>> arc((0.0, 0.0), (2.0, 0.0), 1.0).centre
    (1.0, 0.0)
    """
    (u0, v0), (u1, v1) = begin, end
    across = (1 / bulge - bulge) / 4
    centre = ((u0 + u1) / 2 - across * (v1 - v0), (v0 + v1) / 2 + across * (u1 - u0))
    radius = math.hypot(u0 - centre[0], v0 - centre[1])
    return Arc(centre, radius, math.atan2(v0 - centre[1], u0 - centre[0]), 4 * math.atan(bulge))


@dataclass(frozen=True)
class Path:
    """A line of straight pieces and arcs.

    Attributes
    ----------
    points : corners, m, counter-clockwise when closed.
    layer : cut, etch (edges of copper), score (bends), drill, note, or dimension (on paper only).
    bulges : of the piece that begins at each point: 0 straight, 1 a half circle to the left; empty: straight.
    closed : whether the last point is joined to the first.
    dashed : whether it is drawn with gaps.
    chained : whether it is drawn as long dashes and dots, as centre lines are.
    """

    points: tuple[Pair, ...]
    layer: Layer = "cut"
    bulges: tuple[float, ...] = ()
    closed: bool = True
    dashed: bool = False
    chained: bool = False

    def pieces(self) -> list[tuple[Pair, Pair, float]]:
        """Begin, end and bulge of each piece."""
        ends = self.points[1:] + (self.points[:1] if self.closed else ())
        return list(zip(self.points, ends, self.bulges or (0.0,) * len(ends)))

    def circle(self) -> Arc | None:
        """The whole circle that the path is, or None."""
        if self.closed and self.bulges == (1.0, 1.0):
            return arc(*self.pieces()[0])
        return None

    def vertices(self, per_half_circle: int = 64) -> list[Pair]:
        """Points along the path close enough to draw it by straight lines, m."""
        found: list[Pair] = []
        for begin, end, bulge in self.pieces():
            found.append(begin)
            if bulge:
                bow = arc(begin, end, bulge)
                (u, v), radius = bow.centre, bow.radius
                count = max(2, round(per_half_circle * abs(bow.sweep) / math.pi))
                angles = bow.start + bow.sweep * np.arange(1, count) / count
                found += [(u + radius * math.cos(a), v + radius * math.sin(a)) for a in angles]
        return found if self.closed else [*found, self.points[-1]]

    def polygon(self) -> Polygon:
        """The area of a closed path, (u, v) in m."""
        return Polygon(self.vertices())

    def line(self) -> BaseGeometry:
        """The path as a line without area, (u, v) in m."""
        return _line(self)


@functools.lru_cache(maxsize=4096)
def _line(path: Path) -> BaseGeometry:
    return LinearRing(path.vertices()) if path.closed else LineString(path.vertices())


def straight(*points: Pair, layer: Layer = "note", dashed: bool = False, chained: bool = False) -> Path:
    """An open line through points."""
    return Path(points, layer, closed=False, dashed=dashed, chained=chained)


def polygon_path(polygon: Polygon, layer: Layer = "cut") -> Path:
    """Outline of a polygon without needless corners."""
    ring = LinearRing(polygon.exterior.coords).simplify(0.0)
    points = list(ring.coords)[:-1]
    return Path(tuple(points if ring.is_ccw else points[::-1]), layer)


def rectangle_path(u0: float, u1: float, v0: float, v1: float, layer: Layer = "cut") -> Path:
    """Axis-parallel rectangle."""
    return Path(((u0, v0), (u1, v0), (u1, v1), (u0, v1)), layer)


def circle_path(centre: Pair, diameter: float, layer: Layer = "cut", dashed: bool = False) -> Path:
    """A circle as two half circles."""
    u, v = centre
    return Path(((u - diameter / 2, v), (u + diameter / 2, v)), layer, (1.0, 1.0), dashed=dashed)


def stadium_path(centre: Pair, length: float, width: float, layer: Layer = "cut") -> Path:
    """A slot along u with half circles inside its overall length."""
    (u, v), r = centre, width / 2
    u0, u1 = u - length / 2 + r, u + length / 2 - r
    return Path(((u0, v - r), (u1, v - r), (u1, v + r), (u0, v + r)), layer, (0.0, 1.0, 0.0, 1.0))


@dataclass(frozen=True)
class Mark:
    """A point to be punched and drilled; `diameter` of the drill, m."""

    at: Pair
    diameter: float


@dataclass(frozen=True)
class Text:
    """A line of text: its place and the height of its letters (m), whether it runs upward, and its anchor."""

    at: Pair
    words: str
    height: float = LETTERS
    upward: bool = False
    anchor: Literal["start", "middle", "end"] = "middle"


HEAD = 2.5e-3
"""Length of the head of an arrow, m."""


@dataclass(frozen=True)
class Arrow:
    """The head of an arrow: its tip (m) and the way it points (rad)."""

    tip: Pair
    way: float


@dataclass(frozen=True)
class Dimensions:
    """Dimension, extension and leader lines with their arrows and numbers.

    They are drawn on paper alone, not in files for machines.
    """

    paths: tuple[Path, ...] = ()
    arrows: tuple[Arrow, ...] = ()
    texts: tuple[Text, ...] = ()

    def __add__(self, other: Dimensions) -> Dimensions:
        return Dimensions(self.paths + other.paths, self.arrows + other.arrows, self.texts + other.texts)


@dataclass(frozen=True)
class Drawing:
    """One part as it is drawn: `paths`, `marks` and `texts` in m; `caption` is written above it.

    `sheet` and `view` are what it is made of and from where it is seen, for the title block; `dimensions`
    are drawn on paper. Where the caption is written on the part itself, it begins at `caption_at`.
    """

    name: str
    title: str
    caption: tuple[str, ...]
    paths: tuple[Path, ...]
    marks: tuple[Mark, ...] = ()
    texts: tuple[Text, ...] = ()
    sheet: str = ""
    view: str = ""
    dimensions: Dimensions = Dimensions()
    caption_at: Pair | None = None

    def bounds(self) -> tuple[float, float, float, float]:
        """u low, v low, u high, v high of all paths, m."""
        boxes = np.array([path.line().bounds for path in self.paths])
        return (*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist())
