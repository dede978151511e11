"""A finished antenna beside the drawing: S11, and how far each dimension is off."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simharness.plot import style, titles
from simharness.plot.match import reflection_db
from simharness.workshop.study import BuiltStudy

_ROW = 0.21
_LEAST = 6.6


def built_figure(study: BuiltStudy) -> Figure:
    """S11 as drawn and as built on the left, the dimensions on the right."""
    height = max(_LEAST, 2.2 + _ROW * len(study.antenna.rows))
    base, model = study.base, "moment-method model"
    figure = titles.record_sheet(
        13.2,
        height,
        study.record,
        "As drawn and as built, by the readings" + (" and the measured curve" if study.weighed else ""),
        state=study.state,
        note=f"{model}, calibrated by run {base.run}" if base.run else f"{model} alone",
    )
    curves = figure.add_axes(style.inches(figure, 0.95, 0.95, 5.6, height - 2.35))
    _draw_curves(curves, study)
    sizes = figure.add_axes(style.inches(figure, 9.0, 0.95, 3.9, height - 2.35))
    _draw_dimensions(sizes, study)
    titles.legend(figure, curves, 0.95, height - 1.0, ncols=3)
    return figure


def _draw_curves(axes: Axes, study: BuiltStudy) -> None:
    band, base, antenna = study.record.band, study.base, study.antenna
    axes.axvspan(band.low_ghz, band.high_ghz, color=style.BAND, zorder=0, linewidth=0)
    axes.axhline(band.target_s11_db, color=style.INK, linewidth=1.0, linestyle=(0, (4, 2)))
    told = study.weighed
    low, high = map(reflection_db, antenna.levels(study.whole_error))
    grid = antenna.frequency / 1e9
    axes.fill_between(
        grid, low, high, color=style.ESTIMATE, alpha=0.18, linewidth=0, label="95 of 100 so read"
    )
    frequency = base.frequency / 1e9
    drawn = reflection_db(base.s11(base.calibrated))
    built = reflection_db(antenna.s11)
    axes.plot(frequency, drawn, label="as drawn", zorder=3, **style.SOLVER_LINE)
    axes.plot(frequency, built, label="as built", zorder=4, **style.ESTIMATE_LINE)
    if told is not None:
        axes.plot(frequency, reflection_db(told.measured), label="measured", zorder=5, **_MEASURED)
    bottom = max(-40.0, 5 * np.floor(min(drawn.min(), built.min()) / 5) - 5)
    axes.set(xlim=(frequency[0], frequency[-1]), ylim=(bottom, 1.0), ylabel="|S11| in dB")
    axes.set_xlabel(f"frequency in GHz   (shaded: {band.low_ghz:g} to {band.high_ghz:g} GHz)")


_MEASURED: dict[str, Any] = {"color": style.INK, "linewidth": 1.8}


def _draw_dimensions(axes: Axes, study: BuiltStudy) -> None:
    """How far each dimension is from what is drawn, with what is not known of it."""
    rows, spread = study.antenna.rows, 2 * np.sqrt(np.diag(study.antenna.covariance))
    places = np.arange(len(rows))
    read = np.array([row.read is not None for row in rows])
    for wanted, colour in ((read, style.ESTIMATE), (~read, style.METAL)):
        if wanted.any():
            axes.errorbar(
                study.amounts[wanted],
                places[wanted],
                xerr=spread[wanted],
                fmt="o",
                markersize=4,
                color=colour,
                elinewidth=1.4,
            )
    axes.axvline(0, color=style.FAINT, linewidth=1)
    axes.set_yticks(
        places,
        [
            f"{row.dimension.name}: {row.dimension.drawn:.2f}, "
            + ("not read" if row.read is None else f"read {row.read:.2f}")
            for row in rows
        ],
        fontsize=8.5,
    )
    axes.set(ylim=(len(rows) - 0.4, -0.6), xlabel="off from what is drawn, mm")
    axes.grid(False, axis="y")
