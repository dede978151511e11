"""A page with the view to begin with and the form of a record, for their tests in a browser.

``python form_page.py PORT FOLDER``: the records of FOLDER; an address with ``?record=NAME`` begins with one
of them. The models behind the page are left out: they answer nothing.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from nicegui import ui

from simharness.page.bench import Bench
from simharness.page.form import form, start
from simharness.page.place import Place


class NoModels:
    """Answers nothing, at once."""

    async def open(self, record: Any) -> None:
        return None

    async def exact(self, record: Any) -> None:
        return None

    async def band(self, record: Any, tools: str) -> None:
        return None

    def predict(self, record: Any) -> None:
        return None

    def prefetch(self, field: str) -> None:
        return None


@ui.page("/")
def page(record: str = "") -> None:
    """The view and the form; what is on the desk stands below as JSON."""
    style = Path(form.__file__).parents[1] / "frame" / "page.css"
    ui.add_css(style)
    folder = Path(sys.argv[2])
    bench = Bench(Place(folder, folder / "runs"))
    bench._live = NoModels()
    with ui.element("div"):
        with ui.element("h1"):
            ui.label("A record")
        if record:
            bench.open(folder / f"{record}.toml")
        else:
            start.build(bench)
        form.build(bench)
        with ui.element("button").props("id=undo").on("click", lambda: bench.edit(lambda desk: desk.undo())):
            ui.label("Undo")
        said = ui.label("").props("id=said")
        state = ui.label("{}").props("id=state")

    def tell(origin: str = "") -> None:
        desk = bench.desk
        if desk is not None:
            told = {
                "data": desk.data,
                "problems": desk.problems,
                "steps": len(desk._before),
                "dirty": desk.dirty,
            }
            state.set_text(json.dumps(told))

    bench.record_changed.connect(tell)
    bench.said.connect(lambda sentence, refused: said.set_text(sentence))
    tell()


if __name__ in {"__main__", "__mp_main__"}:
    ui.run(
        host="127.0.0.1",
        port=int(sys.argv[1]),
        show=False,
        reload=False,
        dark=None,
        tailwind=False,
        language="en-US",
    )
