"""The view of the finished antenna: what was read on it, what it does, what can still be done."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nicegui import ui

from simharness.errors import HarnessError
from simharness.page import compare
from simharness.page.aside import Aside
from simharness.page.built.readings_form import ReadingsForm
from simharness.page.built.results import draw_built, draw_mend
from simharness.page.built.sheet import Sheet, sheet_of
from simharness.page.built.work import work
from simharness.page.compare.drop import DropZone
from simharness.page.compare.dropped import ONE_PORT, dropped
from simharness.page.compare.under_way import UnderWay
from simharness.page.desk import Desk
from simharness.page.form.doubt import Doubt
from simharness.page.widgets import Choice, NumberField, plain_button, set_enabled, text

if TYPE_CHECKING:
    from simharness.page.bench import Bench
    from simharness.records import Record

KEY = "built"
_TOOLS = {"hand": "hand tools", "mill": "a milling machine"}
_HOW = (
    "Type what caliper and rule read on the finished metal. What stays blank counts as drawn, within the "
    "usual error of the tools. Right within: in 95 of 100 cases; left blank, that of the instrument. Places "
    "count along the wall from the inner face of the near end, offsets from the centre line. Cut sheet has "
    "edges like blades: take the burrs off first, and wear gloves."
)
_WHAT = (
    "What the antenna does now, calibrated by the finest stored run of the record as drawn, and what can "
    "still be done where it misses its target. Half a minute or more; the page goes on meanwhile."
)
_ENDED = "the work ended before it had an answer; begin it again"
_OLD = "Something has changed since: what stands below is of before. Work it out again."


def build(bench: Bench) -> None:
    """Make the view."""
    ui.add_css(Path(compare.__file__).parent / "look.css")
    ui.add_css(Path(__file__).parent / "look.css")
    FinishedView(bench)


class FinishedView:
    """Readings on one side, what comes of them on the other."""

    def __init__(self, bench: Bench):
        self.bench = bench
        self._seen = True
        self._shown: tuple[Any, ...] = ()
        self._drawn: tuple[Any, ...] = ()
        with ui.element("div").classes("finished"):
            with ui.element("div"):
                text("h2", "What was read")
                self._readings = ui.element("div")
                self._drop()
                self._form = ui.element("div")
            with ui.element("div"):
                text("h2", "What the finished antenna does")
                self._options = ui.element("div")
                self._under_way = UnderWay("Share of the work that is done")
                self._doubt = Doubt(bench)
                self._old = text("p", "").classes("note").props('role="status"')
                self._results = ui.element("div").props('aria-live="polite"')
        bench.view_wanted.connect(self._wanted)
        bench.record_opened.connect(partial(self._wanted, "antenna"))
        bench.record_changed.connect(lambda origin: self._follow_record())
        self._follow_record()
        ui.timer(0.3, self._follow)

    def _drop(self) -> None:
        DropZone(
            "Table of readings (.csv), or S11 of the finished antenna (.s1p), which is weighed together with "
            "them: drop it here or choose it",
            self._take,
            self._refuse,
            own=True,
        )
        self._refused = text("p", "").classes("refused").props('role="alert"')
        self._file = ui.element("div")

    def _wanted(self, key: str) -> None:
        self._seen = key == KEY
        self._follow_record()

    def _sheet(self) -> tuple[Sheet, Record] | None:
        """Readings and record; None where there is no record."""
        sheet, record = sheet_of(self.bench), self.bench.record
        return None if sheet is None or record is None else (sheet, record)

    def _follow_record(self) -> None:
        """Draw the form of the record, where it is seen and is another than before."""
        found = self._sheet()
        if not self._seen or found is None:
            if self._seen:
                self._draw_none()
            return
        sheet, record = found
        if (sheet, record) != self._shown:
            self._shown = sheet, record
            self._draw(sheet, record)

    def _draw_none(self) -> None:
        for place in (self._form, self._options):
            place.clear()
        with self._form:
            text("p", "There is no record yet: begin with one.").classes("note")

    def _draw(self, sheet: Sheet, record: Record) -> None:
        """All of it anew; what is typed comes from the sheet."""
        self._draw_form(sheet, record)
        self._draw_file(sheet)
        self._options.clear()
        with self._options:
            text("p", _WHAT).classes("note")
            options = sheet.options
            with ui.element("div").classes("controls"):
                self._tools = Choice("What was not read was made with", _TOOLS, chosen=options["tools"])
                self._caliper = NumberField("Caliper right within, mm", options["caliper_mm"], 0.001, 5, 0.01)
                self._rule = NumberField("Rule right within, mm", options["rule_mm"], 0.001, 5, 0.01)
                self._step = NumberField("What you can mark, mm", sheet.step_mm, 0.01, 5, 0.01)
                self._delay = NumberField(
                    "Delay of the connector, ps (fitted if left empty)", options["delay_ps"], -1000, 5000, 1
                )
            with ui.element("div").classes("controls"):
                self._begin = plain_button("Work it out", self._work)
        self._under_way.clear()
        self._results.clear()
        self._follow(anew=True)

    def _draw_form(self, sheet: Sheet, record: Record) -> None:
        self._refused.set_text("")
        self._form.clear()
        with self._form:
            text("p", _HOW).classes("note")
            with ui.element("div").classes("controls"):
                plain_button("Download the table", self._download)
                plain_button("Empty the table", self._empty)
                if sheet.before is not None:
                    plain_button("Take back what stood there before", self._take_back)
            ReadingsForm(sheet, record, self._mark_old)

    def _draw_file(self, sheet: Sheet) -> None:
        self._file.clear()
        if sheet.file is None:
            return
        with self._file, ui.element("div").classes("controls"):
            text("p", f"S11 of the finished antenna: {sheet.file.name}")
            plain_button("Forget this file", self._forget)

    def _take(self, name: str, data: bytes) -> None:
        """A table is filled in at once, a curve is kept for the work."""
        found = self._sheet()
        if found is None:
            self._refuse("There is no record yet: begin with one.")
            return
        sheet, record = found
        try:
            file = dropped(name, data, "a table of readings")
            if file.kind == ONE_PORT:
                sheet.file = file
                self.bench.say(f"Taken: {file.name}, {len(data)} bytes, in memory only.")
                self._draw_file(sheet)
            else:
                count = sheet.fill(record, file.name, data)
                counted = "1 reading" if count == 1 else f"{count} readings"
                self.bench.say(f"Filled in from {file.name}: {counted}.")
                self._draw_form(sheet, record)
        except HarnessError as error:
            self._refuse(str(error))
            return
        self._refused.set_text("")
        self._mark_old()

    def _refuse(self, sentence: str) -> None:
        self._refused.set_text(sentence)

    def _forget(self) -> None:
        if (found := self._sheet()) is not None:
            found[0].file = None
            self._draw_file(found[0])
            self._mark_old()

    def _download(self) -> None:
        from simharness.workshop.form import form_text

        if (found := self._sheet()) is None:
            return
        sheet, record = found
        with self.bench.refusals():
            table = sheet.table(record) or form_text(record)
            ui.download.content(table.encode("utf-8"), f"readings-{record.name}.csv", "text/csv")

    def _empty(self) -> None:
        if (found := self._sheet()) is not None:
            found[0].replace({})
            self._draw_form(*found)
            self._mark_old()

    def _take_back(self) -> None:
        if (found := self._sheet()) is not None:
            found[0].take_back()
            self._draw_form(*found)
            self._mark_old()

    def _work(self) -> None:
        """Begin, with what stands in the fields."""
        found, desk = self._sheet(), self.bench.desk
        if found is None or desk is None:
            return
        if desk.problems:
            self.bench.say("The record is refused as it stands: see its fields.", refused=True)
            return
        sheet, record = found
        if sheet.aside is not None and not sheet.aside.ended:
            self.bench.say("It is being worked out: wait for it, or cancel it.", refused=True)
            return
        with self.bench.refusals():
            before, sheet.options = (
                sheet.options,
                {
                    "tools": self._tools.value,
                    "caliper_mm": self._caliper.number(),
                    "rule_mm": self._rule.number(),
                    "delay_ps": self._delay.optional(),
                },
            )
            sheet.step_mm = self._step.number()
            if sheet.options != before:
                self._draw_form(sheet, record)  # with what the instruments are right within
            sheet.asked = sheet.ask(record, self.bench.place.runs)
            sheet.aside = Aside(work, sheet.asked, _ENDED)
            self._follow()

    def _follow(self, anew: bool = False) -> None:
        """Draw how far the work is and what is there of it, where that has changed."""
        found = self._sheet()
        if found is None or found != self._shown:
            return
        sheet, record = found
        aside = sheet.aside
        if aside is None or not self._under_way.follow(aside, record.name):
            if anew:
                self._mark_old()
            return
        set_enabled(self._begin, aside.ended)
        state = (aside, aside.part is None, aside.answer is None)
        if anew or state != self._drawn:
            self._drawn = state
            self._results.clear()
            with self._results:
                if aside.part is not None:
                    draw_built(aside.part, record, self._put)
                if aside.answer is not None:
                    draw_mend(aside.answer, record, self._put)
        self._mark_old()

    def _mark_old(self) -> None:
        """Say where what is shown is not of what stands in the table."""
        found = self._sheet()
        if found is None:
            return
        sheet, record = found
        shown = sheet.aside is not None and sheet.aside.part is not None
        self._old.set_text(_OLD if shown and sheet.is_old(record, self.bench.place.runs) else "")

    def _put(self, made: str) -> None:
        """Put a record on the desk under a name that no file of the folder has."""
        folder = self.bench.place.records
        desk = self.bench.attempt(lambda: Desk.from_text(made, folder, saved=False))
        if desk is None:
            return
        taken = {path.stem for path in self.bench.place.record_files()}
        if (name := free_name(desk.record.name, taken)) != desk.record.name:
            desk.set("name", name)
        self._doubt.put(desk)


def free_name(wanted: str, taken: set[str]) -> str:
    """A name, with a number behind it where it is taken.

    Examples
    --------
    >>> free_name("box-mended", {"box", "box-mended", "box-mended-2"})
    'box-mended-3'
    """
    found, number = wanted, 1
    while found in taken:
        number += 1
        found = f"{wanted}-{number}"
    return found
