"""Picture of S11 over the first two variables of a tuning, with the runs on which the map rests."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure

from simharness.numerics.decibels import amplitude_decibels
from simharness.plot import style, titles

if TYPE_CHECKING:
    from simharness.tuning.result import Tuning

_WIDTH, _HEIGHT = 8.6, 7.0
_LEVELS = np.arange(-30.0, 1.0, 2.5)


def tuning_map_figure(found: Tuning) -> Figure:
    """Contours of |S11| in dB over the first two variables, with the target and the numbered runs."""
    what = "worst S11 in the band" if found.objective.over == "band" else "S11 at the centre"
    target = style.minus(f"{found.record.band.target_s11_db:g}")
    figure = titles.record_sheet(
        _WIDTH,
        _HEIGHT,
        found.record,
        f"{what[0].upper()}{what[1:]} against {found.variables[0].label} and {found.variables[1].label}",
        note=f"estimate corrected by the runs ({found.quality} mesh); diamond: tuned; "
        f"black line: the target, {target} dB",
    )
    axes = figure.add_axes(style.inches(figure, 0.95, 0.95, 6.3, 5.0))
    contours = draw_map(axes, found)
    bar = figure.colorbar(
        contours, cax=figure.add_axes(style.inches(figure, 7.5, 0.95, 0.2, 5.0)), ticks=_LEVELS[::2]
    )
    bar.ax.yaxis.set_major_formatter(lambda value, _: style.minus(f"{value:g}"))
    bar.set_label("|S11|, dB")
    return figure


def draw_map(axes: Axes, found: Tuning) -> QuadContourSet:
    """Map, target and runs."""
    assert found.map is not None
    first, second = found.map.first, found.map.second
    size = np.clip(amplitude_decibels(found.map.size(found.objective)), _LEVELS[0], _LEVELS[-1])
    contours = axes.contourf(first, second, size, levels=_LEVELS, cmap="viridis")
    target = found.record.band.target_s11_db
    if size.min() < target < size.max():
        axes.contour(
            first, second, size, levels=[target], colors=[style.INK], linewidths=1.6, linestyles="solid"
        )
    for number, run in enumerate(found.runs, 1):
        tuned = run is found.best
        axes.plot(
            *run.values[:2],
            marker="D" if tuned else "o",
            markersize=10 if tuned else 9,
            color=style.SOLVER,
            markeredgecolor="white",
            linestyle="none",
            zorder=5,
        )
        axes.annotate(
            str(number),
            (run.values[0], run.values[1]),
            (9, 6),
            textcoords="offset points",
            weight="bold",
            fontsize=10.5,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 1.0},
            zorder=4,
        )
    axes.set(xlim=first[[0, -1]], ylim=second[[0, -1]])
    axes.set_xlabel(f"{found.variables[0].label}, mm")
    axes.set_ylabel(f"{found.variables[1].label}, mm")
    axes.grid(False)
    return contours
