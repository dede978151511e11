"""The numbers of a record as a form in the browser, which stays quick while one types."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from nicegui import ui

from simharness.page.bench import Bench
from simharness.page.desk import Desk
from simharness.page.form.fields import Section, form_sections, values
from simharness.page.form.sketches import sketch

ORIGIN = "form"

Changed = Callable[[Mapping[str, Any], str, bool], None]
Focused = Callable[[str], None]
Commanded = Callable[[str, str, int], None]


class RecordForm(ui.element, component="form.js"):
    """A form with a field for every value of a record.

    Parameters
    ----------
    changed : callable
        Called with fields and their values, the name of the gesture, and whether it ends.
    focused : callable
        Called with the field that is about to be changed.
    commanded : callable
        Called with "add", "remove" or "single", the table that it is about, and the number of the one in its
        row, or 0.
    """

    def __init__(self, changed: Changed, focused: Focused, commanded: Commanded):
        super().__init__()
        self._changed, self._focused, self._commanded = changed, focused, commanded
        self._sections: tuple[Section, ...] = ()
        self._values: dict[str, Any] = {}
        self._problems: dict[str, str] = {}
        self._drawn = _drawn(())
        self._answer = 0
        self._held = False
        self._pending: dict[str, Any] = {}
        self._mounted = False
        self._put_props()
        self.on("change", self._take_change)
        self.on("focusfield", lambda event: self._focused(str(event.args.get("field", ""))))
        self.on("command", self._take_command)
        self.on("ready", self._take_ready)

    def show(self, desk: Desk) -> None:
        """Show a record with what is refused of it; only what differs from what is shown is sent."""
        sections = form_sections(desk.data)
        shown = values(desk.data, sections)
        if sections != self._sections or not self._mounted:
            self._sections, self._values, self._problems = sections, shown, dict(desk.problems)
            self._drawn = _drawn(sections)
            self._put_props()
            self._send("show", self._whole())
            return
        other = {name: value for name, value in shown.items() if not _same(value, self._values.get(name))}
        self._values, self._problems = shown, dict(desk.problems)
        self._put_props()
        if not self._held:
            self.update_values(other, self._problems)
        else:
            self._pending = other

    def update_values(self, other: Mapping[str, Any], problems: Mapping[str, str]) -> None:
        """Show other values of some fields, and what is refused now."""
        self._send("update_values", dict(other), dict(problems), self._answer)

    def _whole(self) -> dict[str, Any]:
        """All that the browser needs to draw the form."""
        return self._drawn | {
            "values": self._values,
            "problems": self._problems,
            "answer": self._answer,
        }

    def _put_props(self) -> None:
        """What a browser begins with, should it draw the form anew; nothing is sent."""
        with self._props.suspend_updates():
            self._props["state"] = self._whole()

    def _send(self, method: str, *told: Any) -> None:
        if self._mounted:
            self.run_method(method, *told)

    def _take_ready(self, event: Any) -> None:
        """The form is in the browser: what changed on the way there is sent now."""
        self._mounted = True
        self._send("show", self._whole())

    def _take_change(self, event: Any) -> None:
        told = event.args
        fields, gesture = told.get("fields"), told.get("gesture")
        self._answer = int(told.get("serial", 0))
        self._held, self._pending = True, {}
        try:
            if isinstance(fields, dict):
                self._changed(fields, str(gesture), bool(told.get("final")))
        finally:
            self._held = False
            self.update_values(self._pending, self._problems)

    def _take_command(self, event: Any) -> None:
        number = event.args.get("number", 0)
        name, table = (str(event.args.get(key, "")) for key in ("name", "table"))
        self._commanded(name, table, number if isinstance(number, int) else 0)


def _drawn(sections: tuple[Section, ...]) -> dict[str, Any]:
    """What the browser draws whatever the values are: sections with their fields, and their sketches."""
    ids = {field.sketch for section in sections for field in section.fields if field.sketch}
    return {
        "sections": [asdict(section) for section in sections],
        "sketches": {key: sketch(key) for key in sorted(ids)},
    }


def _same(one: Any, other: Any) -> bool:
    """Whether two values are the same, also in kind: True is not 1."""
    return bool(one == other) and isinstance(one, bool) == isinstance(other, bool)


def build(bench: Bench) -> None:
    """Make the form of the record on the bench, and keep it in step with it."""
    ui.add_css(Path(__file__).with_name("form.css"))

    def changed(fields: Mapping[str, Any], gesture: str, final: bool) -> None:
        bench.attempt(lambda: bench.change(fields, ORIGIN, gesture, final))

    def commanded(name: str, table: str, number: int) -> None:
        work = {
            "add": lambda desk: desk.add_row(table),
            "remove": lambda desk: desk.remove_row(table, number),
            "single": lambda desk: desk.rule_to_slots(),
        }.get(name)
        if work is not None:
            bench.edit(work, ORIGIN)

    form = RecordForm(changed, bench.focus, commanded)

    def show(origin: str = "") -> None:
        if bench.desk is not None:
            form.show(bench.desk)

    bench.record_changed.connect(show)
    show()
