"""Curves of things side by side as options of the chart element: plain data.

Colours are the variables of the page's style, so that they follow the system's choice of light or dark.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simharness.numerics.decibels import decibels
from simharness.page.charts import look

if TYPE_CHECKING:
    from simharness.beside.side import Side

COLOURS = ("var(--curve-1)", "var(--curve-2)", "var(--curve-3)")
DASHES: tuple[Any, ...] = ("solid", [8, 4], [2, 3])
"""Curves differ in colour and in dashes."""

_LOWEST_DB = -40.0
_RANGE_DB = 40.0


def reflection_options(sides: Sequence[Side]) -> dict[str, Any]:
    """|S11| in dB over frequency, the bands of the records shaded."""
    from simharness.beside.axis import shared_axis  # loads what takes a second, when there are sides

    shared = shared_axis(sides)
    curves = [
        _curve(side.label, place, np.maximum(decibels(np.abs(side.s11) ** 2), _LOWEST_DB), order)
        for order, (side, place) in enumerate(zip(sides, shared.places))
    ]
    bars = [
        part
        for order, (side, place) in enumerate(zip(sides, shared.places))
        for part in _bar(side, place, order)
    ]
    curves[0]["markArea"] = {
        "silent": True,
        "itemStyle": {"color": "var(--raised)"},
        "data": [[{"xAxis": low}, {"xAxis": high}] for low, high in shared.bands],
    }
    low = float(min(place[0] for place in shared.places))
    high = float(max(place[-1] for place in shared.places))
    return _options([*curves, *bars], (shared.label, low, high), ("|S11|, dB", _LOWEST_DB, 0.0))


def cut_options(sides: Sequence[Side], which: str) -> dict[str, Any] | None:
    """Realized gain in dBi over the angle from the front, "along" or "across" the guide; None without any."""
    cuts = [(order, side, side.cuts[which]) for order, side in enumerate(sides) if which in side.cuts]
    if not cuts:
        return None
    top = float(5 * np.ceil((max(float(cut.gain.max()) for *_, cut in cuts) + 0.5) / 5))
    floor = top - _RANGE_DB
    curves = [
        _curve(side.label, np.degrees(cut.angle), np.maximum(cut.gain, floor), order)
        for order, side, cut in cuts
    ]
    label = f"degrees from the front, towards {'the far end' if which == 'along' else '+x'}"
    return _options(curves, (label, -180.0, 180.0), ("realized gain, dBi", floor, top), step=60)


def _bar(side: Side, place: NDArray, order: int) -> list[dict[str, Any]]:
    """The error bar of a curve as a pale area: its lower edge, which is not seen, and the height above it."""
    if side.s11_error is None:
        return []
    size = np.abs(side.s11)
    edges = [
        np.maximum(decibels(np.clip(size + sign * side.s11_error, 0.0, 1.0) ** 2), _LOWEST_DB)
        for sign in (-1, 1)
    ]
    found = []
    for level, seen in ((edges[0], False), (edges[1] - edges[0], True)):
        part = _curve(f"error bar of {side.label}", place, level, order) | {
            "stack": f"bar {order}",
            "stackStrategy": "all",
            "silent": True,
            "tooltip": {"show": False},
            "lineStyle": {"opacity": 0},
            "z": 1,
        }
        if seen:
            part["areaStyle"] = {"color": COLOURS[order], "opacity": 0.14}
        found.append(part)
    return found


def _curve(label: str, place: NDArray, level: NDArray, order: int) -> dict[str, Any]:
    return {
        "type": "line",
        "name": label,
        "data": look.points(place, level),
        "showSymbol": False,
        "lineStyle": {"color": COLOURS[order], "type": DASHES[order], "width": 2},
        "itemStyle": {"color": COLOURS[order]},
    }


def _options(
    curves: list[dict[str, Any]],
    across: tuple[str, float, float],
    up: tuple[str, float, float],
    step: float | None = None,
) -> dict[str, Any]:
    """A chart with plain axes, of which each is a label, its least and its largest value."""
    (name, least, most), (height, floor, top) = across, up
    x, y = look.axis(name, least, most), look.axis(height, floor, top, upright=True)
    x["axisLabel"] |= {"showMinLabel": False, "showMaxLabel": False}
    y["axisLabel"] |= {"showMinLabel": True, "showMaxLabel": True}
    if step is not None:
        x["interval"] = step
    tooltip = {
        "trigger": "axis",
        "renderMode": "richText",
        "backgroundColor": look.GROUND,
        "borderColor": look.FAINT,
        "textStyle": {"color": look.INK},
    }
    return look.chart(x, y, curves, legend=False) | {"tooltip": tooltip}
