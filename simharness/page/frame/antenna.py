"""The view of the antenna: its drawing and its numbers on one side, what they do on the other."""

from __future__ import annotations

from nicegui import ui

from simharness.page.bench import Bench


def build(bench: Bench) -> None:
    """Make the view."""
    with ui.element("div").classes("antenna"):
        with ui.element("div").classes("making"):
            ui.label(bench.place.records.name)
        with ui.element("div").classes("results"):
            pass
