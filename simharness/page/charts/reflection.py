"""|S11| in dB over frequency: the band and its target, the errors of the tools, the last full-wave run."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from simharness.live.answers import Prediction
from simharness.live.tool_band import ToolBand
from simharness.numerics.decibels import decibels
from simharness.page.charts import look
from simharness.records import Record

FLOOR_DB = -40.0
_LEGEND_ROOM = 68
"""Above the chart, pixels: its legend has two rows on a narrow screen."""
_LOW_PX = 200
_LOW: dict[str, Any] = {
    "grid": {"top": 44, "bottom": 4, "left": 4, "right": 12},
    "legend": {"itemGap": 8},
    "xAxis": {"name": ""},
    "yAxis": {"name": "", "interval": 20},
}
"""The strip of a narrow screen: the curve and its legend, without the names of the axes."""
LAST_RUN = "last full wave"
Curve = tuple[NDArray, NDArray]
"""Frequencies (f,), Hz, and S11 (f,)."""


def s11_options(
    record: Record,
    found: Prediction | None,
    band: ToolBand | None = None,
    run: Curve | None = None,
    called: str = LAST_RUN,
) -> dict[str, Any]:
    """The chart as first drawn.

    Parameters
    ----------
    record : Record
        Whose band and target are shown.
    found : Prediction or None
    band : ToolBand or None
        What the errors of the tools do.
    run : tuple of frequency (f,) in Hz and S11 (f,), or None
        A full-wave run.
    called : str
        What that run is.
    """
    curve = found.frequency if found is not None else np.array([record.band.low, record.band.high])
    series = s11_update(record, found, band, run, called)["series"]
    options = level_chart(curve, series)
    options["media"] = [{"query": {"maxHeight": _LOW_PX}, "option": _LOW}]
    return options


def level_chart(frequency: NDArray, series: list[dict[str, Any]]) -> dict[str, Any]:
    """|S11| from `FLOOR_DB` to 0 dB over the span of frequencies (f,), Hz."""
    low, high = (round(float(value) / 1e9, 3) for value in (frequency[0], frequency[-1]))
    x = look.axis("frequency, GHz", low, high)
    x["axisLabel"] |= {"showMinLabel": False, "showMaxLabel": False}  # ends of the span, not round numbers
    y = look.axis("|S11|, dB", FLOOR_DB, 0.0, upright=True, interval=10)
    options = look.chart(x, y, series)
    options["grid"]["top"] = _LEGEND_ROOM
    return options


def s11_update(
    record: Record,
    found: Prediction | None,
    band: ToolBand | None = None,
    run: Curve | None = None,
    called: str = LAST_RUN,
) -> dict[str, Any]:
    """What changes with the record: series that take the place of those of the same `id`."""
    return {"series": [*tools_series(band), target_series(record), _drawn(found), run_series(run, called)]}


def s11_curve(found: Prediction | None) -> dict[str, Any]:
    """The curve alone: what changes while a dimension is dragged."""
    return {"series": [_drawn(found)]}


def tools_series(band: ToolBand | None) -> list[dict[str, Any]]:
    """The band of the tools."""
    if band is None:
        return span_series("tools", "", None)
    name = f"{_TOOLS.get(band.tools, band.tools)}, 9 of 10"
    return span_series("tools", name, (band.frequency, band.low_db, band.high_db))


def span_series(key: str, name: str, span: tuple[NDArray, NDArray, NDArray] | None) -> list[dict[str, Any]]:
    """Between two levels (f,) in dB over frequencies (f,) in Hz: both edges, the upper one filled down to the
    lower one."""
    low, rise = [], []
    if span is not None:
        frequency, least, most = span[0] / 1e9, _clipped(span[1]), _clipped(span[2])
        low, rise = look.points(frequency, least), look.points(frequency, most - least)
    shared = {"stack": key, "stackStrategy": "all", "z": 1}
    edge = look.line(f"{key}-low", "", low, look.CURVE, width=0) | shared
    area = look.line(f"{key}-high", name, rise, look.CURVE, width=0) | shared
    area["areaStyle"] = {"color": look.CURVE, "opacity": 0.2}
    return [edge, area]


_TOOLS = {"hand": "hand tools", "mill": "milled"}


def _clipped(levels: NDArray) -> NDArray:
    return np.clip(levels, FLOOR_DB, 0.0)


def shown_levels(s11: NDArray) -> NDArray:
    """|S11| in dB, as far down as the chart goes."""
    return _clipped(decibels(np.abs(s11) ** 2))


def _drawn(found: Prediction | None) -> dict[str, Any]:
    if found is None:
        return look.line("s11", "", [])
    return look.line(
        "s11",
        look.how(found.exact),
        look.points(found.frequency / 1e9, shown_levels(found.s11)),
        dashes="solid" if found.exact else look.DOTTED,
    )


def run_series(run: Curve | None, name: str = LAST_RUN) -> dict[str, Any]:
    """The curve of a full-wave run, stored or under way."""
    data = [] if run is None else look.points(run[0] / 1e9, shown_levels(run[1]))
    return look.line("run", "" if run is None else name, data, look.SECOND, look.DASHED, 1.5)


def target_series(record: Record) -> dict[str, Any]:
    """The target of a record in its band, which is shaded."""
    band = record.band
    level = band.target_s11_db
    found = look.line(
        "target",
        "target in the band",
        [[band.low_ghz, level], [band.high_ghz, level]],
        look.TARGET,
        width=2.5,
    )
    found["markArea"] = {
        "silent": True,
        "itemStyle": {"color": look.FAINT, "opacity": 0.15},
        "data": [[{"xAxis": band.low_ghz}, {"xAxis": band.high_ghz}]],
    }
    return found


def s11_summary(found: Prediction | None, band: ToolBand | None = None) -> str:
    """The chart in a sentence or two.

    Examples
    --------
    >>> s11_summary(None)
    'S11: not known yet.'
    """
    if found is None:
        return "S11: not known yet."
    figures = found.figures
    said = (
        f"S11, {look.how(found.exact)}: best match {look.number(figures.best_s11, 1, 'dB')} at "
        f"{look.number(figures.best_frequency / 1e9, 3, 'GHz')}; worst in the band "
        f"{look.number(figures.worst_s11, 1, 'dB')}."
    )
    if band is None:
        return said
    tools = _TOOLS_WORDS.get(band.tools, band.tools)
    return f"{said} Made with {tools}, {100 * band.share:.0f} of 100 antennas meet the target."


_TOOLS_WORDS = {"hand": "hand tools", "mill": "a milling machine"}
