"""The view of things side by side: what is chosen, the stored runs, a measured file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from nicegui import ui

from simharness.page.compare.measured_view import MeasuredView
from simharness.page.compare.shelf_view import ShelfView
from simharness.page.compare.sides import sides_of
from simharness.page.compare.sides_view import SidesView
from simharness.page.widgets import text

if TYPE_CHECKING:
    from simharness.page.bench import Bench


def build(bench: Bench) -> None:
    """Make the view."""
    ui.add_css(Path(__file__).parent / "look.css")
    sides = sides_of(bench)
    parts = []
    for words in ("Side by side", "Stored runs", "A measured file beside a run"):
        parts.append(ui.element("div"))
        with parts[-1]:
            text("h2", words)
    with parts[0]:
        beside = SidesView(bench, sides)
    with parts[2]:
        measured = MeasuredView(bench, sides, beside)
    with parts[1]:
        ShelfView(bench, sides, beside.add_run, measured.hold_against)
