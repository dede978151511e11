"""Reflection and VSWR against frequency."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator
from numpy.typing import NDArray

from simharness.estimate.antenna import Estimate
from simharness.figures import Figure as FigureOf
from simharness.numerics.decibels import decibels
from simharness.plot import style, titles
from simharness.plot.feeds import feed_picture
from simharness.records import Record
from simharness.results.outputs import Results
from simharness.verdict.assessment import state_of, stored_figures
from simharness.verdict.error_bars import estimate_error, mesh_quality, solver_error
from simharness.verdict.match_state import MatchState

TEN_DB = -10.0
"""Level whose intervals are marked, dB."""

_MAX_VSWR = 6.0


def spans_below(frequency: NDArray, s11: NDArray, level_db: float) -> list[tuple[float, float]]:
    """Intervals of frequency in which |S11| is at most a level.

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

    return [(edge(i, i - 1), edge(j, j + 1)) for i, j in zip(starts.tolist(), stops.tolist())]


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
    """Least and largest |S11| within an error, a distance in the complex plane.

    Examples
    --------
    >>> print(*size_within(np.array([0.1j, 0.5]), 0.2))
    [0.  0.3] [0.3 0.7]
    """
    size = np.abs(s11)
    return np.maximum(size - error, 0.0), np.minimum(size + error, 1.0)


def solver_bar(results: Results, record: Record) -> float:
    """Error of the S11 of a run, a distance in the complex plane; for an unknown quality that of a draft."""
    return solver_error(record, mesh_quality(results))["s11"]


def run_state(results: Results, record: Record) -> MatchState:
    """Whether a run meets the target of the record."""
    return state_of(record, results, mesh_quality(results))


def _shaded_band(axes: Axes, record: Record) -> None:
    """The band of the record, and its centre."""
    axes.axvspan(record.band.low_ghz, record.band.high_ghz, color=style.BAND, zorder=0, linewidth=0)
    axes.axvline(record.band.centre_ghz, color=style.GRID, linewidth=1.2, zorder=1)


def _traces(results: Results, record: Record, estimate: Estimate | None) -> list[tuple]:
    """Frequency in GHz, S11, its error, label and line style of full wave and estimate."""
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
    """Error bar of a curve as a pale area; darker for the full wave, whose error is smaller."""
    strength = 0.2 if colour == style.SOLVER else 0.11
    axes.fill_between(frequency, *sizes, color=colour, alpha=strength, linewidth=0, zorder=1.5, label=label)


def draw_match(axes: Axes, results: Results, record: Record, estimate: Estimate | None) -> None:
    """|S11| in dB of full wave and estimate with error bars, target, band and intervals below -10 dB."""
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
        least, largest = map(reflection_db, size_within(s11, error))
        shade_error(axes, at, (least, largest), line["color"], f"error bar of the {label} (S11 ± {error:g})")
    bottom = max(-45.0, 5 * np.floor(lowest / 5) - 5)
    axes.set(xlim=(frequency[0], frequency[-1]), ylim=(bottom, 1.0), ylabel="|S11| in dB")
    axes.yaxis.set_major_locator(MultipleLocator(5))
    if "s21" in results:
        axes.set_ylabel("|S11|, |S21| in dB")
    _mark_ten_db(axes, frequency, results["s11"], bottom, stored_figures(results, record))


def _mark_ten_db(
    axes: Axes, frequency: NDArray, s11: NDArray, bottom: float, figures: Mapping[str, FigureOf]
) -> None:
    """Where the full wave is at or below -10 dB: a bar at the bottom, and the verdict's band as text."""
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
    figure = style.figure_of(axes)
    wide = axes.get_position().width * figure.get_figwidth()
    lines = titles.wrapped(figure, text, wide - 0.1, 11)
    half = max(titles.text_width(figure, line, 11) for line in lines) / wide / 2
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
    """VSWR of full wave and estimate with error bars, and the target."""
    _shaded_band(axes, record)
    for order, (at, s11, error, _, line) in enumerate(_traces(results, record, estimate)):
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


def match_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """|S11| and VSWR over frequency; None without S11."""
    if "s11" not in results:
        return None
    figure = titles.record_sheet(
        7.6,
        8.85,
        record,
        f"Match: reflection, {feed_picture(record).reference}",
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
