"""The drawing as an element of the page."""

from __future__ import annotations

import inspect
from collections.abc import Awaitable, Callable, Collection
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nicegui import ui

from simharness.page.drawing.changes import Change, change_sent, movable_fields

if TYPE_CHECKING:
    from simharness.records import Record

# The page declares this element when it starts, and draws nothing before it is seen: what computes the views
# takes a while to load, and is imported when they are wanted.

__all__ = ["Change", "Drawing"]

_CSS = Path(__file__).with_name("drawing.css")


class Drawing(ui.element, component="drawing.js", esm={"simharness-drawing": "parts"}):
    """Front, side and end of a record, true to scale; what can be grabbed tells its new values.

    Parameters
    ----------
    record : Record
    refused : collection of str
        Fields whose values on the desk the record refuses; their handles are marked.
    """

    def __init__(self, record: Record, refused: Collection[str] = ()):
        from simharness.page.drawing.views import caption, views

        super().__init__()
        self._record, self._drawn = record, views(record)
        self._fields = movable_fields(self._drawn)
        self._props["views"] = self._drawn
        self._props["refused"] = sorted(refused)
        self._props["caption"] = caption(self._drawn)
        ui.add_css(_CSS)

    def on_change(self, handler: Callable[[Change], Awaitable[None] | None]) -> Drawing:
        """Have a function called with each `Change`; the next one is sent when it has returned."""

        async def handle(event: Any) -> None:
            change, serial = change_sent(event.args, self._fields)
            try:
                if change is not None and inspect.isawaitable(waiting := handler(change)):
                    await waiting
            finally:
                self.answered(serial)

        self.on("change", handle)
        return self

    def on_focus(self, handler: Callable[[str], None]) -> Drawing:
        """Have a function called with the name of the field that is grabbed or comes into focus."""

        def handle(event: Any) -> None:
            field = event.args.get("field") if isinstance(event.args, dict) else None
            if field in self._fields:
                handler(field)

        self.on("focus", handle)
        return self

    def show(self, record: Record, refused: Collection[str] = ()) -> None:
        """Draw another state of the record; only what differs is sent.

        Parameters
        ----------
        record : Record
            The last that was valid.
        refused : collection of str
            Fields whose values on the desk the record refuses.
        """
        from simharness.page.drawing.views import caption, difference, views

        new = self._drawn if record is self._record else views(record)
        changes, self._record, self._drawn = difference(self._drawn, new), record, new
        self._fields = movable_fields(new)
        # For a browser that builds the element anew; the one that shows it gets the changes alone.
        with self._props.suspend_updates():
            self._props["views"] = new
            self._props["refused"] = sorted(refused)
            self._props["caption"] = caption(new)
        self.run_method("show", changes, sorted(refused), caption(new))

    def answered(self, serial: int) -> None:
        """Let the browser send the change after this one."""
        self.run_method("answered", serial)
