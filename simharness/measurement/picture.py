"""Pictures of a measurement compared with a run: reflection, Smith chart, causes; levels over orientation."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from simharness.em.signals.reference_plane import behind_line
from simharness.measurement.causes import Cause
from simharness.measurement.comparison import Comparison, percent
from simharness.measurement.orientation import Orientation
from simharness.plot import style, titles
from simharness.plot.match import reflection_db, shade_error, size_within
from simharness.plot.smith import draw_chart
from simharness.records import Record
from simharness.results.outputs import Results

MEASURED_LINE = {"color": style.INK, "linewidth": 1.8}
_SHOWN_CAUSES = 6


def compare_figure(results: Results, record: Record, found: Comparison) -> Figure:
    """Run, measurement and the likeliest cause on one sheet."""
    delay = f"measurement moved by {1e12 * found.delay:.0f} ps ({'given' if found.delay_given else 'fitted'})"
    figure = titles.record_sheet(
        13.2,
        8.6,
        record,
        "Measured beside simulated: reflection against 50 ohm at the outer face of the wall",
        note="; ".join(part for part in (style.mesh_text(results), delay) if part),
    )
    upper = figure.add_axes(style.inches(figure, 0.95, 3.95, 6.0, 3.3))
    _draw_reflection(upper, record, found)
    ranking = figure.add_axes(style.inches(figure, 3.75, 0.95, 3.2, 2.05))
    _draw_ranking(ranking, found)
    chart = figure.add_axes(style.inches(figure, 7.3, 1.2, 5.7, 5.9))
    _draw_smith(chart, record, found)
    titles.legend(figure, upper, 0.95, 7.75, ncols=4)
    return figure


def _curves(found: Comparison) -> list[tuple[str, NDArray, dict]]:
    """Label, S11 and line style of the curves; the cause only where it is not the run itself."""
    shown, best = found.explanation, found.explanation.causes[0]
    drawn = [("full wave, as drawn", shown.run, style.SOLVER_LINE)]
    if best.deviation is not None:
        drawn.append((f"best single cause: {_short(best)}", best.s11, style.ESTIMATE_LINE))
    return [*drawn, ("measured", behind_line(shown.frequency, shown.measured, found.delay), MEASURED_LINE)]


def _draw_reflection(axes: Axes, record: Record, found: Comparison) -> None:
    frequency = found.explanation.frequency / 1e9
    axes.axvspan(record.band.low_ghz, record.band.high_ghz, color=style.BAND, zorder=0, linewidth=0)
    low, high = map(reflection_db, size_within(found.explanation.run, found.run_error))
    curves = _curves(found)
    bottom = max(-40.0, 5 * np.floor(min(reflection_db(s11).min() for _, s11, _ in curves) / 5) - 5)
    shade_error(axes, frequency, (low, high), style.SOLVER, "error bar of the run")
    for order, (label, s11, line) in enumerate(curves):
        axes.plot(frequency, reflection_db(s11), label=label, zorder=3 + order, **line)
    axes.set(xlim=(frequency[0], frequency[-1]), ylim=(bottom, 1.0), ylabel="|S11| in dB")
    axes.set_xlabel(f"frequency in GHz   (shaded: {record.band.low_ghz:g} to {record.band.high_ghz:g} GHz)")


def _draw_ranking(axes: Axes, found: Comparison) -> None:
    """What each explanation leaves unexplained, the likeliest on top, and the antenna as drawn."""
    causes = list(found.explanation.causes[:_SHOWN_CAUSES])
    causes += [cause for cause in found.explanation.causes[_SHOWN_CAUSES:] if cause.deviation is None]
    names = [_short(cause) for cause in causes]
    colours = [
        style.METAL if cause.deviation is None else style.ESTIMATE if n == 0 else style.GRID
        for n, cause in enumerate(causes)
    ]
    places = np.arange(len(causes))
    axes.barh(places, [cause.misfit for cause in causes], color=colours, height=0.7)
    for place, cause in enumerate(causes):
        axes.text(cause.misfit, place, f" {percent(cause.share)}", va="center", ha="left", fontsize=10.5)
    axes.set_yticks(places, names, fontsize=11)
    axes.set(xlim=(0, 1.18 * max(cause.misfit for cause in causes)), ylim=(len(causes) - 0.4, -0.6))
    axes.set_title("what each cause leaves unexplained, and how likely it is", fontsize=11.5, loc="right")
    axes.set_xlabel(
        f"distance in the complex plane   (none of them alone: {percent(found.explanation.unexplained)})"
    )
    axes.grid(False, axis="y")


def _short(cause: Cause) -> str:
    """Name and amount of a cause."""
    if cause.deviation is None:
        return "as drawn"
    deviation = cause.deviation
    return (
        style.minus(f"{deviation.name} {deviation.amount_text(cause.amount, '+')}")
        if deviation.unit
        else deviation.name
    )


def _draw_smith(axes: Axes, record: Record, found: Comparison) -> None:
    draw_chart(axes, record)
    centre = record.band.centre
    for order, (_, s11, line) in enumerate(_curves(found)):
        axes.plot(s11.real, s11.imag, zorder=4 + order, **line)
        point = np.interp(centre, found.explanation.frequency, s11)
        axes.plot(
            point.real,
            point.imag,
            marker="o",
            markersize=9,
            markeredgecolor="white",
            color=line["color"],
            zorder=7,
        )
    axes.text(
        1.17, -1.04, f"dots: {record.band.centre_ghz:g} GHz", fontsize=10.5, color=style.FAINT, ha="right"
    )


def orientation_figure(record: Record, found: Orientation) -> Figure:
    """Readings and prediction, and the parts of the prediction by pattern and by polarization."""
    ways = {
        "along": "tilted along the guide",
        "across": "turned about the guide",
        "beam": "turned about its beam",
    }
    figure = titles.record_sheet(
        7.6,
        8.6,
        record,
        f"Received level, antenna {ways[found.turned]}",
        note=f"zero of angle moved by {style.minus(f'{np.degrees(found.angle_shift):+.1f}')} deg, "
        f"rms difference {found.residual:.1f} dB, "
        f"scattered power {style.minus(f'{found.floor:.0f}')} dB",
    )
    upper = figure.add_axes(style.inches(figure, 0.95, 4.25, 6.4, 3.05))
    lower = figure.add_axes(style.inches(figure, 0.95, 1.0, 6.4, 2.5), sharex=upper)
    curve = found.curve
    angle = np.degrees(curve.angle)
    upper.plot(angle, curve.predicted, label="predicted, with scattered power", zorder=4, **style.SOLVER_LINE)
    upper.plot(
        np.degrees(found.angle),
        found.measured,
        label="measured",
        color=style.INK,
        marker="o",
        markersize=7,
        linestyle="none",
        zorder=5,
    )
    upper.set(ylabel="level in dB, strongest = 0")
    lower.plot(angle, np.maximum(curve.pattern, _MIN_DB), label="pattern", zorder=4, **style.ESTIMATE_LINE)
    lower.plot(
        angle, np.maximum(curve.polarization, _MIN_DB), label="polarization", zorder=5, **style.SECOND_LINE
    )
    lower.set(
        ylabel="parts of it in dB",
        xlabel="angle in the table, deg",
        ylim=(min(-10.0, _bottom(found)), 1.5 + max(0.0, float(curve.pattern.max()))),
    )
    for axes in (upper, lower):
        axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2)
    return figure


_MIN_DB = -60.0


def _bottom(found: Orientation) -> float:
    least = max(_MIN_DB, min(found.curve.pattern.min(), found.curve.polarization.min()))
    return float(5 * np.floor(least / 5) - 2)
