"""The view of what leaves the page: cut sheets, report, record; written as the commands write them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nicegui import ui

from simharness.errors import InputError
from simharness.page.bench import Bench
from simharness.page.frame.previews import made_preview, preview_address
from simharness.page.widgets import (
    Choice,
    NumberField,
    plain_button,
    text,
    text_list,
    text_table,
    waiting,
)

if TYPE_CHECKING:
    from simharness.library.solved_run import SolvedRun
    from simharness.records import Record

_PAPERS = {"a4": "A4", "letter": "Letter"}
_MAKES = {
    "": "as the record says",
    "folded": "a box folded from sheet",
    "tube": "slots cut in a stock tube",
}
_BENDS = {"round": "over a radius", "scored": "scored inside and folded sharp"}
_QUALITIES = {"": "the finest stored", "draft": "draft", "normal": "normal", "fine": "fine"}


def build(bench: Bench) -> None:
    """Make the view."""
    _Sheets(bench)
    _Report(bench)
    _RecordFile(bench)


class _Part:
    """One thing that leaves the page: a heading, buttons, and what came of the last press."""

    def __init__(self, bench: Bench, heading: str):
        self.bench = bench
        text("h2", heading)

    def _outcome(self) -> None:
        self._waiting = text("p", "").props('role="status"')
        self.shown = ui.element("div")

    async def _done(self, words: str, button: ui.element, work: Callable[[], Any]) -> Any:
        """What a longer work gives; None where it was refused, which is said."""
        with self.bench.refusals(), waiting(self._waiting, words, button):
            return await asyncio.to_thread(work)
        return None

    def _record(self) -> Record | None:
        desk = self.bench.desk
        if desk is None:
            self.bench.say("There is no record yet: begin with one.", refused=True)
            return None
        if desk.problems:
            self.bench.say("The record is refused as it stands: see its fields.", refused=True)
            return None
        return desk.record


class _Sheets(_Part):
    """Cut sheets: seen first, then written."""

    def __init__(self, bench: Bench):
        super().__init__(bench, "Cut sheets and build list")
        with ui.element("div").classes("controls"):
            self._paper = Choice("Paper", _PAPERS)
            self._make = Choice("Made as", _MAKES)
            self._tab = NumberField("Tabs of the end caps, mm", 8.0, 0.0, 100.0, 0.5)
            self._lip = NumberField("Lips of the front wall, mm", 0.0, 0.0, 100.0, 0.5)
            self._cutter = NumberField("Cutter for SVG and DXF, mm", 0.0, 0.0, 100.0, 0.1)
            self._land = NumberField("Tinned around the feed hole, mm", None, 0.1, 100.0, 0.1)
        with ui.element("div").classes("controls"):
            self._radius = NumberField("Inside radius of your bends, mm", None, 0.0, 100.0, 0.1)
            self._factor = NumberField("K of your bends", None, 0.0, 0.5, 0.01)
            self._scored = Choice("Bends", _BENDS)
        with ui.element("div").classes("controls"):
            self._look = plain_button("Look at the sheets", self._preview)
            self._keep = plain_button("Write the sheets", self._write)
        self._outcome()

    def _options(self) -> dict[str, Any]:
        return {
            "paper": self._paper.value,
            "make": self._make.value or None,
            "tab_mm": self._tab.number(),
            "lip_mm": self._lip.number(),
            "cutter_mm": self._cutter.number(),
            "land_mm": self._land.optional(),
            "inside_radius_mm": self._radius.optional(),
            "k_factor": self._factor.optional(),
            "scored": self._scored.value == "scored",
            "date": date.today().isoformat(),
        }

    async def _preview(self) -> None:
        from simharness import sheets

        record, options = self._record(), self.bench.attempt(self._options)
        if record is None or options is None:
            return
        sections: list[Any] = []

        def write(folder: Path) -> None:
            sections.extend(sheets(record, folder, **options).sections)

        made = await self._done("drawing the sheets", self._look, lambda: made_preview(write))
        if made is not None:
            self._show(made[0], made[1], sections)

    def _show(self, key: str, files: dict[str, bytes], sections: list[Any]) -> None:
        self.shown.clear()
        with self.shown:
            for name in files:
                if name.endswith(".pdf"):
                    _link(preview_address(key, name), f"Open {name}: print it at 100 %")
            with ui.element("div").classes("parts"):
                for name in files:
                    if name.endswith(".svg"):
                        _picture(preview_address(key, name), name.removesuffix(".svg").replace("-", " "))
            for section in sections:
                text("h3", section.title)
                text_list(section.sentences)
                if section.table:
                    text_table(section.table, section.title)

    async def _write(self) -> None:
        from simharness import sheets

        record, options = self._record(), self.bench.attempt(self._options)
        if record is None or options is None:
            return
        folder = self.bench.place.records / f"sheets-{record.name}"
        written = await self._done(
            "writing the sheets", self._keep, lambda: sheets(record, folder, **options)
        )
        if written is not None:
            self.bench.say(
                f"Written to {folder.name}: {', '.join(path.name for path in written.files)}. "
                "Print the PDF at 100 %, and measure both 100 mm bars on every sheet before you cut."
            )


class _Report(_Part):
    """The report of the full-wave run of the record."""

    def __init__(self, bench: Bench):
        super().__init__(bench, "Report of the full-wave run")
        with ui.element("div").classes("controls"):
            self._quality = Choice("Which run", _QUALITIES)
            self._paper = Choice("Paper", _PAPERS)
        with ui.element("div").classes("controls"):
            self._look = plain_button("Look at the report", self._preview)
            self._keep = plain_button("Write the report", self._write)
        self._outcome()

    def _run(self, record: Record) -> SolvedRun:
        from simharness import open_run
        from simharness.runs.store import UnknownRunError

        try:
            return open_run(record.name, runs=self.bench.place.runs, quality=self._quality.value or None)
        except UnknownRunError:
            allowed = "has no full-wave run yet; begin one under 'Full wave'"
            raise InputError("report", record.name, allowed) from None

    async def _preview(self) -> None:
        from simharness import report

        record = self._record()
        if record is None:
            return
        name = f"report-{record.name}.html"

        def made() -> tuple[str, dict[str, bytes]]:
            run = self._run(record)
            return made_preview(lambda folder: report(run, folder / name, paper=self._paper.value))

        found = await self._done("drawing the report, some ten seconds", self._look, made)
        if found is None:
            return
        key, files = found
        self.shown.clear()
        with self.shown:
            for file in files:
                _link(preview_address(key, file), f"Open {file}")
            frame = ui.element("iframe").classes("document").props('title="Report"')
            frame.props["src"] = preview_address(key, name)

    async def _write(self) -> None:
        from simharness import report

        record = self._record()
        if record is None:
            return
        page = self.bench.place.records / f"report-{record.name}.html"
        written = await self._done(
            "writing the report, some ten seconds",
            self._keep,
            lambda: report(self._run(record), page, paper=self._paper.value),
        )
        if written:
            self.bench.say(f"Written: {', '.join(path.name for path in written)}.")


class _RecordFile(_Part):
    """The record as a file of the browser."""

    def __init__(self, bench: Bench):
        super().__init__(bench, "The record itself")
        plain_button("Download the record", self._download)

    def _download(self) -> None:
        record, desk = self._record(), self.bench.desk
        if record is None or desk is None:
            return
        text = self.bench.attempt(desk.text)
        if text is not None:
            ui.download.content(text.encode("utf-8"), f"{record.name}.toml", "text/plain")


def _link(address: str, words: str) -> None:
    with ui.element("p"):
        text("a", words).props('target="_blank" rel="noopener"').props["href"] = address


def _picture(address: str, words: str) -> None:
    with ui.element("figure"):
        text("figcaption", words)
        image = ui.element("img")
        image.props["src"], image.props["alt"] = address, f"cut sheet: {words}"
