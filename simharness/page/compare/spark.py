"""The small picture of a curve of |S11| in the list of runs."""

from __future__ import annotations

from nicegui import ui

from simharness.page.compare.shelf import LOWEST_DB, Spark


class SparkLine(ui.element, component="spark.js"):
    """|S11| from 0 dB down to `LOWEST_DB` over the span of a run, its band shaded.

    Parameters
    ----------
    spark : Spark
    """

    def __init__(self, spark: Spark):
        super().__init__()
        self.props["levels"] = list(spark.levels)
        self.props["band"] = list(spark.band or ())
        self.props["lowest"] = LOWEST_DB
        worst = "" if spark.worst_s11_db is None else f", at worst {spark.worst_s11_db:.1f} dB in the band"
        self.props["said"] = f"Curve of S11{worst}" if spark.levels else "No curve can be read"
