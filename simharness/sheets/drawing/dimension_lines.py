"""Dimension lines as ISO 129-1 draws them: running from one origin, between two edges, and on leaders; m.

Everything is built along an axis: 'u' for dimensions along u, with `level` on v, and 'v' the other way round.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from simharness.sheets.drawing.lettering import width
from simharness.sheets.flat.paths import (
    HEAD,
    LETTERS,
    Arrow,
    Dimensions,
    Pair,
    Path,
    Text,
    circle_path,
    straight,
)

Axis = Literal["u", "v"]
BEYOND = 1.5e-3
"""How far extension lines run past the dimension line, m; a choice."""
APART = 1e-3
"""Distance between a contour and its extension line, m; a choice."""
OFF = 6e-3
"""Distance from a part to its dimension lines, m; a choice."""
PAST = 2.5e-3
"""How far centre lines run past what they halve, m."""
_PITCH = LETTERS + 1.8e-3
"""Distance between the middles of neighbouring lines of text, m."""
_KNEE = 3e-3
"""Depth in which an extension line goes aside to its number, m."""
_ORIGIN = 2.4e-3
"""Diameter of the circle at the origin, m."""
_DIGITS = 1e-5
"""The step of a number as printed, m."""


@dataclass(frozen=True)
class Stop:
    """A place on a run: its coordinate, where its extension line begins, and if that is a centre line; m."""

    at: float
    start: float
    chained: bool = False


def number(length: float) -> str:
    """A length as it stands at its dimension line, in mm.

    Examples
    --------
    >>> number(0.0593), number(-1e-9)
    ('59.30', '0.00')
    """
    return f"{abs(length) * 1e3:.2f}"


def _at(axis: Axis, along: float, across: float) -> Pair:
    return (along, across) if axis == "u" else (across, along)


def _way(axis: Axis, sign: float) -> float:
    """Direction of an arrow along the axis, rad."""
    turn = 0.0 if axis == "u" else math.pi / 2
    return turn if sign > 0 else turn + math.pi


def _line(*points: Pair, chained: bool = False) -> Path:
    return straight(*points, layer="dimension", chained=chained)


def spread(wanted: Sequence[float], pitch: float = _PITCH) -> list[float]:
    """Places at least `pitch` apart, in the order of the wanted ones (which rise), as near to them as can be.

    Least squares under the order: groups that press on each other are moved as one (pool adjacent violators).

    Examples
    --------
    >>> spread([0.0, 0.0, 9.0], 2.0)
    [-1.0, 1.0, 9.0]
    """
    groups: list[list[float]] = []
    for i, place in enumerate(wanted):
        groups.append([place - i * pitch])
        while len(groups) > 1 and sum(groups[-2]) / len(groups[-2]) > sum(groups[-1]) / len(groups[-1]):
            last = groups.pop()
            groups[-1] += last
    means = [sum(group) / len(group) for group in groups for _ in group]
    return [mean + i * pitch for i, mean in enumerate(means)]


def running(axis: Axis, stops: Sequence[Stop], origin: float, level: float, outward: int) -> Dimensions:
    """Running dimensions from an origin: one line, an arrow at every stop, numbers at extension lines.

    Parameters
    ----------
    stops : in any order; those that would print the same number count once.
    origin : where it counts from; it is one of the stops.
    level : of the dimension line, m.
    outward : +1 where the numbers stand at greater values than `level`, -1 at smaller.
    """
    distinct = {
        round((stop.at - origin) / _DIGITS): stop
        for stop in sorted(stops, key=lambda s: (not s.chained, abs(s.start - level)))
    }
    kept = sorted(distinct.values(), key=lambda stop: stop.at)
    places = spread([stop.at for stop in kept])
    aside = any(abs(place - stop.at) > 1e-6 for place, stop in zip(places, kept))
    depth = _KNEE if aside else 0.0
    paths, arrows, texts = [_line(_at(axis, kept[0].at, level), _at(axis, kept[-1].at, level))], [], []
    for stop, place in zip(kept, places):
        corner = level + outward * 0.5e-3
        foot, top = level + outward * (0.5e-3 + depth), level + outward * (depth + BEYOND)
        paths.append(_line(_at(axis, stop.at, stop.start), _at(axis, stop.at, level), chained=stop.chained))
        paths.append(
            _line(
                _at(axis, stop.at, level),
                _at(axis, stop.at, corner),
                _at(axis, place, foot),
                _at(axis, place, top),
            )
        )
        words = "0" if abs(stop.at - origin) < _DIGITS / 2 else number(stop.at - origin)
        anchor: Literal["start", "end"] = "start" if outward > 0 else "end"
        texts.append(Text(_at(axis, place, top + outward * 0.9e-3), words, upward=axis == "u", anchor=anchor))
    paths.append(circle_path(_at(axis, origin, level), _ORIGIN, "dimension"))
    ends = [stop.at for stop in kept]
    for i, at in enumerate(ends):
        before = ends[i - 1] if at > origin else ends[i + 1] if at < origin else at
        if abs(at - before) >= HEAD:
            arrows.append(Arrow(_at(axis, at, level), _way(axis, at - origin)))
        elif at != origin:
            paths.append(_stroke(_at(axis, at, level)))
    return Dimensions(tuple(paths), tuple(arrows), tuple(texts))


def _stroke(at: Pair) -> Path:
    """A short oblique stroke, where there is no room for an arrow."""
    (u, v), half = at, 0.9e-3
    return _line((u - half, v - half), (u + half, v + half))


def between(
    axis: Axis,
    low: float,
    high: float,
    level: float,
    starts: tuple[float | None, float | None],
    tail: int = 0,
    prefix: str = "",
    turned: bool = False,
) -> Dimensions:
    """A dimension between two places on an axis.

    Parameters
    ----------
    level : of the dimension line, m.
    starts : where the two extension lines begin, across; None: the contour itself is there.
    tail : 0 with the number over the middle of the line, +1 or -1 with it at the extension of the line beyond
        its high or low end.
    turned : a number at a tail runs across the line instead of along it.
    """
    words = prefix + number(high - low)
    long, outside = width(words, LETTERS), high - low < 2.4 * HEAD
    paths, arrows = [], []
    for at, start in ((low, starts[0]), (high, starts[1])):
        if start is not None and abs(start - level) > 1e-6:
            paths.append(
                _line(_at(axis, at, start), _at(axis, at, level + math.copysign(BEYOND, level - start)))
            )
        inward = 1 if at == high else -1
        arrows.append(Arrow(_at(axis, at, level), _way(axis, -inward if outside else inward)))
    reach = dict.fromkeys((-1, 1), (HEAD + 0.0015) * outside)
    if tail:
        reach[tail] = HEAD + 1.5e-3 if turned else long + 3e-3 + HEAD * outside
    paths.append(_line(_at(axis, low - reach[-1], level), _at(axis, high + reach[1], level)))
    return Dimensions(
        tuple(paths),
        tuple(arrows),
        (_between_text(axis, low, high, level, words, long, tail, reach, turned),),
    )


def _between_text(
    axis: Axis,
    low: float,
    high: float,
    level: float,
    words: str,
    long: float,
    tail: int,
    reach: dict[int, float],
    turned: bool,
) -> Text:
    over = LETTERS / 2 + 0.9e-3
    if tail and turned:
        end = high + reach[1] if tail > 0 else low - reach[-1]
        return Text(_at(axis, end + tail * over, level), words, upward=axis == "u")
    middle = (
        (low + high) / 2
        if not tail
        else high + reach[1] - long / 2
        if tail > 0
        else low - reach[-1] + long / 2
    )
    # Read from below or from the right: over a lying line, and on the left of a standing one.
    return Text(_at(axis, middle, level + over if axis == "u" else level - over), words, upward=axis == "v")


def leader(tip: Pair, knee: Pair, words: str) -> Dimensions:
    """Text on a short level line, and a line from there to the tip of an arrow."""
    side = 1 if knee[0] >= tip[0] else -1
    end = (knee[0] + side * (width(words, LETTERS) + 1e-3), knee[1])
    text = Text(
        (knee[0] + side * 0.5e-3, knee[1] + LETTERS / 2 + 0.9e-3),
        words,
        anchor="start" if side > 0 else "end",
    )
    way = math.atan2(tip[1] - knee[1], tip[0] - knee[0])
    return Dimensions((_line(tip, knee, end),), (Arrow(tip, way),), (text,))
