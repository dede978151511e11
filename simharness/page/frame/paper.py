"""The view of what leaves the page: cut sheets, report, record; written as the commands write them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simharness.page.place import Place

if TYPE_CHECKING:
    from fastapi import FastAPI

    from simharness.page.bench import Bench


def declare_routes(place: Place, app: FastAPI) -> None:
    """Declare where previews are fetched from."""


def build(bench: Bench) -> None:
    """Make the view."""
