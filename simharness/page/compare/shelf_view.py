"""The part of the page that lists the stored runs with small pictures."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from nicegui import ui

from simharness.page.compare.shelf import Spark
from simharness.page.compare.sides import Sides
from simharness.page.compare.spark import SparkLine
from simharness.page.widgets import plain_button, text_field
from simharness.printable import printable

if TYPE_CHECKING:
    from simharness.page.bench import Bench

SHOWN = 12
"""Runs shown at first, and how many more each time."""


class ShelfView:
    """Stored runs, the newest first, and what can be done with each.

    Parameters
    ----------
    bench : Bench
    sides : Sides
    add : callable
        Takes the full name of a run that shall be set side by side.
    held : callable
        Takes the full name of the run that files shall be held against.
    """

    def __init__(self, bench: Bench, sides: Sides, add: Callable[[str], None], held: Callable[[str], None]):
        self.bench, self.sides = bench, sides
        self._add, self._held = add, held
        self._shown, self._asked, self._words = SHOWN, 0, ""
        with ui.element("div").classes("controls"):
            text_field("Search by name", "", self._search)
            plain_button("List anew", self.list_anew)
        self._count = ui.label().classes("note").props('role="status"')
        self._list = ui.element("ul").classes("shelf").props('aria-label="Stored runs"')
        self._more = plain_button("Show more", self._show_more)
        bench.view_wanted.connect(lambda key: self.list_anew() if key == "beside" else None)
        self.list_anew()

    def list_anew(self) -> None:
        """Look into the folder again."""
        asyncio.get_running_loop().create_task(self._follow())

    def _search(self, words: str) -> None:
        self._words, self._shown = words, SHOWN
        self.list_anew()

    def _show_more(self) -> None:
        self._shown += SHOWN
        self.list_anew()

    async def _follow(self) -> None:
        """List what fits the words; an answer to an earlier question is not shown."""
        self._asked += 1
        asked, words, shown = self._asked, self._words, self._shown
        shelf = self.sides.shelf

        def listed() -> tuple[int, list[Spark]]:
            names = shelf.names(words)
            return len(names), shelf.sparks(names[:shown])

        count, sparks = await asyncio.to_thread(listed)
        if asked != self._asked:
            return
        what = "finished run" if count == 1 else "finished runs"
        fitting = f" of '{words.strip()}'" if words.strip() else ""
        self._count.set_text(f"{count} {what}{fitting}; {len(sparks)} shown, the newest first.")
        self._more.set_visibility(count > len(sparks))
        self._list.clear()
        with self._list:
            for spark in sparks:
                with ui.element("li"):
                    self._draw(spark)

    def _draw(self, spark: Spark) -> None:
        SparkLine(spark)
        with ui.element("div"):
            ui.label(printable(spark.name))
            worst = (
                "" if spark.worst_s11_db is None else f", worst S11 {spark.worst_s11_db:.1f} dB in the band"
            )
            ui.label(f"{spark.quality or 'unknown'} mesh{worst}").classes("note")
        with ui.element("div").classes("controls"):
            for words, work in (
                ("Set side by side", self._add),
                ("Show behind the curves", self._show_ghost),
                ("Hold a file against it", self._held),
            ):
                plain_button(words, partial(work, spark.name)).props["aria-label"] = f"{words}: {spark.name}"

    def _show_ghost(self, name: str) -> None:
        asyncio.get_running_loop().create_task(self._open_ghost(name))

    async def _open_ghost(self, name: str) -> None:
        run = await self.bench.open_ghost(name)
        if run is not None:
            self.bench.say(f"Behind the curves of the antenna now: {run.name}")
