"""The page itself: a head with the record, a list of views, one view at a time, a line for what is said."""

from __future__ import annotations

import asyncio
import importlib
import threading
import time
from functools import partial
from importlib import resources
from typing import TYPE_CHECKING, Any

from nicegui import app as page_app
from nicegui import ui

from simharness.errors import HarnessError
from simharness.page.bench import Bench
from simharness.page.drawing import drawing  # noqa: F401  (its modules are declared in the page's head)
from simharness.page.frame.drafts import Drafts
from simharness.page.place import Place
from simharness.page.widgets import plain_button, set_enabled, text, text_field
from simharness.printable import printable

if TYPE_CHECKING:
    from fastapi import FastAPI

VIEWS = (
    ("start", "Begin", "simharness.page.form.start"),
    ("antenna", "Antenna", "simharness.page.frame.antenna"),
    ("queue", "Full wave", "simharness.page.queue.view"),
    ("beside", "Side by side", "simharness.page.compare.view"),
    ("paper", "Sheets and report", "simharness.page.frame.paper"),
    ("built", "As built", "simharness.page.built.view"),
)
"""Key, words, and the module whose `build(bench)` makes the view, when it is first asked for."""

_FILES_OVER = """
const files = (event) => event.dataTransfer?.types.includes("Files");
addEventListener("dragenter", (event) => { if (files(event)) emitEvent("files_over"); }, { once: true });
for (const kind of ["dragover", "drop"])
  addEventListener(kind, (event) => { if (files(event)) event.preventDefault(); });
"""
"""A file dragged over the page finds the view that takes it; the browser never leaves the page for it."""

_KEYS = """
addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const key = event.key.toLowerCase();
  // Fields of the record are undone with it; what else is typed in is the browser's.
  const elsewhere = event.target.matches("input:not([data-field]), textarea:not([data-field])");
  const back = elsewhere ? null : { z: event.shiftKey ? "redo" : "undo", y: "redo" }[key];
  const meant = key === "s" ? "save" : back;
  if (!meant) return;
  event.preventDefault();
  emitEvent("keys", meant);
});
"""
"""Ctrl (or Command) with Z, Shift and Z, Y and S."""

_NEEDED = (
    "simharness.page.form.form",
    "simharness.page.form.start",
    "simharness.page.frame.antenna",
    "simharness.page.drawing.views",
    "simharness.live.front",
    "simharness.page.charts.pattern",
    "simharness.page.charts.reflection",
    "simharness.page.charts.smith",
    "simharness.beside.side",
)
_LOADED = threading.Event()

READ_SECONDS = 5.0
"""A sentence goes with the first change that comes later than this."""

_BENCHES: dict[str, Bench] = {}
"""By the tab's own name, which outlives a reload."""


def declare(place: Place, app: FastAPI) -> None:
    """Declare the page at '/'.

    Parameters
    ----------
    place : Place
    app : FastAPI
        Behind the guard; takes the routes of the views.
    """
    from simharness.page.frame.previews import declare_previews

    declare_previews(app)

    @ui.page("/")
    async def page() -> None:
        style = (resources.files("simharness.page.frame") / "page.css").read_text(encoding="utf-8")
        ui.add_css(style)
        _shell(place)
        await ui.context.client.connected()
        # Not by this thread: the socket must go on meanwhile.
        await asyncio.to_thread(_LOADED.wait)
        ui.context.client.content.clear()
        bench = _bench_of(place, ui.context.client.tab_id or "")
        # The record stays for a tab that comes back; the models of one that does not would take memory.
        ui.context.client.on_delete(partial(_leave, bench, bench.visits))
        drafts = Frame(bench).build()
        if bench.desk is None:
            if place.first is not None:
                bench.open(place.first)
            await drafts.offer()

    page_app.on_startup(lambda: threading.Thread(target=_load, daemon=True).start())
    page_app.on_shutdown(_close_all)


def _shell(place: Place) -> None:
    """What is seen until the browser and the server know each other."""
    text("h1", "simharness" if place.first is None else printable(place.first.stem))
    text("p", "One moment ...").classes("note")
    with ui.element("div").style("display: none"):
        ui.echart({})  # its program is large: the browser fetches it meanwhile


def _load() -> None:
    """Load what the first view needs, while the browser fetches the page."""
    try:
        for name in _NEEDED:
            importlib.import_module(name)
    finally:
        _LOADED.set()


def _bench_of(place: Place, tab: str) -> Bench:
    """The bench of a tab, as it was left before a reload."""
    if tab not in _BENCHES:
        _BENCHES[tab] = Bench(place)
    bench = _BENCHES[tab]
    bench.forget_listeners()
    bench.wake()
    return bench


def _leave(bench: Bench, visits: int) -> None:
    """A tab was closed or drawn anew: end its models, unless it is here again."""
    if bench.visits == visits:
        bench.rest()


