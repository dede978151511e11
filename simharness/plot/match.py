"""Reflection over frequency, VSWR and the Smith chart."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import MultipleLocator
from numpy.typing import NDArray
from skrf.plotting import smith

from simharness.estimate.antenna import Estimate
from simharness.figures import Figure as FigureOf
from simharness.numerics.decibels import decibels
from simharness.plot import style, titles
from simharness.records import REFERENCE_OHM, CoaxFeed, Record
from simharness.results.outputs import Results
from simharness.verdict.assessment import state_of, stored_figures
from simharness.verdict.error_bars import estimate_error, solver_error
from simharness.verdict.match_state import MatchState

TEN_DB = -10.0
_MAX_VSWR = 6.0


def spans_below(frequency: NDArray, s11: NDArray, level_db: float) -> list[tuple[float, float]]:
    """Stretches of frequency where |S11| is at most a level.

    Parameters
    ----------
    frequency : (n,) array
        Increasing.
    s11 : (n,) complex array
    level_db : float
        dB.

    Returns
    -------
    list of (low, high)
        In the unit of `frequency`; edges by linear interpolation of |S11|^2, or the end of
        the data.

    Examples
    --------
    >>> spans_below(np.array([1.0, 2.0, 3.0]), np.sqrt([0.3, 0.0, 0.2]), -10.0)
    [(1.6666666666666665, 2.5)]
    """
    excess = np.abs(s11) ** 2 - 10 ** (level_db / 10)
    below = np.concatenate([[False], excess <= 0, [False]])
    starts = np.flatnonzero(below[1:-1] & ~below[:-2])
    stops = np.flatnonzero(below[1:-1] & ~below[2:])

    def edge(inner: int, outer: int) -> float:
        if not 0 <= outer < len(frequency):
            return float(frequency[inner])
        part = excess[inner] / (excess[inner] - excess[outer])
        return float(frequency[inner] + part * (frequency[outer] - frequency[inner]))

    return [(edge(i, i - 1), edge(j, j + 1)) for i, j in zip(starts, stops)]


def reflection_db(s11: NDArray) -> NDArray:
    """|S11| in dB, never below -60 dB."""
    return decibels(np.abs(s11) ** 2, -60.0)


def standing_wave_ratio(s11: NDArray) -> NDArray:
    """VSWR (1 + |S11|) / (1 - |S11|); infinite at total reflection.

    Examples
    --------
    >>> print(standing_wave_ratio(np.array([0.0, 0.5])))
    [1. 3.]
    """
    size = np.abs(s11)
    with np.errstate(divide="ignore"):
        return np.where(size < 1, (1 + size) / np.where(size < 1, 1 - size, 1.0), np.inf)


def size_within(s11: NDArray, error: float) -> tuple[NDArray, NDArray]:
    """Least and largest |S11| that lie within an error, a distance in the complex plane.

    Examples
    --------
    >>> print(*size_within(np.array([0.1j, 0.5]), 0.2))
    [0.  0.3] [0.3 0.7]
    """
    size = np.abs(s11)
    return np.maximum(size - error, 0.0), np.minimum(size + error, 1.0)


def solver_bar(results: Results, record: Record) -> float:
    """Error of the S11 of a run, a distance in the complex plane; that of a draft where its quality is not known."""
    return solver_error(record, _quality(results))["s11"]


def _quality(results: Results) -> str:
    return str(results.attributes.get("quality", "draft"))


def run_state(results: Results, record: Record) -> MatchState:
    """How the match of a run stands to its target."""
    return state_of(record, results, _quality(results))


def _shaded_band(axes: Axes, record: Record) -> None:
    axes.axvspan(record.band.low_ghz, record.band.high_ghz, color=style.BAND, zorder=0, linewidth=0)
    axes.axvline(record.band.centre_ghz, color=style.GRID, linewidth=1.2, zorder=1)


def _traces(results: Results, record: Record, estimate: Estimate | None) -> list[tuple]:
    """Frequency in GHz, S11, its error, label and line of full wave and estimate."""
    found = [
        (
            results["frequency"] / 1e9,
            results["s11"],
            solver_bar(results, record),
            "full wave",
            style.SOLVER_LINE,
        )
    ]
    if estimate is not None:
        found.append(
            (
                estimate.frequency / 1e9,
                estimate.s11,
                estimate_error(record)["s11"],
                "estimate",
                style.ESTIMATE_LINE,
            )
        )
    return found


def shade_error(
    axes: Axes, frequency: NDArray, sizes: tuple[NDArray, NDArray], colour: str, label: str
) -> None:
    """What a curve may be off, as a pale area: stronger for the full wave, whose bar is the shorter one."""
    strength = 0.2 if colour == style.SOLVER else 0.11
    axes.fill_between(frequency, *sizes, color=colour, alpha=strength, linewidth=0, zorder=1.5, label=label)


def draw_match(axes: Axes, results: Results, record: Record, estimate: Estimate | None) -> None:
    """|S11| in dB of full wave and estimate with their errors, target, band and the -10 dB stretches."""
    traces = _traces(results, record, estimate)
    frequency, curve = traces[0][0], reflection_db(results["s11"])
    lowest = min(
        curve.min(),
        record.band.target_s11_db,
        TEN_DB,
        *(max(reflection_db(s11).min(), -30.0) for _, s11, *_ in traces[1:]),
    )
    for order, (at, s11, _, label, line) in enumerate(traces):
        axes.plot(at, reflection_db(s11), label=label, zorder=5 - order, **line)
    if "s21" in results:
        axes.plot(
            frequency, reflection_db(results["s21"]), label="full wave |S21|", zorder=4, **style.SECOND_LINE
        )
    _shaded_band(axes, record)
    target, low, high = record.band.target_s11_db, record.band.low_ghz, record.band.high_ghz
    axes.plot(
        [low, high],
        [target, target],
        color=style.INK,
        linewidth=1.6,
        zorder=4.5,
        label=f"target {style.minus(f'{target:g}')} dB in the band",
    )
    for at, s11, error, label, line in traces:
        sizes = tuple(map(reflection_db, size_within(s11, error)))
        shade_error(axes, at, sizes, line["color"], f"error bar of the {label} (S11 ± {error:g})")
    bottom = max(-45.0, 5 * np.floor(lowest / 5) - 5)
    axes.set(xlim=(frequency[0], frequency[-1]), ylim=(bottom, 1.0), ylabel="|S11| in dB")
    axes.yaxis.set_major_locator(MultipleLocator(5))
    if "s21" in results:
        axes.set_ylabel("|S11|, |S21| in dB")
    _mark_ten_db(axes, frequency, results["s11"], bottom, stored_figures(results, record))


def _mark_ten_db(
    axes: Axes, frequency: NDArray, s11: NDArray, bottom: float, figures: Mapping[str, FigureOf]
) -> None:
    """Where the full wave stays at or below -10 dB: a bar at the bottom, the verdict's band around the best match in numbers."""
    spans = spans_below(frequency, s11, TEN_DB)
    height = bottom * 0.965
    for low, high in spans:
        axes.plot(
            [low, high], [height, height], color=style.SOLVER, linewidth=7, solid_capstyle="butt", zorder=5
        )
    text = "|S11| nowhere below −10 dB"
    place = (frequency[0] + frequency[-1]) / 2
    if spans:
        edges = [
            None if figures[name].value is None else figures[name].value / 1e9
            for name in ("band_low", "band_high")
        ]
        cut = "at least " if None in edges else ""
        low, high = (end if edge is None else edge for edge, end in zip(edges, (frequency[0], frequency[-1])))
        text = f"below −10 dB: {cut}{low:.3f} to {high:.3f} GHz ({1000 * (high - low):.0f} MHz)"
        place = (low + high) / 2
    wide = axes.get_position().width * axes.figure.get_figwidth()
    lines = titles.wrapped(axes.figure, text, wide - 0.1, 11)
    half = max(titles.text_width(axes.figure, line, 11) for line in lines) / wide / 2
    share = (place - frequency[0]) / (frequency[-1] - frequency[0])
    axes.text(
        min(max(share, half), 1 - half),
        0.06,
        "\n".join(lines),
        transform=axes.transAxes,
        ha="center",
        va="bottom",
        fontsize=11,
        color=style.SOLVER,
        zorder=6,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.5},
    )


