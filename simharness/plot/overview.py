"""One sheet with the match, both cuts and the field in the guide."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simharness.estimate.antenna import Estimate
from simharness.plot import style, titles
from simharness.plot.cuts import RANGE_DB, cut_text, draw_cut, hidden_cross, scale_top
from simharness.plot.inside import draw_field
from simharness.plot.match import draw_match, run_state
from simharness.plot.shapes import shape_picture
from simharness.records import Record
from simharness.results.outputs import Results
from simharness.verdict.assessment import stored_figures

_WIDE = 14.5


def overview_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """Sheet of those parts that the results hold; None without S11."""
    if "s11" not in results:
        return None
    far, guide = style.far_field(results, record), record.guide
    strip = min(max(12.0 * guide.width_mm / guide.length_mm, 0.4), 4.0) if "cut_field" in results else 0.0
    low = strip + 1.55 if strip else 0.5
    high = low + 5.85
    figure = titles.record_sheet(
        _WIDE,
        high,
        record,
        _subject(record),
        size=18,
        state=run_state(results, record),
        note=style.mesh_text(results),
    )
    match = figure.add_axes(style.inches(figure, 0.95, low + 0.5, 4.2 if far else 11.4, 3.7))
    draw_match(match, results, record, estimate)
    match.set_xlabel("frequency in GHz")
    match.set_title("Match", loc="left", weight="bold")
    handles, labels = match.get_legend_handles_labels()
    shown = dict(zip(labels, handles))
    if far is not None:
        index, figures = style.centre_index(results, record), stored_figures(results, record)
        floor = scale_top(far, index, estimate) - RANGE_DB
        for which, left in (("along", 6.25), ("across", 10.75)):
            axes = style.polar_axes(figure, style.inches(figure, left, low + 1.05, 2.7, 2.7))
            draw_cut(axes, far, index, which, record, estimate, small=True)
            words = [*cut_text(figures, which), hidden_cross(far, index, which, floor)]
            _caption(axes, f"Cut {which} the guide, dBi", list(filter(None, words)))
            more, names = axes.get_legend_handles_labels()
            shown = {name: handle for handle, name in zip(more, names) if "co-polar" not in name} | shown
    if strip:
        _field_strip(figure, results, record, strip)
    order = [*labels, *(name for name in shown if name not in labels)]
    figure.legend(
        [shown[name] for name in order],
        order,
        loc="upper left",
        ncols=3,
        borderaxespad=0,
        columnspacing=1.6,
        bbox_to_anchor=style.at(figure, 0.85, high - 0.80),
    )
    return figure


def _subject(record: Record) -> str:
    """Slots, size and band of the antenna."""
    count = len(record.slots)
    slots = f"{count} slot{'s' if count != 1 else ''}, " if count else ""
    size = shape_picture(record.guide).size
    return f"{slots}{size}, band {record.band.low_ghz:g} to {record.band.high_ghz:g} GHz"


def _caption(axes: Axes, title: str, lines: list[str]) -> None:
    """Title above, and lines below a polar diagram."""
    axes.annotate(
        title,
        (0.5, 1.0),
        (0, 30),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="center",
        fontsize=13,
        weight="bold",
    )
    axes.annotate(
        "\n".join(lines),
        (0.5, 0.0),
        (0, -24),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="center",
        va="top",
        fontsize=11,
        color=style.SOLVER,
    )


def _field_strip(figure: Figure, results: Results, record: Record, high: float) -> None:
    """The field in the guide along the lower border."""
    index = style.centre_index(results, record)
    wide = min(12.0, high * record.guide.length_mm / record.guide.width_mm)
    axes = figure.add_axes(style.inches(figure, 0.95, 0.95, wide, high))
    mesh = draw_field(axes, results, record, index, signed=True)
    axes.set_title("Field in the guide at one instant, seen from the front", loc="left", weight="bold")
    axes.set_xlabel("position along the guide from its near end in mm")
    bar = figure.colorbar(
        mesh, cax=figure.add_axes(style.inches(figure, wide + 1.15, 0.95, 0.16, high)), ticks=[-1, 0, 1]
    )
    bar.outline.set_visible(False)
