"""Pictures of the tolerances: effects of the dimensions ranked, allowed deviations, S11 of a sample."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simharness.plot import style, titles
from simharness.records import Record
from simharness.tolerance.messages import allowance_text, tolerance_text
from simharness.tolerance.study import Effect, ToleranceStudy
from simharness.tolerance.tool_errors import TOOL_NAMES

_ROW = 0.36
_BINS = 36
_COLUMNS = 232
"""Width of the two columns of text beside the bars, points."""


def tolerance_figure(study: ToleranceStudy, record: Record) -> Figure:
    """Ranking of the dimensions on the left, the sample on the right."""
    rows = len(study.effects)
    height = max(7.2, 2.5 + _ROW * rows)
    model = f"moment-method model, corrected by run {study.run}" if study.run else "moment-method model"
    figure = titles.record_sheet(
        13.2,
        height,
        record,
        f"Which dimensions matter: errors of {TOOL_NAMES[study.tools]}",
        note=f"{model}; tolerances are common practice, kept in 95 of 100 cases",
    )
    up = height - 2.15
    ranking = figure.add_axes(style.inches(figure, 4.7, 0.95, 2.6, up))
    _draw_ranking(ranking, study)
    shift = figure.add_axes(style.inches(figure, 7.55, 0.95, 1.6, up), sharey=ranking)
    _draw_shift(shift, study)
    sample = figure.add_axes(style.inches(figure, 9.75, 0.95, 3.2, up))
    _draw_sample(sample, study, record)
    return figure


def _draw_ranking(axes: Axes, study: ToleranceStudy) -> None:
    """Change of S11 for the tolerance of each dimension; the allowed deviation is printed beside its name."""
    places = np.arange(len(study.effects))
    shared = [effect.s11_change for effect in study.effects]
    own = [effect.own_s11_change for effect in study.effects]
    axes.barh(places, shared, color=style.SOLVER, height=0.62, label="all alike")
    if any(own):
        both = [math.hypot(one, two) - one for one, two in zip(shared, own)]
        axes.barh(places, both, left=shared, color=style.ESTIMATE, height=0.62, label="each slot by itself")
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(-0.04, 1.0),
            ncols=2,
            fontsize=10.5,
            handlelength=1.2,
            columnspacing=1.0,
            borderaxespad=0,
        )
    axes.set_yticks(places, [effect.name for effect in study.effects], fontsize=11)
    axes.tick_params(axis="y", left=False, pad=_COLUMNS)
    for place, effect in enumerate(study.effects):
        _write(axes, place, tolerance_text(effect), _allowed_text(effect, study))
    _write(axes, -1.0, "tolerance", "allowed alone")
    axes.set(ylim=(len(places) - 0.4, -0.6), xlabel="change of S11 for the tolerance")
    axes.grid(False, axis="y")


def _write(axes: Axes, place: float, tolerance: str, allowed: str) -> None:
    """Two columns of text to the left of the bars."""
    for text, left in ((tolerance, 8 - _COLUMNS), (allowed, -88)):
        axes.annotate(
            text,
            (0, place),
            (left, 0),
            xycoords=("axes fraction", "data"),
            textcoords="offset points",
            va="center",
            ha="left",
            fontsize=10.5,
            color=style.FAINT,
            annotation_clip=False,
        )


def _allowed_text(effect: Effect, study: ToleranceStudy) -> str:
    allowed = study.allowed.get(effect.name)
    if allowed is None:
        return "none"
    beyond = "> " if allowed.less_open and allowed.more_open else ""
    return f"{beyond}{allowance_text(allowed.either, effect.unit)}"


def _draw_shift(axes: Axes, study: ToleranceStudy) -> None:
    """Shift of the resonance for a deviation of plus one tolerance."""
    places = np.arange(len(study.effects))
    shifts = [1e-6 * effect.slopes["resonance"] * effect.tolerance for effect in study.effects]
    axes.barh(places, np.nan_to_num(shifts), color=style.METAL, height=0.62)
    axes.axvline(0, color=style.FAINT, linewidth=1)
    axes.tick_params(axis="y", left=False, labelleft=False)
    axes.set_xlabel("MHz")
    axes.set_title("shift for + tolerance", fontsize=11.5)
    axes.grid(False, axis="y")


def _draw_sample(axes: Axes, study: ToleranceStudy, record: Record) -> None:
    """Distribution of the worst S11 of the sample beside the target."""
    worst, target = study.sample.figures.worst_s11, record.band.target_s11_db
    low, high = min(worst.min(), target) - 0.5, max(worst.max(), target) + 0.5
    width = (high - low) / _BINS
    edges = target + width * np.arange(
        math.floor((low - target) / width), math.ceil((high - target) / width) + 1
    )
    good = study.sample.meets
    kinds = ((worst[good], style.SOLVER), (worst[~good], style.ESTIMATE))
    counts, _, _ = axes.hist(
        [values for values, _ in kinds], bins=edges, color=[colour for _, colour in kinds], stacked=True
    )
    axes.axvline(target, color=style.INK, linewidth=1.8)
    drawn = float(study.drawn.worst_s11[0])
    axes.axvline(drawn, color=style.FAINT, linewidth=1.4, linestyle=(0, (4, 2)))
    top = 1.14 * np.max(counts)
    axes.annotate(" target", (target, top), ha="left", va="top", fontsize=11)
    axes.annotate("as drawn ", (drawn, top), ha="right", va="top", fontsize=11, color=style.FAINT)
    axes.set(
        ylim=(0, top),
        xlabel=f"worst S11 in dB, {record.band.low_ghz:g} to {record.band.high_ghz:g} GHz",
        ylabel="antennas",
    )
    axes.set_title(f"{good.sum():,} of {worst.size:,} meet the target", fontsize=11.5, loc="left")
