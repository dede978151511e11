"""The view to begin with: a record of the folder, a shipped one, a design, an empty box."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from pathlib import Path

from nicegui import background_tasks, ui

from simharness.errors import CancelledError, HarnessError
from simharness.files import input_text
from simharness.page.bench import Bench
from simharness.page.desk import Desk
from simharness.page.form.designer import Designer
from simharness.page.form.doubt import Doubt
from simharness.page.form.questions_form import QuestionsForm
from simharness.page.form.shipped import Listed, listed, shipped_records
from simharness.page.widgets import plain_button, set_enabled, text
from simharness.printable import printable
from simharness.records.reading import MAX_BYTES


def build(bench: Bench) -> None:
    """Make the view."""
    ui.add_css(Path(__file__).with_name("form.css"))
    Start(bench).build()


class Start:
    """The view: three lists and a form, and the question whether unsaved work may go."""

    def __init__(self, bench: Bench):
        self.bench = bench
        self._designer: Designer | None = None

    def build(self) -> None:
        """Make the elements."""
        bench = self.bench
        self._doubt = Doubt(bench)
        text("h2", f"Records in {printable(bench.place.records.name, keep='')}")
        self._own = ui.element("div")
        text("h2", "Have one designed")
        self._asking = ui.element("div")
        with self._asking:
            ui.label("Band, metal, number of slots, feed and tools; what is left open takes what is usual.")
            with ui.element("div").classes("controls"):
                plain_button("Show the questions", self._ask)
        text("h2", "Begin with an empty box")
        ui.label("One slot and a probe in a folded box, for 5.8 GHz.")
        with ui.element("div").classes("controls"):
            plain_button("Empty box", partial(self._open, lambda: Desk.empty(bench.place.records)))
        text("h2", "Begin with a shipped record")
        with ui.element("div"):
            self._list(shipped_records(), self._copy, "none came with this installation")
        bench.record_changed.connect(self._changed)
        bench.view_wanted.connect(self._wanted)
        self._list_own()

    def _ask(self) -> None:
        """Make the form of the questions, now that it is wanted: what judges them loads for a second."""
        self._asking.clear()
        with self._asking:
            self._questions = QuestionsForm()
            with ui.element("div").classes("controls"):
                self._design = plain_button("Design it", self._begin)
                self._cancel = plain_button("Give it up", self._give_up)
            self._told = ui.label("").props('role="status"')
        set_enabled(self._cancel, False)
        self._questions.changed = lambda fine: set_enabled(self._design, fine and self._designer is None)

    def _changed(self, origin: str) -> None:
        if origin == "save":
            self._list_own()

    def _wanted(self, key: str) -> None:
        if key == "start":
            self._list_own()

    def _list_own(self) -> None:
        self._own.clear()
        with self._own:
            self._list(listed(self.bench.place.record_files()), Desk.opened, "none yet")

    def _list(self, records: list[Listed], make: Callable[[Path], Desk], nothing: str) -> None:
        """A list of buttons; names and titles are shown as text, whatever they hold."""
        if not records:
            ui.label(nothing).classes("note")
            return
        with ui.element("ul").classes("records"):
            for record in records:
                with ui.element("li"):
                    name = printable(record.path.name, keep="")
                    plain_button(name, partial(self._open, partial(make, record.path)))
                    ui.label(record.title).classes("note")

    def _copy(self, path: Path) -> Desk:
        return Desk.from_text(input_text("record", path, MAX_BYTES), self.bench.place.records)

    def _open(self, make: Callable[[], Desk]) -> None:
        """Put a record on the desk, once it is clear that nothing is lost."""
        desk = self.bench.attempt(make)
        if desk is not None:
            self._doubt.put(desk)

    def _begin(self) -> None:
        """Start the design that was asked for."""
        options = self._questions.options
        if options is None or self._designer is not None:
            return
        self._designer = Designer(options)
        set_enabled(self._design, False)
        set_enabled(self._cancel, True)
        background_tasks.create(self._finish(self._designer), name="design")

    async def _finish(self, designer: Designer) -> None:
        try:
            made, sentences = await designer.result(self._waiting)
        except CancelledError as error:
            self._ended(str(error))
        except HarnessError as error:
            self._ended("")
            self.bench.say(str(error), refused=True)
        except asyncio.CancelledError:
            designer.close()
            raise
        else:
            self._ended("Designed: " + "; ".join(sentences))
            self._open(lambda: Desk.from_text(made, self.bench.place.records, saved=False))

    def _waiting(self, seconds: float) -> None:
        self._told.set_text(f"Designing for {seconds:.0f} s; some take a minute.")

    def _ended(self, told: str) -> None:
        self._designer = None
        set_enabled(self._design, self._questions.options is not None)
        set_enabled(self._cancel, False)
        self._told.set_text(told)

    def _give_up(self) -> None:
        if self._designer is not None:
            self._designer.cancel()
