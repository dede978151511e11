"""The part of the page that shows things side by side: what is chosen, curves, figures, fields, sentences."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from nicegui import ui

from simharness.errors import HarnessError
from simharness.figures import number
from simharness.page.compare.charts import cut_options, reflection_options
from simharness.page.compare.sides import Chosen, Sides, estimated, filed, stored
from simharness.page.widgets import Choice, plain_button, still_chart, text, text_table
from simharness.printable import printable

if TYPE_CHECKING:
    from simharness.beside.rows import ComparedField, ComparedFigure
    from simharness.library import SideBySide
    from simharness.page.bench import Bench

_HOW = (
    "Choose two or three: stored runs below, the record as it is now or one of the folder, a measured file."
)


class SidesView:
    """What is chosen, and what comes of it."""

    def __init__(self, bench: Bench, sides: Sides):
        self.bench, self.sides = bench, sides
        self._asked = self._added = 0
        with ui.element("div").classes("controls"):
            plain_button("Add the record as it is now", self.add_record)
            names = {path.name: printable(path.name, keep="") for path in bench.place.record_files()}
            if names:
                self._file = Choice("Record of the folder", names)
                plain_button("Add its estimate", self.add_file)
        self._list = ui.element("ul").classes("sides").props('aria-label="Set side by side"')
        self._result = ui.element("div").props('aria-live="polite"')
        self._draw_list()
        self._draw_result("")

    def add_run(self, name: str) -> None:
        """Choose a run by its full name."""
        self.add_chosen(partial(stored, self.bench, name))

    def add_record(self) -> None:
        """Choose the record of the bench as it now stands."""
        record = self.bench.record
        if record is None:
            self.bench.say("There is no record on the page yet: begin with one.", refused=True)
            return
        self._added += 1
        self.add_chosen(partial(estimated, record, f"{record.name}, estimate of its state {self._added}"))

    def add_file(self) -> None:
        """Choose the estimate of a record of the folder, as it is stored."""
        self.add_chosen(partial(filed, self.bench, self._file.value))

    def add_chosen(self, work: Callable[[], Chosen]) -> None:
        """Choose what a function returns; it may take its time."""
        asyncio.get_running_loop().create_task(self._add(work))

    async def _add(self, work: Callable[[], Chosen]) -> None:
        with self.bench.refusals():
            one = await asyncio.to_thread(work)
            self.sides.add(one)
            self.bench.say(f"Set side by side: {one.words}")
            await self._follow()

    def _take_away(self, one: Chosen) -> None:
        self.sides.take_away(one)
        asyncio.get_running_loop().create_task(self._follow())

    async def _follow(self) -> None:
        """Set the present choice side by side; an answer to an earlier one is not shown."""
        self._asked += 1
        asked = self._asked
        self._draw_list()
        try:
            found, trouble = await asyncio.to_thread(self.sides.compute), ""
        except HarnessError as error:
            found, trouble = None, str(error)
        if asked == self._asked:
            self.sides.found = found
            self._draw_result(trouble)

    def _draw_list(self) -> None:
        self._list.clear()
        with self._list:
            for one in self.sides.chosen:
                with ui.element("li"):
                    ui.label(one.words)
                    button = plain_button("Take away", partial(self._take_away, one))
                    button.props["aria-label"] = f"Take away {one.words}"

    def _draw_result(self, trouble: str) -> None:
        self._result.clear()
        found = self.sides.found
        with self._result:
            if trouble:
                ui.label(trouble).classes("refused")
            elif found is None:
                ui.label(_HOW).classes("note")
            else:
                _draw(found)


def _draw(found: SideBySide) -> None:
    """Sentences first, then curves and tables."""
    for sentence in found.sentences:
        text("p", sentence)
    with ui.element("ul").classes("sides legend").props('aria-label="Curves"'):
        for order, side in enumerate(found.sides, 1):
            with ui.element("li"):
                ui.label(("———", "— —", "·····")[order - 1]).classes(f"curve-{order}").props(
                    "aria-hidden=true"
                )
                ui.label(f"{side.label}: {side.detail}")
    with ui.element("div").classes("curves"):
        still_chart("Reflection", reflection_options(found.sides))
        for words, which in (("Cut along the guide", "along"), ("Cut across the guide", "across")):
            options = cut_options(found.sides, which)
            if options is not None:
                still_chart(words, options)
    labels = [side.label for side in found.sides]
    table("Figures", ["figure", *labels, "beyond the bars?"], [_figure_row(row) for row in found.figures])
    if found.fields:
        table("Fields that differ", ["field", *labels, "unit"], [_field_row(row) for row in found.fields])
    if found.same:
        others = "All other" if found.fields else "All"
        ui.label(f"{others} {found.same} fields are the same.").classes("note")


def _figure_row(row: ComparedFigure) -> tuple[list[str], set[int]]:
    """Cells of a figure, and the numbers of those that differ."""
    differ = {1 + n for pair in row.apart for n in pair}
    return [row.label, *map(number, row.values), row.state], differ | (
        {len(row.values) + 1} if differ else set()
    )


def _field_row(row: ComparedField) -> tuple[list[str], set[int]]:
    """Cells of a field, and the numbers of those that are not as in the first record."""
    first = next(value for value in row.values if value != "-")
    differ = {1 + n for n, value in enumerate(row.values) if value not in (first, "-")}
    return [row.name, *row.values, row.unit], differ


def table(words: str, head: Sequence[str], rows: Sequence[tuple[list[str], set[int]]]) -> None:
    """A table under its heading, whose cells may be marked as differing."""
    text("h3", words)
    text_table([head, *(cells for cells, _ in rows)], words, [marked for _, marked in rows])
