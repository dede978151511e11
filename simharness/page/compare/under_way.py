"""How far work in a process of its own is, with a button that ends it."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from simharness.page.aside import Aside
from simharness.page.widgets import plain_button
from simharness.progress import span


class UnderWay:
    """A place for it, drawn anew only where something has changed.

    Parameters
    ----------
    says : str
        What the bar is, for those who do not see it.
    """

    def __init__(self, says: str):
        self._says, self._place = says, ui.element("div")
        self._seen: tuple[Any, ...] = ()

    def follow(self, found: Aside, name: str) -> bool:
        """Draw work by a name; whether anything had changed."""
        far = round(found.share, 2), round(found.seconds_left), found.text
        state = id(found), found.ended, found.part is None, *far
        if state == self._seen:
            return False
        self._seen = state
        self._place.clear()
        with self._place:
            if found.trouble:
                ui.label(found.trouble).classes("refused").props('role="alert"')
            elif not found.ended:
                self._draw(found, name)
        return True

    def clear(self) -> None:
        """Nothing is under way."""
        self._seen = ()
        self._place.clear()

    def _draw(self, found: Aside, name: str) -> None:
        left = f", about {span(found.seconds_left)} left" if found.seconds_left > 0 else ""
        ui.label(f"{name}: {100 * found.share:.0f} % done{left}: {found.text}")
        bar = ui.element("progress").props("max=1")
        bar.props["value"] = found.share
        bar.props["aria-label"] = self._says
        plain_button("Cancel", found.cancel)
