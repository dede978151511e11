"""The table into which readings are typed: a row for each dimension."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from nicegui import ui

from simharness.page.built.sheet import LONGEST, READ, WITHIN, Sheet
from simharness.page.widgets import Text, text
from simharness.records import Record
from simharness.workshop.dimensions import Dimension, dimensions
from simharness.workshop.readings import usual_within

_CELLS = {READ: "read", WITHIN: "right within"}


class ReadingsForm:
    """The table; what cannot be is told in a row of its own below.

    Parameters
    ----------
    sheet : Sheet
    record : Record
    changed : callable
        Called when a cell is left that was changed.
    """

    def __init__(self, sheet: Sheet, record: Record, changed: Callable[[], Any]):
        self._sheet, self._record, self._changed = sheet, record, changed
        self._boxes: dict[str, list[ui.element]] = {}
        self._said: dict[str, Text] = {}
        with ui.element("div").classes("wide"), ui.element("table").classes("readings") as table:
            table.props["aria-label"] = "Readings"
            with ui.element("thead"), ui.element("tr"):
                for words in ("dimension", "drawn, mm", "read, mm", "right within, mm"):
                    text("th", words).props('scope="col"')
            with ui.element("tbody"):
                for dimension in dimensions(record):
                    self._row(dimension)
        for dimension in dimensions(record):
            if sheet.typed.get(dimension.name):
                self._judge(dimension)

    def _row(self, dimension: Dimension) -> None:
        name = dimension.name
        with ui.element("tr"):
            with ui.element("th").props('scope="row"'):
                text("span", name)
                text("span", dimension.what).classes("note")
            text("td", f"{round(dimension.drawn, 4):g}")
            usual = f"{usual_within(dimension, *self._instruments()):g}"
            typed = self._sheet.cells(name)
            self._boxes[name] = [
                self._box(dimension, column, words, hint)
                for column, words, hint in zip((READ, WITHIN), typed, ("", usual))
            ]
        with ui.element("tr").classes("told"), ui.element("td").props("colspan=4"):
            self._said[name] = text("p", "").classes("refused").props('role="alert"')

    def _instruments(self) -> tuple[float, float]:
        options = self._sheet.options
        return options["caliper_mm"], options["rule_mm"]

    def _box(self, dimension: Dimension, column: str, words: str, hint: str) -> ui.element:
        with ui.element("td"):
            box = ui.element("input").props(
                f"type=text inputmode=decimal autocomplete=off maxlength={LONGEST}"
            )
        box.props["aria-label"] = f"{dimension.name}, {_CELLS[column]}, mm"
        box.props["placeholder"] = hint
        # What is typed later stays where the element is drawn anew.
        box.props[".defaultValue"] = words
        box.on("input", partial(self._type, dimension.name, column), js_handler=_VALUE)
        box.on("change", partial(self._leave, dimension))
        return box

    def _type(self, name: str, column: str, event: Any) -> None:
        self._sheet.type(name, column, str(event.args))

    def _leave(self, dimension: Dimension) -> None:
        self._judge(dimension)
        self._changed()

    def _judge(self, dimension: Dimension) -> None:
        said = self._sheet.refused(self._record, dimension)
        told = self._said[dimension.name]
        if told.text != said:
            told.set_text(said)
            for box in self._boxes[dimension.name]:
                if said:
                    box.props("aria-invalid=true")
                else:
                    box.props(remove="aria-invalid")


_VALUE = "(event) => emit(event.target.value)"