def _close_all() -> None:
    for bench in _BENCHES.values():
        bench.rest()


class Frame:
    """Head, list of views, and the view that is shown."""

    def __init__(self, bench: Bench):
        self.bench = bench
        self._panels: dict[str, Any] = {}
        self._buttons: dict[str, Any] = {}
        self._built: set[str] = set()
        self._said_at, self._shown = 0.0, ""
        self._client = ui.context.client

    def build(self) -> Drafts:
        """Make the elements; views are made when first shown."""
        bench = self.bench
        with ui.element("header").classes("head"):
            self._head()
        with ui.element("nav").props('aria-label="Views"').classes("views"):
            for key, words, _ in VIEWS:
                button = plain_button(words, partial(bench.view_wanted.tell, key))
                self._buttons[key] = button
        self._said = text("p", "").props('role="status" aria-live="polite"').classes("said")
        drafts = Drafts(bench)
        with ui.element("div").classes("panels"):
            for key, words, _ in VIEWS:
                self._panels[key] = ui.element("section").props(f'aria-label="{words}"')
        bench.said.connect(self._say)
        bench.view_wanted.connect(self.show)
        bench.record_opened.connect(partial(self.show, "antenna"))
        bench.record_changed.connect(lambda origin: self._changed())
        self._tell_state()
        self.show("start" if bench.desk is None and bench.place.first is None else "antenna")
        if self._at_work():
            # Made before it is shown: it tells the other views how a run under way settles, and how it ends.
            self._make("queue")
        ui.on("files_over", lambda: self._make("beside"))
        ui.on("keys", self._keys)
        ui.run_javascript(_FILES_OVER + _KEYS)
        return drafts

    def _at_work(self) -> bool:
        """Whether works are waiting or under way."""
        from simharness.jobs.queue import Queue

        try:
            return not all(job.over for job in Queue(self.bench.place.runs).jobs())
        except HarnessError:
            return False  # said where the works are shown

    def show(self, key: str) -> None:
        """Show one view from its top, made if it was not."""
        if self._shown not in ("", key):
            self._forget_said()
            self._client.run_javascript("window.scrollTo(0, 0)")
        self._shown = key
        for name, panel in self._panels.items():
            panel.set_visibility(name == key)
            self._buttons[name].props(f'aria-pressed="{str(name == key).lower()}"')
        self._make(key)

    def _make(self, key: str) -> None:
        """Make a view if it was not."""
        if key not in self._built:
            self._built.add(key)
            module = next(path for name, _, path in VIEWS if name == key)
            with self._panels[key]:
                importlib.import_module(module).build(self.bench)

    def _head(self) -> None:
        bench = self.bench
        self._name = text("h1", "")
        self._state = text("p", "").classes("note")
        with ui.element("div").props('role="group" aria-label="Record"').classes("controls"):
            self._undo = plain_button("Undo", self._step_back).props('aria-keyshortcuts="Control+Z"')
            self._redo = plain_button("Redo", self._step_on).props('aria-keyshortcuts="Control+Y"')
            self._save = plain_button("Save", bench.save).props('aria-keyshortcuts="Control+S"')
            self._other = text_field("Save under another name", "my-antenna.toml")
            plain_button("Save as", self._save_as)

    def _step_back(self) -> None:
        self.bench.edit(lambda desk: desk.undo())

    def _step_on(self) -> None:
        self.bench.edit(lambda desk: desk.redo())

    def _keys(self, event: Any) -> None:
        if event.args == "undo":
            self._step_back()
        elif event.args == "redo":
            self._step_on()
        elif event.args == "save":
            self.bench.save()

    def _save_as(self) -> None:
        self.bench.save(self._other.value or "")

    def _changed(self) -> None:
        self._forget_said()
        self._tell_state()

    def _forget_said(self) -> None:
        """Take away what was said, once there was time to read it."""
        if time.monotonic() > self._said_at + READ_SECONDS:
            self._said.set_text("")

    def _tell_state(self) -> None:
        desk = self.bench.desk
        if desk is None:
            self._name.set_text("simharness")
            self._state.set_text("No record yet: begin with one.")
        else:
            self._name.set_text(desk.record.title or desk.record.name)
            file = desk.path.name if desk.path else "not saved yet"
            unsaved = ", with changes that are not saved" if desk.dirty and desk.path else ""
            refused = f"; {len(desk.problems)} refused" if desk.problems else ""
            self._state.set_text(f"{file}{unsaved}{refused}")
        for button, on in (
            (self._undo, desk is not None and desk.can_undo),
            (self._redo, desk is not None and desk.can_redo),
            (self._save, desk is not None and (desk.dirty or desk.path is None) and not desk.problems),
        ):
            set_enabled(button, on)

    def _say(self, sentence: str, refused: bool) -> None:
        self._said.classes(remove="refused", add="refused" if refused else "")
        self._said.set_text(sentence)
        self._said_at = time.monotonic()
