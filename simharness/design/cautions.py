"""What to look out for in a finished design, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from simharness.advice import warnings
from simharness.design.feeds import feed_design
from simharness.design.messages import match_text, shown
from simharness.design.proposal import Design
from simharness.design.remedies import remedy_text
from simharness.design.stock import suitable_stock

_LARGE_OFFSET = 0.3
"""Of the width, common practice: beyond it the conductance hardly grows with the offset."""
_COARSE = 0.05
"""Of an offset: a step that moves the voltage of its slot by as much."""
_TURN = 10.0
"""Largest phase of the standing wave from one end of the row to the other, deg."""
_WIDTH_ERROR = 1e-4
"""What a caliper and a fold may miss, m."""
_SIDE_LOBES_LOST = 1.0
"""What rounding may cost, dB."""
_MANY_SUGGESTIONS = 4


def cautions(design: Design) -> list[str]:
    """What to look out for, the guide first, then the row, then what `check` says."""
    found = [*_guide_cautions(design), *_row_cautions(design)]
    return found + [text for text in warnings.warnings(design.record) if text not in found]


def _guide_cautions(design: Design) -> Iterator[str]:
    guide, frequency = design.requirements.guide, design.requirements.frequency
    if not guide.suits(frequency):
        better = suitable_stock(frequency)[:_MANY_SUGGESTIONS]
        hint = f"; {', '.join(better)} would suit it better" if better else ""
        yield f"{guide.name} is a poor choice for {shown(frequency)}{hint}"


def _row_cautions(design: Design) -> Iterator[str]:
    requirements, made, after = design.requirements, design.rounded, design.after
    guide, count = requirements.guide, design.weights.size
    offsets = np.abs(made.offsets)
    if guide.side_share(offsets.max()) > _LARGE_OFFSET:
        yield (
            f"the largest offset, {offsets.max() * 1e3:.1f} mm, is {offsets.max() / guide.a:.2f} of the "
            "width: so near the side wall the model is less accurate, and slots off the centre line raise "
            "lobes outside the main planes; with more slots the offsets are smaller"
        )
    if 0.5 * requirements.step > _COARSE * offsets.min():
        yield (
            f"the smallest offset is {offsets.min() * 1e3:.2f} mm: half a step of "
            f"{requirements.step * 1e3:g} mm moves the voltage of that slot by "
            f"{50 * requirements.step / offsets.min():.0f} %"
        )
    if count > 1 and made.lengths.max() >= np.diff(made.places).min():
        yield (
            "the slots are as long as their spacing: neighbours lie side by side, and the metal between "
            "them bends easily"
        )
    turn = 180 * (count - 1) * (requirements.guide_wavelength / (2 * guide.a)) ** 2 * _WIDTH_ERROR / guide.a
    if turn > _TURN and requirements.far_end == "short":
        yield (
            f"{count} slots in a row: {_WIDTH_ERROR * 1e3:g} mm more or less in the inner width moves the "
            f"first slot off the peak of the standing wave by {turn:.0f} deg, and match and side lobes "
            "suffer; measure the guide, and design for the measured width"
        )
    yield from _match_cautions(design)
    if (
        np.isfinite(design.before.side_lobe_db)
        and after.side_lobe_db > design.before.side_lobe_db + _SIDE_LOBES_LOST
    ):
        yield (
            f"rounding raises the side lobes to {after.side_lobe_db:.1f} dB: mark to a finer step than "
            f"{requirements.step * 1e3:g} mm"
        )


def _match_cautions(design: Design) -> Iterator[str]:
    match, band = design.match, design.record.band
    outside = not band.low <= match.best_at <= band.high
    best = f"its best, {match_text(match.best)} at {match.best_at / 1e9:.3f} GHz"
    if outside:
        best += (
            f", lies {'below' if match.best_at < band.low else 'above'} the band of {band.low_ghz:g} to "
            f"{band.high_ghz:g} GHz"
        )
    if match.worst > band.target_s11_db:
        worst = (
            f"S11 rises to {match.worst:.{1 if match.worst - band.target_s11_db > 0.05 else 3}f} dB at "
            f"{match.worst_at / 1e9:.3f} GHz"
        )
        yield (
            f"the estimate misses the target of {band.target_s11_db:g} dB: {worst}; "
            f"{best}{_reason(design, outside)}; {remedy_text(design)}"
        )
    elif outside:
        also = feed_design(design.requirements.feed).centring
        yield (
            f"S11 meets the target in the whole band, but {best}: 'simharness tune' with --over "
            f"centre{also} moves it to the centre, if that matters more than equal edges"
        )


def _reason(design: Design, outside: bool) -> str:
    """Why a target is missed, the end of a sentence."""
    if design.match.best > design.record.band.target_s11_db:
        return ": no lengths of this feed that are easy to make match this row"
    if outside:
        return ""
    count = design.weights.size
    return (
        f": {count} slot{'s' if count > 1 else ''} with this feed are too narrow for the band"
        if count > 1
        else ": one slot with this feed is too narrow for the band"
    )
