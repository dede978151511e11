"""What the page shows of a finished antenna: what it does as built, and what can still be done."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from nicegui import ui

from simharness.page.built.answers import BuiltAnswer, MendAnswer
from simharness.page.built.charts import finished_options
from simharness.page.widgets import plain_button, still_chart, text, text_table
from simharness.records import Record


def draw_built(answer: BuiltAnswer, record: Record, put: Callable[[str], Any]) -> None:
    """As built: the match, curves, figures, dimensions; `put` takes the text of the record as built."""
    match, *others = answer.sentences
    text("p", match).classes(f"headline {answer.state}")
    still_chart("S11 as drawn and as built", finished_options(record, answer.curves, "as drawn", "as built"))
    for sentence in others:
        text("p", sentence)
    text("h3", "Figures")
    text_table(answer.figures, "Figures as drawn and as built")
    with ui.element("details"):
        text("summary", "Every dimension as built")
        text_table(answer.dimensions, "Dimensions as built")
    with ui.element("div").classes("controls"):
        plain_button("Open the antenna as built", partial(put, answer.record))


def draw_mend(answer: MendAnswer, record: Record, put: Callable[[str], Any]) -> None:
    """What can still be done, each with its curve; `put` takes the text of the record with it done."""
    text("h2", "What can still be done")
    for sentence in answer.head:
        text("p", sentence)
    for number, one in enumerate(answer.operations, 1):
        several = f"{number}. " if len(answer.operations) > 1 else ""
        text("h3", f"{several}{one.title}")
        for sentence in one.sentences:
            said = sentence.removeprefix(f"{number}. {one.title}: ")
            text("p", said[0].upper() + said[1:])
        options = finished_options(record, one.curves, "as built", "with this done")
        still_chart("S11 as built and with this done", options)
        button = plain_button("Open the antenna with this done", partial(put, one.record))
        button.props["aria-label"] = f"Open the antenna with this done: {one.title}"
    for sentence in answer.rest:
        text("p", sentence)
