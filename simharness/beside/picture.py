"""Picture of sides over each other: reflection, and both cuts of the pattern."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simharness.beside.axis import shared_axis
from simharness.beside.side import Side
from simharness.plot import style, titles
from simharness.plot.match import reflection_db, shade_error, size_within

LINES: tuple[dict[str, Any], ...] = (style.SOLVER_LINE, style.ESTIMATE_LINE, style.SECOND_LINE)
"""One for each side: they differ in colour and in dashes."""

_LOWEST_DB = -45.0
_RANGE_DB = 40.0
_CUTS = (("along", "along the guide, towards the far end"), ("across", "across the guide, towards +x"))


def beside_figure(sides: Sequence[Side]) -> Figure:
    """|S11| of all sides with their error bars on top, realized gain in both cuts below."""
    what = "; ".join(f"{side.label}: {side.detail}" for side in sides)
    figure = titles.titled_sheet(13.2, 9.2, " beside ".join(side.label for side in sides), what)
    upper = figure.add_axes(style.inches(figure, 0.95, 4.3, 12.0, 2.85))
    _draw_reflection(upper, sides)
    titles.legend(figure, upper, 0.95, 8.05, ncols=1)
    for place, (name, words) in zip((0.95, 7.65), _CUTS):
        axes = figure.add_axes(style.inches(figure, place, 0.75, 5.3, 2.75))
        _draw_cut(axes, sides, name, words)
    return figure


def _draw_reflection(axes: Axes, sides: Sequence[Side]) -> None:
    curves, shared = [reflection_db(side.s11) for side in sides], shared_axis(sides)
    bottom = max(_LOWEST_DB, 5 * np.floor(min(curve.min() for curve in curves) / 5) - 5)
    for low, high in shared.bands:
        axes.axvspan(low, high, color=style.BAND, zorder=0, linewidth=0)
    for order, (side, line, level, place) in enumerate(zip(sides, LINES, curves, shared.places)):
        axes.plot(place, level, label=side.label, zorder=5 - order, **line)
        if side.s11_error is not None:
            least, largest = map(reflection_db, size_within(side.s11, side.s11_error))
            shade_error(axes, place, (least, largest), line["color"], "")
    ends = min(place[0] for place in shared.places), max(place[-1] for place in shared.places)
    axes.set(xlim=ends, ylim=(bottom, 1.0), ylabel="|S11| in dB")
    axes.set_xlabel(f"{shared.label}   (shaded: bands of the records, error bars)")


def _draw_cut(axes: Axes, sides: Sequence[Side], name: str, words: str) -> None:
    drawn = [(side.cuts[name], line) for side, line in zip(sides, LINES) if name in side.cuts]
    for order, (cut, line) in enumerate(drawn):
        axes.plot(np.degrees(cut.angle), cut.gain, zorder=5 - order, **line)
    top = max((float(cut.gain.max()) for cut, _ in drawn), default=0.0)
    top = 5 * np.ceil((top + 0.5) / 5)
    axes.set(xlim=(-180, 180), ylim=(top - _RANGE_DB, top), xticks=np.arange(-180, 181, 45))
    axes.set(xlabel=f"degrees from the front, {words}", ylabel="realized gain in dBi")
    if not drawn:
        axes.text(0.5, 0.5, "no pattern", transform=axes.transAxes, ha="center", color=style.FAINT)
