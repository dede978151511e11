"""Picture of S11 against the first variable of a tuning, with the runs on which the curves rest."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simharness.plot import style, titles

if TYPE_CHECKING:
    from simharness.tuning.result import Tuning

_WIDTH, _HEIGHT = 8.6, 6.0
_RUN: dict[str, Any] = {"marker": "o", "markersize": 7, "linestyle": "none"}
_CHOSEN: dict[str, Any] = {"marker": "D", "markersize": 9, "linestyle": "none"}


def tuning_figure(found: Tuning) -> Figure:
    """S11, worst in the band and at its centre, over the first variable, with runs and near-best values."""
    others = ", ".join(
        f"{variable.name} {value:.2f} mm"
        for variable, value in zip(found.variables[1:], found.best.values[1:])
    )
    figure = titles.record_sheet(
        _WIDTH,
        _HEIGHT,
        found.record,
        f"S11 against the {found.variables[0].label}",
        note=f"curves: the estimate corrected by the runs ({found.quality} mesh)"
        + (f", for {others}" if others else ""),
    )
    axes = figure.add_axes(style.inches(figure, 0.95, 0.95, 7.3, 3.7))
    draw_tuning(axes, found)
    titles.legend(figure, axes, 0.35, _HEIGHT - 0.78, ncols=4)
    return figure


def draw_tuning(axes: Axes, found: Tuning) -> None:
    """Curves, runs, target, and the tuned value."""
    curve, best = found.curve, found.best
    axes.axvspan(*found.near, color=style.BAND, zorder=0, label="within 1 dB")
    axes.axhline(found.record.band.target_s11_db, color=style.FAINT, linewidth=1.2, label="target")
    axes.plot(
        found.estimate_curve.first,
        found.estimate_curve.over(found.objective),
        label="estimate before any run",
        **style.ESTIMATE_LINE,
    )
    axes.plot(curve.first, curve.centre_db, label="at the centre", **style.SECOND_LINE)
    axes.plot(curve.first, curve.worst_db, label="worst in the band", **style.SOLVER_LINE)
    for run in found.runs:
        mark = _CHOSEN if run is best else _RUN
        for value, colour in ((run.centre_db, style.SECOND), (run.worst_db, style.SOLVER)):
            axes.plot(run.values[0], value, color=colour, zorder=5, label="_run", **mark)
    for mark, label in ((_RUN, "full-wave runs"), (_CHOSEN, "tuned")):
        axes.plot([], [], color=style.INK, label=label, **mark)
    bottom = max(min(run.centre_db for run in found.runs), float(curve.centre_db.min()), -45.0)
    axes.set(xlim=(curve.first[0], curve.first[-1]), ylim=(min(-20.0, bottom - 4), 0.5))
    # At the match both curves are far below, so the top is free.
    axes.annotate(
        f"{best.values[0]:.2f} mm",
        (best.values[0], axes.get_ylim()[1]),
        (0, -14),
        textcoords="offset points",
        ha="center",
        weight="bold",
        color=style.SOLVER,
    )
    axes.set_xlabel(f"{found.variables[0].label}, mm")
    axes.set_ylabel("|S11|, dB")
    axes.yaxis.set_major_formatter(lambda value, _: style.minus(f"{value:g}"))
