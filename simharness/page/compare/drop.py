"""A place to drop a measured file on, or to choose it at; what is too large is refused before it is read."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

from fastapi import Request
from nicegui import app, ui

from simharness.page.compare.dropped import LARGEST, too_large

Taken = Callable[[str, bytes], Awaitable[None] | None]


class DropZone(ui.element, component="drop.js"):
    """A field for a file, which may be dropped on it too.

    The browser looks at the size first; the server counts what comes in, whatever the browser said.

    Parameters
    ----------
    label : str
    taken : callable
        Called with the name of the file, as its owner called it, and its bytes.
    refused : callable
        Called with a sentence.
    own : bool
        Whether it takes files only while its view is seen; else those that are dropped on another view too.
    """

    def __init__(
        self,
        label: str,
        taken: Callable[[str, bytes], Any],
        refused: Callable[[str], Any],
        own: bool = False,
    ):
        super().__init__()
        self._taken, self._refused = taken, refused
        self._path = f"/_simharness/{self.client.id}/dropped/{self.id}"
        self.props["label"], self.props["url"], self.props["largest"] = label, self._path, LARGEST
        self.props["own"] = own
        self.on("refused", lambda event: self._refuse(event.args))
        app.post(self._path, include_in_schema=False)(self._receive)

    async def _receive(self, request: Request) -> dict[str, bool]:
        name, data = request.query_params.get("name", ""), bytearray()
        async for piece in request.stream():
            data += piece
            if len(data) > LARGEST:
                self._tell(self._refused, too_large(name))
                return {"taken": False}
        self._tell(self._taken, name, bytes(data))
        return {"taken": True}

    def _refuse(self, told: Any) -> None:
        """The browser found the file too large, or could not read it."""
        name = str(told.get("name", "")) if isinstance(told, dict) else ""
        if isinstance(told, dict) and told.get("why") == "unreadable":
            self._refused(f"measured file = {name}: could not be read by the browser; choose a file")
        else:
            self._refused(too_large(name))

    def _tell(self, listener: Callable[..., Any], *told: Any) -> None:
        with self.client:
            listener(*told)

    def _handle_delete(self) -> None:
        app.remove_route(self._path)
        super()._handle_delete()
