"""The view of the antenna: its drawing and its numbers on one side, what they do on the other."""

from __future__ import annotations

from nicegui import ui

from simharness.page.bench import Bench
from simharness.page.drawing.drawing import Change, Drawing
from simharness.page.form import form
from simharness.page.frame.curves import Curves
from simharness.page.frame.figures import FiguresTable, GhostWords, Headline, Remarks
from simharness.page.widgets import text

ORIGIN = "drawing"


def build(bench: Bench) -> None:
    """Make the view."""
    with ui.element("div").classes("antenna"):
        with ui.element("div").classes("making"):
            text("h2", "Drawing")
            _Drawn(bench)
            text("h2", "Numbers")
            form.build(bench)
        with ui.element("div").classes("results"):
            text("h2", "What it does")
            with ui.element("div").classes("strip") as strip:  # stays in sight on a narrow screen
                Headline(bench)
            Curves(bench, strip)
            GhostWords(bench)
            text("h2", "Figures")
            FiguresTable(bench)
            Remarks(bench)


class _Drawn:
    """The drawing of what lies on the bench."""

    def __init__(self, bench: Bench):
        self.bench = bench
        self._place = ui.element("div")
        self._drawing: Drawing | None = None
        bench.record_changed.connect(lambda origin: self._show())
        self._show()

    def _show(self) -> None:
        desk = self.bench.desk
        if desk is None:
            return
        if self._drawing is not None:
            self._drawing.show(desk.record, desk.problems)
            return
        with self._place:
            self._drawing = Drawing(desk.record, desk.problems)
        self._drawing.on_change(self._changed).on_focus(self.bench.focus)

    def _changed(self, change: Change) -> None:
        self.bench.change(change.fields, ORIGIN, change.gesture, change.final)
