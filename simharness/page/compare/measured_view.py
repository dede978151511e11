"""The part of the page that holds a measured file against a stored run."""

from __future__ import annotations

import base64
import math
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from simharness.errors import InputError
from simharness.page.compare.comparison import Comparison
from simharness.page.compare.drop import DropZone
from simharness.page.compare.dropped import LARGEST, LEVELS, ONE_PORT, Answer, dropped
from simharness.page.compare.sides import Sides, measured
from simharness.page.compare.sides_view import SidesView, table
from simharness.page.compare.under_way import UnderWay
from simharness.page.widgets import Choice, plain_button, text, text_field

if TYPE_CHECKING:
    from simharness.library.solved_run import SolvedRun
    from simharness.page.bench import Bench

_TURNED = {
    "across": "turned across its beam, about the guide",
    "along": "tilted along the guide",
    "beam": "turned about its beam",
}
_LONGEST_CONNECTOR_MM = 500.0


class MeasuredView:
    """A place for the file, what is asked about it, and the answer."""

    def __init__(self, bench: Bench, sides: Sides, beside: SidesView):
        self.bench, self.sides, self._beside = bench, sides, beside
        self._against = ui.label().props('role="status"')
        DropZone(
            f"Touchstone one-port (.s1p) or table of levels (.csv), at most {LARGEST // 1_000_000} MB: "
            "drop it here or choose it",
            self._take,
            self._refuse,
        )
        self._questions = ui.element("div")
        self._under_way = UnderWay("Share of the comparison that is done")
        self._answer = ui.element("div")
        self._ghosted(bench.ghost)
        bench.ghosted.connect(self._ghosted)
        self._ask()
        ui.timer(0.3, self._follow)

    def hold_against(self, run: str) -> None:
        """Choose the run that files are held against."""
        self.sides.run = run
        self._tell_run()
        self.bench.say(f"Files are held against {run}: drop one on the page.")

    def _ghosted(self, run: SolvedRun | None) -> None:
        """Hold files against the run behind the curves while no other was chosen."""
        if run is not None and not self.sides.run:
            self.sides.run = run.name
        self._tell_run()

    def _tell_run(self) -> None:
        run = self.sides.run
        none = "Choose the run in the list above first: 'Hold a file against it'."
        self._against.set_text(f"Held against the run {run}." if run else none)

    def _take(self, name: str, data: bytes) -> None:
        file = self.bench.attempt(lambda: dropped(name, data))
        if file is None:
            return
        self.sides.file = file
        self.bench.view_wanted.tell("beside")  # it may have been dropped on another view
        self.bench.say(f"Taken: {file.name}, {len(data)} bytes, in memory only.")
        self._ask()

    def _forget(self) -> None:
        """Keep the file no longer; what was found of it stays to be read."""
        self.sides.file = None
        self._ask()

    def _refuse(self, sentence: str) -> None:
        self.bench.say(sentence, refused=True)

    def _ask(self) -> None:
        """What has to be known of a file before it is compared."""
        self._questions.clear()
        file = self.sides.file
        if file is None:
            return
        with self._questions:
            text("h3", file.name)
            with ui.element("div").classes("controls"):
                if file.kind == ONE_PORT:
                    self._connector = text_field("Length of the connector, mm (fitted if left empty)")
                else:
                    self._turned = Choice("How the antenna was turned", _TURNED)
                plain_button("Compare", self._compare)
                if file.kind == ONE_PORT:
                    plain_button(
                        "Set side by side", partial(self._beside.add_chosen, partial(measured, file))
                    )
                plain_button("Forget this file", self._forget)

    def _options(self) -> dict[str, Any]:
        """Of the comparison; InputError where what was typed is no length."""
        if self.sides.file is not None and self.sides.file.kind == LEVELS:
            return {"turned": self._turned.value}
        typed = self._connector.value.strip()
        if not typed:
            return {}
        try:
            length = float(typed)
        except ValueError:
            length = math.nan
        if not 0 <= length <= _LONGEST_CONNECTOR_MM:
            raise InputError("connector, mm", typed, f"must be a number from 0 to {_LONGEST_CONNECTOR_MM:g}")
        return {"connector_mm": length}

    def _compare(self) -> None:
        sides, file = self.sides, self.sides.file
        if file is None:
            return
        if not sides.run:
            self._refuse("There is no run to hold the file against: choose one in the list of stored runs.")
            return
        if sides.comparison is not None and not sides.comparison.ended:
            self._refuse("A comparison is under way: wait for it, or cancel it.")
            return
        options = self.bench.attempt(self._options)
        if options is None:
            return
        sides.comparison = Comparison(str(self.bench.place.runs), sides.run, file, options)
        self._follow()

    def _follow(self) -> None:
        """Draw how far the comparison is, where that has changed."""
        found = self.sides.comparison
        if found is None or not self._under_way.follow(found, found.file.name):
            return
        self._answer.clear()
        if found.answer is not None:
            with self._answer:
                _draw_answer(found.answer, found.run)


def _draw_answer(answer: Answer, run: str) -> None:
    text("h3", answer.title)
    for sentence in answer.sentences:
        text("p", sentence)
    table(f"Figures beside {run}", answer.head, [(list(row), set()) for row in answer.rows])
    picture = ui.element("img").classes("picture")
    picture.props["src"] = "data:image/png;base64," + base64.b64encode(answer.picture).decode("ascii")
    picture.props["alt"] = f"{answer.title}: both curves, as the sentences above say"
