"""S11 on the Smith chart."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text
from skrf.plotting import smith

from simharness.estimate.antenna import Estimate
from simharness.plot import style, titles
from simharness.plot.feeds import feed_picture
from simharness.plot.match import TEN_DB, run_state
from simharness.records import Record
from simharness.results.outputs import Results


def smith_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """S11 on the Smith chart; None without S11."""
    if "s11" not in results:
        return None
    figure = titles.record_sheet(
        7.6,
        8.6,
        record,
        f"Smith chart: {feed_picture(record).reference}",
        state=run_state(results, record),
        note=style.mesh_text(results),
    )
    axes = figure.add_axes(style.inches(figure, 0.3, 1.2, 7.0, 6.65))
    draw_chart(axes, record)
    s11, frequency = results["s11"], results["frequency"] / 1e9
    span = f"{frequency[0]:.2f} to {frequency[-1]:.2f} GHz"
    axes.plot(s11.real, s11.imag, label=f"full wave, {span}", zorder=5, **style.SOLVER_LINE)
    if estimate is not None:
        axes.plot(estimate.s11.real, estimate.s11.imag, label="estimate", zorder=4, **style.ESTIMATE_LINE)
    ring = 10 ** (TEN_DB / 20) * np.exp(1j * np.linspace(0, 2 * np.pi, 181))
    axes.plot(
        ring.real,
        ring.imag,
        color=style.INK,
        linewidth=1.1,
        linestyle=(0, (2, 2)),
        zorder=3,
        label="circle of −10 dB",
    )
    _band_markers(axes, results, record, estimate)
    figure.legend(
        *axes.get_legend_handles_labels(),
        loc="lower center",
        ncols=2,
        bbox_to_anchor=style.at(figure, 3.8, 0.42),
    )
    return figure


def _band_markers(axes: Axes, results: Results, record: Record, estimate: Estimate | None) -> None:
    """Markers at the edges and the centre of the band on both traces."""
    traces = [(results["frequency"] / 1e9, results["s11"], style.SOLVER)]
    if estimate is not None:
        traces.append((estimate.frequency / 1e9, estimate.s11, style.ESTIMATE))
    for marker, name in (("s", "low"), ("o", "centre"), ("^", "high")):
        at = getattr(record.band, f"{name}_ghz")
        for number, (frequency, s11, colour) in enumerate(traces):
            label = "_nolegend_" if number else f"{at:g} GHz ({name})"
            point = np.interp(at, frequency, s11)
            axes.plot(
                point.real,
                point.imag,
                color=colour,
                label=label,
                marker=marker,
                markersize=10,
                markeredgecolor="white",
                linestyle="none",
                zorder=7 - number,
            )


def draw_chart(axes: Axes, record: Record) -> None:
    """Impedance grid by scikit-rf in pale lines, labels in ohm or normalized."""
    ohm = record.feed.reference_ohm
    smith(ax=axes, chart_type="z", draw_labels=True, ref_imm=ohm)
    for patch in axes.patches:
        patch.set(edgecolor=style.GRID, linewidth=0.9, zorder=1)
    for line in axes.lines:
        line.set(color=style.GRID, linewidth=0.9, zorder=1)
    axes.patches[0].set(edgecolor=style.FAINT, linewidth=1.4, zorder=2)
    for text in axes.texts:
        _restyle(text, ohm)
    axes.text(-1.17, -1.04, f"numbers: {feed_picture(record).chart_unit}", fontsize=10.5, color=style.FAINT)
    axes.set(xlim=(-1.18, 1.18), ylim=(-1.1, 1.1))
    axes.set_axis_off()


def _restyle(text: Text, ohm: float) -> None:
    """Style of a number of the chart: reactances around its rim, resistances on its axis."""
    words = text.get_text().replace(".0", "")
    rim = words.endswith("j")
    if rim:
        point = 1j * float(words[:-1]) / ohm
        reflected = 1.065 * (point - 1) / (point + 1)
        text.set(x=reflected.real, y=reflected.imag, ha="center", va="center")
        words = f"j{words[:-1]}".replace("j-", "−j")
    text.set(text=words, fontsize=10.5, color=style.FAINT, zorder=3)
    if text.get_verticalalignment() == "baseline":
        text.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.8})
