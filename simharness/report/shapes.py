"""What the report says of the guide, by its shape."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from simharness.records import RectangularGuide, RoundGuide
from simharness.report.rows import Row, Special, in_mm, left_out, plain, rows

_CLOSED = {
    "short": "closed by a plate",
    "port": "open: a port",
    "load": "closed by a plate, behind an absorber",
}
_MAKES = {"folded": "folded from sheet", "tube": "slots cut in a stock tube"}
_SPECIAL: Special = {
    "shape": left_out,
    "near_end": lambda value: ("near end", _CLOSED[value]),
    "far_end": lambda value: ("far end", _CLOSED[value]),
    "load_mm": in_mm("length of the absorber, beyond the inner length"),
    "make": left_out,
    "conductivity_s_per_m": lambda value: ("conductivity of the walls", f"{plain(value)} S/m"),
}
"""Rows that are not those of the field's own description."""


class GuideTable(Protocol):
    """What the report asks of a guide."""

    def rows(self, make: str) -> tuple[Row, ...]:
        """Its dimensions; `make` is how it is made."""

    def body(self) -> str:
        """What it looks like, in words."""


class RectangularTable:
    """A rectangular guide."""

    def __init__(self, guide: RectangularGuide):
        self.guide = guide

    def rows(self, make: str) -> tuple[Row, ...]:
        """Its dimensions, and how it is made."""
        laminate = self.guide.laminate is not None
        front = in_mm("thickness of the board" if laminate else "thickness of the front wall")
        made = f"{_MAKES[make]}{', with a front wall of laminate' if laminate else ''}"
        found = rows(self.guide, {**_SPECIAL, "front_wall_mm": front})
        return ("shape", "rectangular"), *found, ("made", made)

    def body(self) -> str:
        """A box with its size."""
        return f"box, {self.guide.width_mm:g} mm wide, {self.guide.height_mm:g} mm deep"


class RoundTable:
    """A round tube."""

    def __init__(self, guide: RoundGuide):
        self.guide = guide

    def rows(self, make: str) -> tuple[Row, ...]:
        """Its dimensions; there is only one way to make it."""
        return ("shape", "round tube"), *rows(self.guide, _SPECIAL)

    def body(self) -> str:
        """A tube with its size."""
        return f"round tube, {self.guide.diameter_mm:g} mm in diameter"


SHAPES: dict[str, Callable[[Any], GuideTable]] = {"rectangular": RectangularTable, "round": RoundTable}


def guide_table(guide: RectangularGuide | RoundGuide) -> GuideTable:
    """What the report says of a guide."""
    return SHAPES[guide.shape](guide)
