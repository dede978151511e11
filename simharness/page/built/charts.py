"""S11 of a finished antenna as options of the chart element."""

from __future__ import annotations

from typing import Any

from simharness.page.built.answers import Curves
from simharness.page.charts import look
from simharness.page.charts.reflection import level_chart, shown_levels, span_series, target_series
from simharness.records import Record


def finished_options(record: Record, curves: Curves, before: str, after: str) -> dict[str, Any]:
    """|S11| before and after, with what 95 of 100 such antennas lie within.

    Parameters
    ----------
    record : Record
        Whose band and target are shown.
    curves : Curves
    before, after : str
        What the curves are.
    """
    frequency = curves.frequency / 1e9
    series = [
        *span_series("span", "95 of 100 such antennas", (curves.grid, curves.least, curves.most)),
        target_series(record),
        look.line(
            "before",
            before,
            look.points(frequency, shown_levels(curves.before)),
            look.SECOND,
            look.DASHED,
            1.5,
        ),
        look.line("after", after, look.points(frequency, shown_levels(curves.after))),
    ]
    if curves.measured is not None:
        levels = look.points(frequency, shown_levels(curves.measured))
        series.append(look.line("measured", "measured", levels, look.INK, look.DOTTED, 1.5))
    return level_chart(curves.frequency, series)