def _draw_vswr(axes: Axes, results: Results, record: Record, estimate: Estimate | None) -> None:
    _shaded_band(axes, record)
    for order, (at, s11, error, label, line) in enumerate(_traces(results, record, estimate)):
        axes.plot(at, standing_wave_ratio(s11), zorder=5 - order, **line)
        sizes = tuple(
            np.minimum(standing_wave_ratio(size), 2 * _MAX_VSWR) for size in size_within(s11, error)
        )
        shade_error(axes, at, sizes, line["color"], "")
    target = float(standing_wave_ratio(np.array(10 ** (record.band.target_s11_db / 20))))
    axes.plot([record.band.low_ghz, record.band.high_ghz], [target, target], color=style.INK, linewidth=1.6)
    axes.set(
        xlim=(results["frequency"][0] / 1e9, results["frequency"][-1] / 1e9),
        ylim=(1, _MAX_VSWR),
        ylabel="VSWR (cut at 6)",
    )
    axes.set_xlabel(f"frequency in GHz   (shaded: {record.band.low_ghz:g} to {record.band.high_ghz:g} GHz)")


def reference_text(record: Record) -> str:
    """What S11 refers to."""
    if isinstance(record.feed, CoaxFeed):
        return f"{REFERENCE_OHM:g} ohm at the outer face of the wall"
    return "TE10 of the guide at its near end"


