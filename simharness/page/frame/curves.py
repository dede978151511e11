"""The curves beside the drawing: match, Smith chart, both cuts, slot voltages."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from nicegui import ui

from simharness.page.bench import Bench
from simharness.page.widgets import Choice, text

if TYPE_CHECKING:
    from simharness.live.answers import Prediction
    from simharness.live.tool_band import ToolBand

Options = dict[str, Any]

TOOLS = {"hand": "hand tools: scriber, drill and file", "mill": "a milling machine"}


class Curves:
    """All charts of the bench, and by which tools' errors the band is made.

    While a dimension moves only what a prediction changes is sent: S11 first, then the others.

    Parameters
    ----------
    bench : Bench
    strip : ui.element
        Where the match is drawn; the others stand here.
    """

    def __init__(self, bench: Bench, strip: ui.element):
        self.bench = bench
        ui.run_javascript(_CHARTS)
        with strip:
            self._match = _Chart("Match", "chart")
        with ui.element("div").classes("curves"):
            self._smith = _Chart("Smith chart", "chart square")
            self._along = _Chart("Pattern along the guide", "chart")
            self._across = _Chart("Pattern across the guide", "chart")
            self._voltages = _Chart("Slot voltages", "chart")
        with ui.element("div").classes("controls"):
            Choice("The soft band is what the errors do of", TOOLS, bench.choose_tools, bench.tools)
        self._band_words = text("p", "").classes("note")
        bench.record_opened.connect(self._begin)
        bench.predicted.connect(self._follow)
        bench.followed.connect(self._follow_later)
        bench.record_changed.connect(lambda origin: self._mark_band())
        bench.banded.connect(self._show_band)
        bench.ghosted.connect(lambda run: self._draw())
        bench.interim.connect(self._show_interim)
        self._shown: tuple[Any, ...] = ()
        self._interim: tuple[Any, Any, str] | None = None
        self._draw()

    def _last_run(self) -> Any:
        """Frequency and S11 of the last run; None where there is none."""
        run = self.bench.ghost
        if run is None:
            return None
        return self.bench.attempt(lambda: (run.results["frequency"], run.results["s11"]))

    def _shown_run(self) -> tuple[Any, str]:
        """Curve of the run under way, else of the last one, and what it is."""
        from simharness.page.charts.reflection import LAST_RUN

        if self._interim is None:
            return self._last_run(), LAST_RUN
        frequency, s11, words = self._interim
        return (frequency, s11), words

    def _begin(self) -> None:
        """Another record: what was under way is not of it."""
        self._interim = None
        self._draw()

    def _draw(self) -> None:
        """Everything anew: another record, another run, other axes."""
        from simharness.page.charts import pattern, reflection, smith

        bench, record = self.bench, self.bench.record
        if record is None:
            return
        found = bench.prediction
        self._shown = self._frame()
        self._match.draw(reflection.s11_options(record, found, bench.band, *self._shown_run()))
        self._smith.draw(smith.smith_options(record, found, self._last_run()))
        self._along.draw(pattern.cut_options("along", found))
        self._across.draw(pattern.cut_options("across", found))
        self._voltages.draw(pattern.voltage_options(found))
        self._say(found)

    def _frame(self) -> tuple[Any, ...]:
        """What the axes depend on."""
        record, found = self.bench.record, self.bench.prediction
        if record is None:
            return ()
        ends = None if found is None else (float(found.frequency[0]), float(found.frequency[-1]))
        return record.band, record.feed.kind, len(record.slots), ends

    def _follow(self, found: Prediction | None) -> None:
        from simharness.page.charts import reflection

        record = self.bench.record
        if record is None or found is None:
            return
        if self._frame() != self._shown:
            self._draw()
            return
        self._match.update(reflection.s11_curve(found))

    def _follow_later(self, found: Prediction | None) -> None:
        """The other charts, once the match is on its way to the browser."""
        from simharness.page.charts import pattern, smith

        record = self.bench.record
        if record is None or found is None or self._frame() != self._shown:
            return
        self._smith.update(smith.smith_curve(record, found))
        self._along.update(pattern.cut_update("along", found))
        self._across.update(pattern.cut_update("across", found))
        self._voltages.update(pattern.voltage_update(found))
        if found.exact:
            self._say(found)

    def _say(self, found: Prediction | None) -> None:
        from simharness.page.charts import pattern, reflection, smith

        record = self.bench.record
        if record is None:
            return
        self._match.say(reflection.s11_summary(found, self.bench.band))
        self._smith.say(smith.smith_summary(record, found))
        self._along.say(pattern.cut_summary("along", found))
        self._across.say(pattern.cut_summary("across", found))
        self._voltages.say(pattern.voltage_summary(found))

    def _show_band(self, band: ToolBand | None) -> None:
        from simharness.page.charts import reflection

        self._match.update({"series": reflection.tools_series(band)})
        self._band_words.set_text(
            ""
            if band is None
            else f"Of 200 such antennas {100 * band.share:.0f} % meet the target; nine of ten curves lie in "
            "the soft band. By a quadratic model: 'simharness tolerance' says which cuts must be exact."
        )

    def _mark_band(self) -> None:
        if self.bench.band is not None:
            self._band_words.set_text("The soft band is that of the antenna before the last change.")

    def _show_interim(self, frequency: Any, s11: Any, words: str) -> None:
        """S11 of a run under way, settling, where the last run is shown; that one again when it is over."""
        from simharness.page.charts import reflection

        self._interim = None if frequency is None else (frequency, s11, words)
        self._match.update({"series": [reflection.run_series(*self._shown_run())]})


class _Chart:
    """A chart with its heading and its text alternative."""

    def __init__(self, title: str, classes: str):
        with ui.element("figure"):
            text("figcaption", title)
            self._element = ui.echart({"animation": False}, renderer="svg").classes(classes)
            self._element.props('role="img"')
        self._element.props["aria-label"] = f"{title}: not known yet."
        self._element.props["data-chart"] = title
        self._words = ""

    def draw(self, options: Options) -> None:
        """Draw it anew."""
        self._send(options, True)

    def update(self, changed: Options) -> None:
        """Change some series; the others stay."""
        self._send(changed, False)

    def _send(self, options: Options, whole: bool) -> None:
        # Not by the element's own options: they are watched for changes entry by entry, which takes long.
        words = json.dumps(options), json.dumps(whole)
        self._run(f"simharnessCharts.take({self._element.id}, {words[0]}, {words[1]});")

    def say(self, words: str) -> None:
        """What it shows, in a sentence."""
        if words == self._words:
            return
        self._words = words
        with self._element.props.suspend_updates():
            self._element.props["aria-label"] = words
        self._run(f"getElement({self._element.id})?.$el.setAttribute('aria-label', {json.dumps(words)});")

    def _run(self, program: str) -> None:
        self._element.client.run_javascript(program)


_CHARTS = """
window.simharnessCharts ??= {
  waiting: {}, seen: {},
  watch: new IntersectionObserver((entries) => {
    for (const { target, isIntersecting } of entries) {
      const id = Number(target.id.slice(1));
      simharnessCharts.seen[id] = isIntersecting;
      if (isIntersecting) simharnessCharts.draw(id, 0);
    }
  }),
  take(id, options, whole) {
    const line = (this.waiting[id] ??= []), last = line.at(-1);
    const ids = (one) => one.series.map((series) => series.id).join();
    if (last && !whole && !last[1] && ids(last[0]) === ids(options)) line.pop();
    line.push([options, whole]);
    this.draw(id, 500);
  },
  draw(id, looks) {
    const element = getElement(id), chart = element?.chart;
    if (!chart) {
      if (looks) setTimeout(() => this.draw(id, looks - 1), 20);
    } else if (!(id in this.seen)) {
      this.seen[id] = false;
      this.watch.observe(element.$el);
    } else if (this.seen[id]) {
      for (const [options, notMerge] of this.waiting[id].splice(0)) chart.setOption(options, { notMerge });
    }
  },
};
"""
"""A chart exists a moment after its element, and takes time to draw: what comes before it is there, or while
it is out of sight, waits in its order; of the same series only the newest."""
