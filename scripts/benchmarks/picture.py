"""Error against time, one column for each record."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from benchmarks.figures import Row
from simharness.plot.style import ESTIMATE, FAINT, SOLVER, own_look, save, sheet
from simharness.plot.titles import foot

MEASURES = (("resonance", "error of resonance, %"), ("s11", "largest |ΔS11| in the band"))
KINDS = (("plain", ESTIMATE, "s", "plain model"), ("ours", SOLVER, "o", "simharness"))


def error_against_time(rows: Sequence[Row], note: str, path: Path) -> Path | None:
    """Draw it, log-log; None when no row has an error."""
    shown = [r for r in rows if r.status == "finished" and r.errors and not r.is_reference]
    records = list(dict.fromkeys(r.record for r in shown))
    if not records:
        return None
    with own_look():
        figure = sheet(1.2 + 4.6 * len(records), 8.4)
        grid = figure.subplots(len(MEASURES), len(records), squeeze=False)
        figure.subplots_adjust(
            left=1.1 / figure.get_figwidth(), right=0.98, top=0.95, bottom=0.12, wspace=0.25, hspace=0.2
        )
        for (measure, label), line in zip(MEASURES, grid):
            for record, axes in zip(records, line):
                _panel(axes, [r for r in shown if r.record == record], measure)
                axes.set_ylabel(label if record == records[0] else "")
        for record, axes in zip(records, grid[0]):
            axes.set_title(record)
        for axes in grid[-1]:
            axes.set_xlabel("wall time, s")
        next(axes for axes in grid.flat if axes.get_legend_handles_labels()[0]).legend(loc="best")
        foot(figure, note)
        return save(figure, path)


FLOOR = {"resonance": 0.02, "s11": 0.005}
"""Errors are drawn no smaller: the references know no better."""


def _drawn(row: Row, measure: str) -> float:
    """Error on a logarithmic axis, which has no place for nothing."""
    return max(getattr(row.errors, measure), FLOOR[measure])


def _panel(axes, rows: list[Row], measure: str) -> None:
    rows = [r for r in rows if getattr(r.errors, measure) is not None]
    if not rows:
        axes.text(0.5, 0.5, "no resonance in the span", transform=axes.transAxes, ha="center", color=FAINT)
        axes.set_axis_off()
        return
    axes.set_xscale("log")
    axes.set_yscale("log")
    for axis, values in (
        (axes.xaxis, [r.seconds for r in rows]),
        (axes.yaxis, [_drawn(r, measure) for r in rows]),
    ):
        axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        axis.set_minor_formatter(NullFormatter())
        low, high = min(values), max(values)
        axis.axes.set(**{"xlim" if axis is axes.xaxis else "ylim": (low / 2, 2.5 * high)})
    for kind, colour, marker, name in KINDS:
        points = sorted((r.seconds, _drawn(r, measure), r.quality) for r in rows if r.kind == kind)
        if not points:
            continue
        axes.plot(
            [p[0] for p in points],
            [p[1] for p in points],
            color=colour,
            marker=marker,
            markersize=8,
            label=name,
        )
        for seconds, error, quality in points:
            axes.annotate(
                quality, (seconds, error), xytext=(6, 6), textcoords="offset points", fontsize=10, color=FAINT
            )
