"""Pictures of both principal cuts of the pattern, realized gain in dBi."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simharness.em.pattern.cuts import PatternCut, cut_across, cut_along, cut_between
from simharness.em.pattern.far_field import FarField
from simharness.em.pattern.gain import realized_gain
from simharness.estimate.antenna import Cut, Estimate
from simharness.figures import Figure as FigureOf
from simharness.numerics.decibels import decibels
from simharness.plot import style, titles
from simharness.records import Record
from simharness.results.far_field import antenna_middle
from simharness.results.outputs import Results
from simharness.verdict.assessment import stored_figures

RANGE_DB = 40.0
"""Range of the radial scale, dB."""
_MIN_DRAWN_DB = 3.0
"""Least maximum of a drawn curve above the centre of the diagram, dB: lower ones would be a dot."""

_SIDES = {
    "along": ("Cut along the guide", "far end", "near end"),
    "across": ("Cut across the guide", "side +x", "side −x"),
}


def principal_cut(far: FarField, index: int, which: str) -> PatternCut:
    """Cut 'along' or 'across' the guide."""
    return (cut_along if which == "along" else cut_across)(far, index)


def estimated_gain(estimate: Estimate | None, which: str) -> tuple[Cut, np.ndarray] | None:
    """Cut of the estimate and its realized gain in dBi; None where the estimate has none."""
    cut = None if estimate is None else estimate.along if which == "along" else estimate.across
    figure = None if estimate is None else estimate.figures.get("realized_gain")
    if cut is None or figure is None or figure.value is None:
        return None
    return cut, figure.value + decibels(cut.power)


def scale_top(far: FarField, index: int, estimate: Estimate | None = None) -> float:
    """End of a scale in dBi: the next multiple of 5 above the peaks of full wave and estimate."""
    peak = decibels(style.field_gain(far, index).max())
    guesses = [estimated_gain(estimate, which) for which in ("along", "across")]
    peak = max([peak, *(guess[1].max() for guess in guesses if guess is not None)])
    return float(5 * np.ceil((peak + 0.5) / 5))


def draw_cut(
    axes: Axes,
    far: FarField,
    index: int,
    which: str,
    record: Record,
    estimate: Estimate | None,
    small: bool = False,
) -> None:
    """One cut on polar axes: co- and cross-polar gain of the full wave, and the estimate; broadside up."""
    cut, top = cut_between(far, index, which, antenna_middle(record)), scale_top(far, index, estimate)
    floor = top - RANGE_DB
    shown = [(cut.angle, cut.co, style.SOLVER_LINE, "full wave, co-polar (E across the guide)", 5)]
    if not hidden_cross(far, index, which, floor):
        shown.append((cut.angle, cut.cross, style.SECOND_LINE, "full wave, cross-polar", 3))
    highest = np.full(cut.angle.size, floor)
    for angle, power, line, label, order in shown:
        gain = decibels(realized_gain(power), floor)
        highest = np.maximum(highest, gain)
        axes.plot(angle, gain, label=label, zorder=order, **line)
    guess = estimated_gain(estimate, which)
    if guess is not None:
        gain = np.maximum(guess[1], floor)
        highest = np.maximum(highest, np.interp(cut.angle, guess[0].angle, gain))
        axes.plot(guess[0].angle, gain, label="estimate", zorder=4, **style.ESTIMATE_LINE)
    _polar_scale(axes, which, floor, top, small, _clear_spoke(cut.angle, highest))


def hidden_cross(far: FarField, index: int, which: str, floor: float) -> str:
    """A text in place of a cross-polar curve that is too low to be drawn; empty where it is drawn."""
    most = float(decibels(realized_gain(principal_cut(far, index, which).cross)).max())
    if most > floor + _MIN_DRAWN_DB:
        return ""
    return "cross-polar below " + style.minus(f"{max(np.ceil(most), floor):.0f} dBi")


def _clear_spoke(angle: np.ndarray, gain: np.ndarray) -> float:
    """Angle in degrees midway between two spokes where all curves are lowest: place for the ring labels."""
    spokes = np.arange(15, 360, 30)
    away = np.abs((np.degrees(angle)[:, None] - spokes + 180) % 360 - 180)
    lobes = [gain[column < 12].max() for column in away.T]
    return float(min(zip(lobes, np.abs(spokes - 75), spokes))[2])


def _polar_scale(axes: Axes, which: str, floor: float, top: float, small: bool, spoke: float) -> None:
    """Rings in dBi, spokes in degrees from broadside with names for the four main directions."""
    axes.set_ylim(floor, top)
    rings = np.arange(10 * np.ceil((floor + 7) / 10), top - 1, 10)
    axes.set_yticks(rings, [""] * len(rings))
    for ring in rings:  # tick labels of an axis lie below all curves
        axes.text(
            np.radians(spoke),
            ring,
            style.minus(f"{ring:g}"),
            fontsize=8.5 if small else 10,
            color=style.FAINT,
            ha="center",
            va="center",
            zorder=7,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.6},
        )
    _, right, left = _SIDES[which]
    names = {0: "0° front", 90: f"90°\n{right}", 180: "180° back", 270: f"−90°\n{left}"}
    marks = np.arange(0, 360, 30)
    plain = ["" if small else style.minus(f"{(mark + 180) % 360 - 180}°") for mark in marks]
    axes.set_xticks(np.radians(marks), [names.get(int(mark), text) for mark, text in zip(marks, plain)])
    axes.tick_params(axis="x", labelsize=10 if small else 11, pad=4)
    for label, mark in zip(axes.get_xticklabels(), marks):
        label.set_horizontalalignment("center" if mark in (0, 180) else "left" if mark < 180 else "right")
    axes.spines["polar"].set_color(style.FAINT)


def cut_text(figures: Mapping[str, FigureOf], which: str) -> list[str]:
    """Figures of the verdict: gain, beam, beamwidth, side lobes (along) or front to back (across)."""
    width = figures[f"beamwidth_{which}"].value
    beamwidth = "never falls to half power" if width is None else f"half-power beamwidth {width:.1f}°"
    if which == "along":
        beam = _degrees(figures["beam_direction"].value)
        return [
            f"realized gain {figures['realized_gain'].value:.1f} dBi, beam at {beam}",
            beamwidth,
            _side_lobe(figures["side_lobe_level"].value),
        ]
    back = figures["front_to_back"].value
    return [beamwidth, *([] if back is None else [f"front to back {back:.1f} dB"])]


def estimate_text(estimate: Estimate | None, which: str) -> str:
    """The same figures of the estimate in one line; empty where it has none."""
    if estimate is None or estimated_gain(estimate, which) is None:
        return ""
    found = {name: figure.value for name, figure in estimate.figures.items() if figure.value is not None}
    words = [f"{found['realized_gain']:.1f} dBi"] if which == "along" else []
    if f"beamwidth_{which}" in found:
        words.append(f"beamwidth {found[f'beamwidth_{which}']:.1f}°")
    if which == "along" and "side_lobe_level" in found:
        words.append(_side_lobe(found["side_lobe_level"]))
    if which == "across" and "front_to_back" in found:
        words.append(f"front to back {found['front_to_back']:.1f} dB")
    return "estimate: " + ", ".join(words)


def _degrees(value: float) -> str:
    return style.minus(f"{round(value, 1) + 0.0:.1f}°")


def _side_lobe(level: float | None) -> str:
    return "no side lobes in front" if level is None else style.minus(f"side lobes {level:.1f} dB")


def cuts_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """Both principal cuts; None without a far field."""
    far = style.far_field(results, record)
    if far is None:
        return None
    index, figures = style.centre_index(results, record), stored_figures(results, record)
    figure = titles.record_sheet(
        7.6,
        14.6,
        record,
        f"Realized gain in dBi at {far.frequency[index] / 1e9:.3f} GHz, principal cuts",
        note=style.mesh_text(results),
    )
    floor = scale_top(far, index, estimate) - RANGE_DB
    shown: dict[str, Artist] = {}
    for which, bottom in (("along", 8.35), ("across", 2.1)):
        axes = style.polar_axes(figure, style.inches(figure, 1.5, bottom, 4.6, 4.6))
        draw_cut(axes, far, index, which, record, estimate)
        shown |= {label: handle for handle, label in zip(*axes.get_legend_handles_labels())}
        figure.text(
            *style.at(figure, 0.35, bottom + 4.95), _SIDES[which][0], fontsize=13, weight="bold", va="bottom"
        )
        lines = (
            (", ".join(cut_text(figures, which)), style.SOLVER),
            (estimate_text(estimate, which), style.ESTIMATE),
            (hidden_cross(far, index, which, floor), style.SECOND),
        )
        for number, (text, colour) in enumerate(line for line in lines if line[0]):
            figure.text(
                *style.at(figure, 3.8, bottom - 0.42 - 0.25 * number),
                text,
                ha="center",
                va="top",
                color=colour,
                fontsize=11.5,
            )
    figure.legend(
        list(shown.values()),
        list(shown),
        loc="lower center",
        ncols=2,
        bbox_to_anchor=style.at(figure, 3.8, 0.45),
        columnspacing=1.2,
        fontsize=11,
    )
    return figure
