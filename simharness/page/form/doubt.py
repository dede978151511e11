"""Another record takes the place of the one on the desk, once it is clear that nothing is lost."""

from __future__ import annotations

from functools import partial

from nicegui import ui

from simharness.page.bench import Bench
from simharness.page.desk import Desk
from simharness.page.widgets import plain_button


class Doubt:
    """Where it is asked what becomes of changes that are not saved."""

    def __init__(self, bench: Bench):
        self.bench, self._place = bench, ui.element("div").props('role="alert"')

    def put(self, desk: Desk) -> None:
        """Put a record on the desk, or ask first."""
        self._place.clear()
        old = self.bench.desk
        if old is None or not old.dirty or not old.can_undo:
            self.bench.put(desk)
            return
        with self._place:
            ui.label(f"{old.record.name} has changes that are not saved.").classes("refused")
            with ui.element("div").classes("controls"):
                plain_button("Let them go and open the other", partial(self._surely, desk))
                plain_button("Keep them", self._place.clear)
        self._place.run_method("scrollIntoView")

    def _surely(self, desk: Desk) -> None:
        self._place.clear()
        self.bench.put(desk)