def match_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """|S11| and VSWR over frequency; None without S11."""
    if "s11" not in results:
        return None
    figure = titles.record_sheet(
        7.6,
        8.85,
        record,
        f"Match: reflection, {reference_text(record)}",
        state=run_state(results, record),
        note=style.mesh_text(results),
    )
    upper = figure.add_axes(style.inches(figure, 0.95, 3.55, 6.4, 3.65))
    lower = figure.add_axes(style.inches(figure, 0.95, 1.0, 6.4, 2.2), sharex=upper)
    draw_match(upper, results, record, estimate)
    upper.tick_params(labelbottom=False)
    _draw_vswr(lower, results, record, estimate)
    titles.legend(figure, upper, 0.95, 8.05, ncols=2)
    return figure


def smith_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """S11 on the Smith chart; None without S11."""
    if "s11" not in results:
        return None
    figure = titles.record_sheet(
        7.6,
        8.6,
        record,
        f"Smith chart: {reference_text(record)}",
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
    """Markers at the band's edges and centre on both traces."""
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
    """Impedance grid by scikit-rf, its lines made quiet, labels in ohm (or normalized)."""
    ohm = REFERENCE_OHM if isinstance(record.feed, CoaxFeed) else 1.0
    smith(ax=axes, chart_type="z", draw_labels=True, ref_imm=ohm)
    for patch in axes.patches:
        patch.set(edgecolor=style.GRID, linewidth=0.9, zorder=1)
    for line in axes.lines:
        line.set(color=style.GRID, linewidth=0.9, zorder=1)
    axes.patches[0].set(edgecolor=style.FAINT, linewidth=1.4, zorder=2)
    for text in axes.texts:
        _quiet(text, ohm)
    unit = "ohm" if ohm != 1.0 else "units of the wave impedance"
    axes.text(-1.17, -1.04, f"numbers: {unit}", fontsize=10.5, color=style.FAINT)
    axes.set(xlim=(-1.18, 1.18), ylim=(-1.1, 1.1))
    axes.set_axis_off()


def _quiet(text: Text, ohm: float) -> None:
    """A number of the chart in plain writing: reactances around its rim, resistances on its axis."""
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
