"""A page that holds a drawing alone, for the tests of the drawing in a browser: it prints what it is told.

``python drawing_page.py PORT RECORD``
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from nicegui import ui

import simharness
from simharness.page.desk import Desk
from simharness.page.drawing.drawing import Change, Drawing


@ui.page("/")
def page() -> None:
    """The drawing of a record on a desk; each change is a line on the terminal, with what is refused."""
    ui.add_css(Path(simharness.__file__).parent / "page" / "frame" / "page.css")
    desk = Desk.opened(Path(sys.argv[2]))
    drawing = Drawing(desk.record)

    def take(change: Change) -> None:
        desk.set_many(dict(change.fields), change.gesture)
        drawing.show(desk.record, desk.problems)
        told = {"fields": dict(change.fields), "gesture": change.gesture, "final": change.final}
        print(json.dumps(told | {"refused": sorted(desk.problems)}), flush=True)

    drawing.on_change(take)
    drawing.on_focus(lambda field: print(json.dumps({"focus": field}), flush=True))
    ui.button("Undo").props("id=undo").on(
        "click", lambda: (desk.undo(), drawing.show(desk.record, desk.problems))
    )


if __name__ in {"__main__", "__mp_main__"}:
    ui.run(host="127.0.0.1", port=int(sys.argv[1]), show=False, reload=False, dark=None, tailwind=False)
