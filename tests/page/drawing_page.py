"""A page that holds a drawing alone, for the tests of the drawing in a browser: it prints what it is told.

``python drawing_page.py PORT RECORD [HIGHEST]``: heights of the probe over HIGHEST mm count as refused.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from nicegui import ui

import simharness
from simharness.errors import InputError
from simharness.page.drawing.drawing import Change, Drawing


@ui.page("/")
def page() -> None:
    """The drawing; each change, and the record that it makes, is a line on the terminal."""
    record = simharness.read_record(Path(sys.argv[2]))
    highest = float(sys.argv[3]) if len(sys.argv) > 3 else float("inf")
    drawing = Drawing(record)

    def take(change: Change) -> None:
        nonlocal record
        refused: list[str] = []
        try:
            if change.fields.get("feed.height_mm", 0.0) > highest:
                raise InputError("feed.height_mm", change.fields["feed.height_mm"], "too high")
            record = simharness.changed(record, change.fields)
        except InputError:
            refused = list(change.fields)
        drawing.show(record, refused)
        told = {"fields": dict(change.fields), "gesture": change.gesture, "final": change.final}
        print(json.dumps(told | {"refused": refused}), flush=True)

    drawing.on_change(take)
    drawing.on_focus(lambda field: print(json.dumps({"focus": field}), flush=True))


if __name__ in {"__main__", "__mp_main__"}:
    ui.run(host="127.0.0.1", port=int(sys.argv[1]), show=False, reload=False, dark=None, tailwind=False)
