"""Figures of a mesh study against the size of the cells, with their limits."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simharness.numerics.convergence import FORMAL_ORDER, TRUSTED_ORDER
from simharness.plot import style, titles
from simharness.records import Record

if TYPE_CHECKING:
    from simharness.convergence.study import FigureStudy, Study

_PANEL, _WIDE, _GAP_X, _GAP_Y = 2.35, 3.35, 1.05, 1.25
_COLUMNS = 3
_DISTANCE = "s11_distance"


def convergence_figure(study: Study, record: Record) -> Figure:
    """One small picture for each figure that every mesh has: values, extrapolation, and the bar of the
    limit at h = 0."""
    rows = [row for row in study.figures if row.convergence is not None]
    columns = min(_COLUMNS, len(rows))
    lines = math.ceil(len(rows) / columns)
    width = max(7.6, 0.95 + columns * _WIDE + (columns - 1) * _GAP_X + 0.4)
    height = 1.35 + lines * (_PANEL + _GAP_Y)
    cells = ", ".join(f"{count / 1e6:.2f}" for count in study.cells)
    figure = titles.record_sheet(
        width,
        height,
        record,
        f"Convergence of the full-wave figures on {len(study.h)} meshes",
        note=f"meshes of {cells} million cells; the bar is meant to hold the limit in 95 of 100 cases",
    )
    for number, row in enumerate(rows):
        line, column = divmod(number, columns)
        left = 0.95 + column * (_WIDE + _GAP_X)
        bottom = height - 1.70 - (line + 1) * _PANEL - line * _GAP_Y
        draw_convergence(figure.add_axes(style.inches(figure, left, bottom, _WIDE, _PANEL)), study, row)
    richest = max(figure.axes, key=lambda axes: len(axes.get_legend_handles_labels()[0]))
    titles.legend(figure, richest, 0.35, height - 0.80, ncols=3)
    return figure


def draw_convergence(axes: Axes, study: Study, row: FigureStudy) -> None:
    """Values of one figure over the cell size; the distance of S11 is shown from the limit, not from the
    finest mesh."""
    scale, unit = (1e9, "GHz") if row.unit == "Hz" else (1.0, row.unit)
    found, h = row.convergence, np.array(study.h)
    assert found is not None
    limit, bar = found.extrapolated / scale, found.uncertainty / scale
    values = np.array(row.values) / scale
    title, down, words = row.label, bar, f"bar ± {bar:.2g}"
    if row.name == _DISTANCE:
        values, limit, down = values + limit, 0.0, 0.0  # no distance is less than none
        title, words = "S11: distance from the limit", f"within {bar:.2g}"
    if found.order is not None and found.monotone:
        # The order that led from the finest mesh to the limit: the observed one, or where it was held.
        low, high = TRUSTED_ORDER
        order = low if found.order < low else FORMAL_ORDER if found.order > high else found.order
        fine, line = np.linspace(0, h[0], 101), style.ESTIMATE_LINE
        axes.plot(
            fine,
            limit + (values[-1] - limit) * (fine / h[-1]) ** order,
            label="extrapolation",
            zorder=3,
            **line,
        )
    axes.plot(
        h, values, color=style.SOLVER, marker="o", markersize=8, linestyle="none", label="full wave", zorder=5
    )
    axes.errorbar(
        [0],
        [limit],
        [[down], [bar]],
        color=style.INK,
        marker="D",
        markersize=6,
        capsize=5,
        linewidth=1.8,
        label="limit with its bar",
        zorder=6,
    )
    axes.set(
        xlim=(-0.06 * h[0], 1.08 * h[0]),
        xticks=[0, *h],
        xticklabels=["0", *(f"1/{n}" for n in study.slot_cells)],
    )
    axes.set_xlabel("cell size in slot widths")
    axes.ticklabel_format(axis="y", useOffset=False)
    axes.margins(y=0.15)
    observed = "none" if found.order is None else style.minus(f"{found.order:.1f}")
    axes.set_title(
        style.minus(f"{title}, {unit}" if unit else title), loc="left", weight="bold", fontsize=11.5, pad=24
    )
    axes.annotate(
        f"order {observed}, {words} {unit}".rstrip(),
        (0, 1),
        (0, 7),
        xycoords="axes fraction",
        textcoords="offset points",
        fontsize=11,
        color=style.SOLVER,
    )
