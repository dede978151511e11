"""The questions of a guided start as labelled fields, judged while one types."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from simharness.page.form.answers import LONGEST, Asked, judged_answers


class _Row:
    """One question."""

    def __init__(self, asked: Asked, answered: Callable[[str, str], None]):
        self.box = ui.element("div").classes("entry")
        with self.box:
            with ui.element("label"):
                ui.label(asked.ask)
                self.input = ui.element("input").props(f'type=text maxlength={LONGEST} autocomplete="off"')
            self.hint = ui.label("").classes("note")
            self.refused = ui.label("").classes("refused")
        told = f"{self.hint.html_id} {self.refused.html_id}"
        self.input.props["aria-describedby"] = told
        self.input.on(
            "input",
            lambda event: answered(asked.name, str(event.args)),
            js_handler="(event) => emit(event.target.value)",
        )
        self.show(asked)

    def show(self, asked: Asked) -> None:
        """Show what is known about the answer now."""
        hint = f"left empty: {asked.default}" + (f"; {asked.hint}" if asked.hint else "")
        self.hint.set_text(hint)
        self.refused.set_text(asked.refused)
        if asked.refused:
            self.input.props('aria-invalid="true"')
        else:
            self.input.props(remove="aria-invalid")


class QuestionsForm:
    """The questions that apply, in their order.

    Attributes
    ----------
    options : dict or None
        Options of `simharness.design`; None while an answer is refused.
    changed : callable
        Told whether all answers make sense, after each judgement.
    """

    def __init__(self) -> None:
        self.options: dict[str, Any] | None = None
        self.changed: Callable[[bool], None] = lambda fine: None
        self._answers: dict[str, str] = {}
        self._rows: dict[str, _Row] = {}
        with (
            ui.element("div")
            .props('role="group" aria-label="What the antenna shall do"')
            .classes("questions")
        ):
            self._place = ui.element("div").classes("asked")
        self._judge()

    def _answer(self, name: str, text: str) -> None:
        self._answers[name] = text
        self._judge()

    def _judge(self) -> None:
        judged = judged_answers(self._answers)
        self.options = judged.options
        names = [asked.name for asked in judged.asked]
        for asked in judged.asked:
            if asked.name in self._rows:
                self._rows[asked.name].show(asked)
            else:
                with self._place:
                    self._rows[asked.name] = row = _Row(asked, self._answer)
                row.box.move(target_index=names.index(asked.name))
        for name in set(self._rows) - set(names):
            self._rows.pop(name).box.delete()
            self._answers.pop(name, None)
        self.changed(self.options is not None)
