"""Small things of the page's own plain look, which all views share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui


def plain_button(words: str, pressed: Any) -> ui.element:
    """A button of the page's own plain look."""
    button = ui.element("button").props('type="button"').on("click", lambda: pressed())
    with button:
        ui.label(words)
    return button


def set_enabled(button: ui.element, on: bool) -> None:
    """Let a button be pressed, or not."""
    button.props(remove="disabled") if on else button.props("disabled")


class TextField:
    """A labelled field for text; what is typed is in `value`."""

    def __init__(self, words: str, placeholder: str, changed: Callable[[str], Any] | None):
        self.value, self._changed = "", changed
        with ui.element("label").classes("field"):
            ui.label(words)
            box = ui.element("input").props("type=text maxlength=120")
            box.props["placeholder"] = placeholder
        box.on("input", self._take, js_handler="(event) => emit(event.target.value)")

    def _take(self, event: Any) -> None:
        self.value = str(event.args)
        if self._changed is not None:
            self._changed(self.value)


def text_field(words: str, placeholder: str = "", changed: Callable[[str], Any] | None = None) -> TextField:
    """A labelled field for text; `changed` is called with what is typed, as it is typed."""
    return TextField(words, placeholder, changed)
