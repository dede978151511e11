"""What the charts share: axes, lines, colours.

Colours are the variables of the page's style, so that they follow the system's choice of light or dark; the
element must draw with its SVG renderer.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

INK, FAINT, LINE, GROUND, RAISED = (
    "var(--ink)",
    "var(--faint)",
    "var(--line)",
    "var(--ground)",
    "var(--raised)",
)
CURVE, SECOND, TARGET = "var(--link)", "var(--bad)", "var(--good)"
FONT = "system-ui, 'DejaVu Sans', 'Liberation Sans', sans-serif"
"""That of the page by name: the place of a text is computed from it."""
DASHED, DOTTED = [8, 4], [2, 3]


def points(x: NDArray, y: NDArray, digits: tuple[int, int] = (5, 2)) -> list[list[float]]:
    """Pairs of a curve, rounded to what can be seen."""
    return np.column_stack([np.round(x, digits[0]), np.round(y, digits[1])]).tolist()


def line(
    key: str, name: str, data: list, colour: str = CURVE, dashes: Any = "solid", width: float = 2
) -> dict:
    """A curve without marks; `key` tells it apart when it is updated."""
    return {
        "id": key,
        "type": "line",
        "name": name,
        "data": data,
        "symbol": "none",
        "silent": True,
        "lineStyle": {"color": colour, "type": dashes, "width": width},
        "itemStyle": {"color": colour},
        "emphasis": {"disabled": True},
    }


def axis(name: str, low: float, high: float, upright: bool = False, **more: Any) -> dict[str, Any]:
    """A plain value axis; an upright one has its name on top."""
    return {
        "type": "value",
        "name": name,
        "nameLocation": "end" if upright else "middle",
        "nameGap": 10 if upright else 28,
        "min": low,
        "max": high,
        "nameTextStyle": {"color": INK, "align": "left" if upright else "center"},
        "axisLabel": {"color": FAINT, "hideOverlap": True, "fontFamily": FONT},
        "axisLine": {"show": True, "onZero": False, "lineStyle": {"color": FAINT}},
        "splitLine": {"lineStyle": {"color": LINE}},
        **more,
    }


def chart(x: dict[str, Any], y: Any, series: list[dict[str, Any]], legend: bool = True) -> dict[str, Any]:
    """Options of a chart."""
    found: dict[str, Any] = {
        "animation": False,
        "backgroundColor": "transparent",
        "textStyle": {"fontFamily": FONT, "color": INK},
        "grid": {"left": 8, "right": 16, "top": 56 if legend else 32, "bottom": 36, "containLabel": True},
        "xAxis": x,
        "yAxis": y,
        "series": series,
    }
    if legend:
        found["legend"] = {
            "top": 0,
            "left": 0,
            "textStyle": {"color": INK},
            "selectedMode": False,
            "itemHeight": 8,
            "itemGap": 16,
        }
    return found


def number(value: float, digits: int, unit: str) -> str:
    """A value with its unit; a hyphen where there is none.

    Examples
    --------
    >>> number(-24.04, 1, "dB"), number(float("nan"), 1, "dB"), number(-0.01, 1, "dB")
    ('-24.0 dB', '-', '0.0 dB')
    """
    return f"{round(value, digits) + 0.0:.{digits}f} {unit}" if np.isfinite(value) else "-"


def how(exact: bool) -> str:
    """Whether a curve is the estimate or what is predicted of it, in a word for the legend."""
    return "estimate" if exact else "predicted"
