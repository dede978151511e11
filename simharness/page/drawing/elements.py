"""What a view is made of: shapes, handles, dimensions and words, as plain values for the browser; mm.

A view has coordinates (u, v): u to the right, v **down**, as SVG counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields
from typing import Any, Literal

from shapely.geometry import Polygon

from simharness.constants import MARKED_MM, MM
from simharness.page.drawing.limits import limits
from simharness.records import Record

Pair = tuple[float, float]
Axis = Literal["u", "v"]


@dataclass(frozen=True)
class Shape:
    """An outline. `d`: SVG path, mm, about `at`; `kind`: what it is of, for its look."""

    d: str
    kind: str
    at: Pair = (0.0, 0.0)


@dataclass(frozen=True)
class Words:
    """Text at a place, moved by `shift` pixels whatever the scale; shown where `room`, mm, holds it."""

    text: str
    at: Pair
    anchor: Literal["start", "middle", "end"] = "middle"
    shift: Pair = (0.0, 0.0)
    room: float = 1e4


@dataclass(frozen=True)
class Dimension:
    """A dimension line on `axis` from `low` to `high`.

    It runs beside the edge at `edge`, on its `side` (+1: at greater coordinates), `level` lines away from it.
    """

    text: str
    axis: Axis
    low: float
    high: float
    edge: float
    side: int
    level: int = 1


@dataclass(frozen=True)
class Move:
    """How a field of the record follows a handle on one axis of a view.

    The coordinate of the handle grows by `scale` for each mm of the field. On a round tube with an outer
    `radius` in mm the field is an arc, and the coordinate is `scale` times radius sin(arc / radius).
    """

    field: str
    axis: Axis
    value: float
    scale: float
    label: str
    short: str
    lowest: float
    highest: float
    step: float = MARKED_MM
    unit: str = "mm"
    radius: float | None = None


@dataclass(frozen=True)
class Handle:
    """What can be grabbed.

    Attributes
    ----------
    at : where it stands.
    name : what it holds, in words.
    moves : the fields that it changes, at most one for each axis.
    group : shapes that go with it while it is dragged.
    anchor : where the group stays in place, being stretched; None: it moves as it is.
    room : size of what it holds, mm, so that small things get small grips.
    tab : whether the keyboard stops at it; False where another handle changes the same fields.
    """

    at: Pair
    name: str
    moves: tuple[Move, ...]
    group: tuple[str, ...] = ()
    anchor: Pair | None = None
    room: float = 1e3
    tab: bool = True


@dataclass
class View:
    """One view, and what is in it by name, drawn in this order.

    Attributes
    ----------
    label : what it shows, in words.
    box : around all of it, u low, v low, u high, v high.
    body : around the guide alone.
    pads : room for dimensions and words in pixels, left, above, right, below.
    """

    label: str
    box: tuple[float, float, float, float]
    body: tuple[float, float, float, float]
    pads: tuple[float, float, float, float]
    shapes: dict[str, Shape] = field(default_factory=dict)
    dimensions: dict[str, Dimension] = field(default_factory=dict)
    words: dict[str, Words] = field(default_factory=dict)
    handles: dict[str, Handle] = field(default_factory=dict)

    def reach(self, u: float, v: float) -> None:
        """Widen the box to hold a place."""
        u0, v0, u1, v1 = self.box
        self.box = min(u0, u), min(v0, v), max(u1, u), max(v1, v)


def plain(value: Any) -> Any:
    """Views and their parts as types that JSON knows."""
    if isinstance(value, View | Shape | Words | Dimension | Move | Handle):
        return {each.name: plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, dict):
        return {key: plain(each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    return round(value, 9) + 0.0 if isinstance(value, float) else value


def record_move(
    record: Record,
    name: str,
    axis: Axis,
    scale: float,
    label: str,
    short: str,
    bounds: Pair,
    radius: float | None = None,
) -> Move:
    """The move of a field of the record.

    Parameters
    ----------
    name : dotted name of the field, slots counted from 1.
    bounds : mm, beyond which the field can make no sense; those of the schema come on top.
    """
    value, lowest, highest = limits(record, name, bounds, MARKED_MM)
    return Move(name, axis, value, scale, label, short, lowest, highest, radius=radius)


def path(points: Iterable[Sequence[float]], closed: bool = True) -> str:
    """SVG path through points, mm.

    Examples
    --------
    >>> path([(0, 0), (1.5, 0), (1.5, 2)])
    'M0 0L1.5 0L1.5 2Z'
    """
    pairs = "L".join(f"{_number(u)} {_number(v)}" for u, v in points)
    return f"M{pairs}{'Z' if closed else ''}"


def rectangle(u0: float, u1: float, v0: float, v1: float) -> str:
    """SVG path of a rectangle, mm."""
    return path([(u0, v0), (u1, v0), (u1, v1), (u0, v1)])


def circle(centre: Pair, diameter: float) -> str:
    """SVG path of a circle, mm."""
    (u, v), r = centre, diameter / 2
    arcs = "".join(f"A{_number(r)} {_number(r)} 0 1 0 {_number(u + s * r)} {_number(v)}" for s in (1, -1))
    return f"M{_number(u - r)} {_number(v)}{arcs}Z"


def wall_outline(polygon: Polygon, about: Pair) -> str:
    """SVG path of an outline in a broad wall, (x, z) in m, as it is seen from the front; mm about a place."""
    return path([(z / MM - about[0], -x / MM - about[1]) for x, z in list(polygon.exterior.coords)[:-1]])


def _number(value: float) -> str:
    """A coordinate to 1e-7 mm."""
    return f"{round(value, 7) + 0.0:.10g}"


def millimetres(value: float) -> str:
    """A length as it stands at a dimension line.

    Examples
    --------
    >>> millimetres(40.386), millimetres(12.0), millimetres(33.900000000000006)
    ('40.386 mm', '12 mm', '33.9 mm')
    """
    return f"{round(value, 3) + 0.0:g} mm"
