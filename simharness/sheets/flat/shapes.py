"""What a flat drawing is made of: paths of straight lines and arcs, marks and text on layers, and its dimensions; m."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from shapely.geometry import LinearRing, LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from simharness.errors import InputError
from simharness.geometry.solids import circle
from simharness.records.outlines import constant_width_outline

Layer = Literal["cut", "etch", "score", "drill", "note", "dimension"]
Pair = tuple[float, float]
LETTERS = 3.5e-3
"""Height of the capitals of words and numbers on a part, m: a size of ISO 3098-1, to be read at arm's length."""

ALIKE = 2e-3
"""Share of its area by which an outline may differ from the shape it stands for."""


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
    bulges : of the piece that begins at each point: 0 straight, 1 a half circle to the left; empty: all straight.
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
                count = max(2, round(per_half_circle * abs(bow.sweep) / math.pi))
                for angle in bow.start + bow.sweep * np.arange(1, count) / count:
                    found.append(
                        (
                            bow.centre[0] + bow.radius * math.cos(angle),
                            bow.centre[1] + bow.radius * math.sin(angle),
                        )
                    )
        return found if self.closed else found + [self.points[-1]]

    def polygon(self) -> Polygon:
        """The area of a closed path, (u, v) in m."""
        return Polygon(self.vertices())

    @functools.lru_cache(maxsize=4096)
    def line(self) -> BaseGeometry:
        """The path as a line without area, (u, v) in m."""
        return LinearRing(self.vertices()) if self.closed else LineString(self.vertices())


def straight(*points: Pair, layer: Layer = "note", dashed: bool = False, chained: bool = False) -> Path:
    """An open line through points."""
    return Path(points, layer, closed=False, dashed=dashed, chained=chained)


def polygon_path(polygon: Polygon, layer: Layer = "cut") -> Path:
    """Outline of a polygon, needless corners dropped."""
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
class Opening:
    """A hole in a part: `slot` with its number along the guide, `hole` (the feed's), `screw` (of its flange), `tip` (of its wire).

    `ends` is 'round', 'square' or '' (a free outline); length along u, width along v, m.
    """

    kind: Literal["slot", "hole", "screw", "tip"]
    number: int
    path: Path
    centre: Pair
    length: float
    width: float
    ends: Literal["round", "square", ""]

    def drill_centres(self) -> tuple[Pair, ...]:
        """Where a drill of the slot's width makes its round ends, or the centre of a hole; m."""
        if self.ends != "round":
            return ()
        reach, (u, v) = (self.length - self.width) / 2, self.centre
        return ((u, v),) if reach == 0 else ((u - reach, v), (u + reach, v))

    def shrunk(self, by: float) -> Opening:
        """The opening with its edge drawn in on all sides, m.

        Raises
        ------
        InputError
            Nothing would be left.
        """
        narrow = min(self.length, self.width)
        if 2 * by >= narrow:
            raise InputError(
                "cutter", f"{2e3 * by:g} mm", f"must be less than the narrowest opening, {narrow * 1e3:g} mm"
            )
        length, width = self.length - 2 * by, self.width - 2 * by
        path = _fitted(self.centre, length, width, self.ends) or polygon_path(
            self.path.polygon().buffer(-by, join_style="mitre")
        )
        return replace(self, path=path, length=length, width=width)


def _fitted(centre: Pair, length: float, width: float, ends: str) -> Path | None:
    (u, v) = centre
    if ends == "square":
        return rectangle_path(u - length / 2, u + length / 2, v - width / 2, v + width / 2)
    if ends == "round":
        return circle_path(centre, width) if length == width else stadium_path(centre, length, width)
    return None


def opening(polygon: Polygon, kind: Literal["slot", "hole"], number: int = 0) -> Opening:
    """Opening with exact arcs where its outline is a polygon that stands for a slot or a round hole along u.

    Parameters
    ----------
    polygon : outline in the plane of the part, (u, v) in m.
    """
    u0, v0, u1, v1 = polygon.bounds
    centre, length, width = ((u0 + u1) / 2, (v0 + v1) / 2), u1 - u0, v1 - v0
    if abs(length - width) < 1e-9:
        length = width
    for ends in ("square", "round"):
        shape = _standing_for(ends, centre, length, width)
        if shape.symmetric_difference(polygon).area < ALIKE * polygon.area:
            return Opening(kind, number, _fitted(centre, length, width, ends), centre, length, width, ends)
    return Opening(kind, number, polygon_path(polygon), centre, length, width, "")


def _standing_for(ends: str, centre: Pair, length: float, width: float) -> Polygon:
    """The polygon by which a scene stands for an opening along u; empty for a round one that is wider than long."""
    if ends == "square":
        return box(
            centre[0] - length / 2, centre[1] - width / 2, centre[0] + length / 2, centre[1] + width / 2
        )
    if length == width:
        return circle(*centre, width)
    if length < width:
        return Polygon()
    tips = ((centre[0] - length / 2, centre[1]), (centre[0] + length / 2, centre[1]))
    return constant_width_outline(tips, width, "round")


@dataclass(frozen=True)
class Mark:
    """A point to be punched and drilled; `diameter` of the drill, m."""

    at: Pair
    diameter: float


@dataclass(frozen=True)
class Text:
    """Words: where (m), height of the letters (m), which way, and what of them is at the point."""

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
    """Dimension, extension and leader lines with their arrows and numbers; they stand on paper alone, not in files for machines."""

    paths: tuple[Path, ...] = ()
    arrows: tuple[Arrow, ...] = ()
    texts: tuple[Text, ...] = ()

    def __add__(self, other: Dimensions) -> Dimensions:
        return Dimensions(self.paths + other.paths, self.arrows + other.arrows, self.texts + other.texts)


@dataclass(frozen=True)
class Drawing:
    """One part as it is drawn: `paths`, `marks` and `texts` in m; `caption` is written above it.

    `sheet` and `view` are what it is made of and from where it is seen, for the title block; `dimensions` are drawn on paper; the
    caption begins at `caption_at` where it stands on the part itself.
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
