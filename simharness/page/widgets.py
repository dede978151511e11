"""Small things of the page's own plain look, which all views share."""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Any

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement as Text

from simharness.errors import InputError

__all__ = [
    "Choice",
    "NumberField",
    "Text",
    "TextField",
    "plain_button",
    "set_enabled",
    "still_chart",
    "text",
    "text_field",
    "text_list",
    "text_table",
    "waiting",
]


def text(tag: str, words: str) -> Text:
    """An element of HTML that holds text and nothing else; whatever stands in it is shown as it is."""
    return Text(tag=tag, text=words)


def plain_button(words: str, pressed: Any) -> ui.element:
    """A button of the page's own plain look."""
    return text("button", words).props('type="button"').on("click", lambda: pressed())


def set_enabled(button: ui.element, on: bool) -> None:
    """Let a button be pressed, or not."""
    button.props(remove="disabled") if on else button.props("disabled")


@contextlib.contextmanager
def waiting(told: Text, words: str, *buttons: ui.element) -> Iterator[None]:
    """Say what is waited for, and let none of some buttons be pressed meanwhile."""
    told.set_text(words)
    for button in buttons:
        set_enabled(button, False)
    try:
        yield
    finally:
        told.set_text("")
        for button in buttons:
            set_enabled(button, True)


_NUMERAL = re.compile(r"^\d+\. ")


class TextField:
    """A labelled field for text; what is typed is in `value`."""

    def __init__(self, words: str, placeholder: str, changed: Callable[[str], Any] | None):
        self.value, self._changed = "", changed
        with ui.element("label").classes("field"):
            text("span", words)
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


class Choice:
    """A labelled list of which one is chosen; its key is in `value`.

    Parameters
    ----------
    words : str
        The label.
    choices : dict
        Key to words.
    changed : callable or None
        Called with the key when another is chosen.
    chosen : str or None
        The key to begin with; the first without it.
    """

    def __init__(self, words: str, choices: dict[str, str], changed: Any = None, chosen: str | None = None):
        self.value, self._choices, self._changed = chosen or next(iter(choices)), choices, changed
        with ui.element("label").classes("field"):
            text("span", words)
            box = ui.element("select")
            with box:
                for key, told in choices.items():
                    option = text("option", told)
                    option.props["value"] = key
                    if key == self.value:
                        option.props("selected")
        box.on("change", self._take, js_handler="(event) => emit(event.target.value)")

    def _take(self, event: Any) -> None:
        if event.args in self._choices:
            self.value = event.args
            if self._changed is not None:
                self._changed(self.value)


class NumberField:
    """A labelled field for a number from `low` to `high`; one that begins without a value may stay empty."""

    def __init__(self, words: str, value: float | None, low: float, high: float, step: float):
        self._words, self._low, self._high = words, low, high
        self._typed = "" if value is None else f"{value:g}"
        with ui.element("label").classes("field"):
            text("span", words)
            box = ui.element("input").props(f"type=number min={low:g} max={high:g} step={step:g}")
        # `defaultValue` leaves alone what is typed later, where the page is drawn anew.
        box.props[".defaultValue"] = self._typed
        box.on("input", self._take, js_handler="(event) => emit(event.target.value)")

    def _take(self, event: Any) -> None:
        self._typed = str(event.args)

    def optional(self) -> float | None:
        """The number, or None where the field is empty; raises as `number` does."""
        return self.number() if self._typed.strip() else None

    def number(self) -> float:
        """The number.

        Raises
        ------
        InputError
            What is typed is none, or is out of range.
        """
        try:
            found = float(self._typed)
        except ValueError:
            found = math.nan
        if not self._low <= found <= self._high:
            raise InputError(self._words, self._typed, f"must be from {self._low:g} to {self._high:g}")
        return found


def text_list(sentences: Sequence[str]) -> None:
    """Sentences as a list; those that come with their numbers as a numbered one."""
    numbered = bool(sentences) and all(map(_NUMERAL.match, sentences))
    with ui.element("ol" if numbered else "ul"):
        for sentence in sentences:
            text("li", _NUMERAL.sub("", sentence) if numbered else sentence)


def text_table(
    rows: Sequence[Sequence[str]], name: str, marked: Sequence[Collection[int]] | None = None
) -> None:
    """A table with its head in the first row, which scrolls by itself where it is wide.

    Parameters
    ----------
    rows : sequence of sequence of str
    name : str
    marked : sequence of collection of int, optional
        Which cells of each row but the head are marked as differing; without it, those that say so.
    """
    with ui.element("div").classes("wide").props('role="region" tabindex="0"') as frame, ui.element("table"):
        frame.props["aria-label"] = name
        with ui.element("thead"), ui.element("tr"):
            for cell in rows[0]:
                text("th", cell).props('scope="col"')
        with ui.element("tbody"):
            for order, row in enumerate(rows[1:]):
                differ = [cell == "differ" for cell in row]
                if marked is not None:
                    differ = [place in marked[order] for place in range(len(row))]
                with ui.element("tr"):
                    text("th", row[0]).props('scope="row"').classes("differ" if differ[0] else "")
                    for cell, apart in zip(row[1:], differ[1:]):
                        text("td", cell).classes("differ" if apart else "")


def still_chart(words: str, options: dict[str, Any], says: str = "") -> None:
    """A chart that is drawn once, under its heading, with what it says for those who do not see it."""
    with ui.element("div"):
        text("h3", words)
        chart = ui.echart(options, renderer="svg").classes("chart")
        chart.props["role"] = "img"
        chart.props["aria-label"] = says or f"{words}: curves of what the tables below say in numbers"
