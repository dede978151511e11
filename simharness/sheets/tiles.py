"""Which drawing goes where on which sheet of paper, at true scale; lengths in m."""

from __future__ import annotations

import math
from dataclasses import dataclass

from simharness.constants import MM

MARGIN = 6 * MM
"""Around the sheet, where printers do not reach."""
FOOT, SIDE = 15 * MM, 9 * MM
"""Strips at the foot and on the left for the check bars and words."""
OVERLAP = 12 * MM
"""What neighbouring tiles show both."""
GAP = 6 * MM
"""Between parts on one sheet."""
PAD = 1 * MM
"""Around a part, so that the lines of its edges are whole."""


SHIFTS = 60
"""Places tried for the seams of a tiled drawing."""


@dataclass(frozen=True)
class Paper:
    """A size of paper, upright, m."""

    name: str
    width: float
    height: float


PAPERS = {"a4": Paper("A4", 210 * MM, 297 * MM), "letter": Paper("Letter", 215.9 * MM, 279.4 * MM)}
"""ISO 216 A4; US Letter, 8.5 by 11 inches."""


@dataclass(frozen=True)
class Page:
    """A sheet lying or standing, and the area on it for drawings."""

    width: float
    height: float

    @property
    def area(self) -> tuple[float, float]:
        """Width and height of the area for drawings; its lower left corner is at `corner`."""
        return self.width - 2 * MARGIN - SIDE, self.height - 2 * MARGIN - FOOT

    @property
    def corner(self) -> tuple[float, float]:
        """Lower left corner of that area on the sheet."""
        return MARGIN + SIDE, MARGIN + FOOT


def page(paper: Paper, lying: bool) -> Page:
    """The paper lying on its long side, or standing."""
    return Page(paper.height, paper.width) if lying else Page(paper.width, paper.height)


@dataclass(frozen=True)
class Box:
    """Bounds of a drawing; the room for words `above` it, and at least `width` across; spans of u that no seam should cut."""

    u0: float
    v0: float
    u1: float
    v1: float
    above: float = 0.0
    width: float = 0.0
    whole: tuple[tuple[float, float], ...] = ()

    @property
    def room(self) -> tuple[float, float]:
        """Width and height on the sheet with its words."""
        return max(self.u1 - self.u0, self.width) + 2 * PAD, self.v1 - self.v0 + self.above + 2 * PAD


@dataclass(frozen=True)
class Placed:
    """Drawing number `index` with its origin (0, 0) at this point of the sheet."""

    index: int
    x: float
    y: float


@dataclass(frozen=True)
class Tile:
    """Place of a sheet in the picture it is a part of: column and row from the lower left, and their numbers."""

    column: int
    row: int
    columns: int
    rows: int

    @property
    def alone(self) -> bool:
        """Whether the picture is on this one sheet."""
        return self.columns * self.rows == 1

    @property
    def last(self) -> bool:
        """Whether it is the last of its picture, at the upper right."""
        return (self.column + 1, self.row + 1) == (self.columns, self.rows)


@dataclass(frozen=True)
class Sheet:
    """A sheet of paper with what is on it; `tile` where one part goes over several sheets."""

    page: Page
    placed: tuple[Placed, ...]
    tile: Tile = Tile(0, 0, 1, 1)

    def seams(self) -> tuple[list[float], list[float]]:
        """x and y on the sheet of the lines where neighbours join: the middles of the overlaps."""
        (x, y), (width, height), tile = self.page.corner, self.page.area, self.tile
        across = [x + OVERLAP / 2] * (tile.column > 0) + [x + width - OVERLAP / 2] * (tile.column < tile.columns - 1)
        upward = [y + OVERLAP / 2] * (tile.row > 0) + [y + height - OVERLAP / 2] * (tile.row < tile.rows - 1)
        return across, upward


def tile_count(size: float, area: float) -> int:
    """Tiles of length `area` that cover `size` with their overlaps.

    Examples
    --------
    >>> tile_count(0.1, 0.1), tile_count(0.101, 0.1), tile_count(0.5, 0.276)
    (1, 2, 2)
    """
    return max(1, math.ceil((size - OVERLAP) / (area - OVERLAP) - 1e-9))


def sheets(boxes: list[Box], paper: Paper) -> list[Sheet]:
    """The fewest sheets, more or less: large drawings tiled, the small ones together on lying sheets.

    Drawings keep their direction; the paper lies or stands.
    """
    found: list[Sheet] = []
    small: list[int] = []
    for i, box in enumerate(boxes):
        if all(need <= have for need, have in zip(box.room, page(paper, True).area)):
            small.append(i)
        else:
            found += min((_tiled(i, box, page(paper, lying)) for lying in (True, False)), key=len)
    return found + _packed(small, boxes, page(paper, True))


def _tiled(index: int, box: Box, on: Page) -> list[Sheet]:
    width, height = on.area
    x, y = on.corner
    sizes = box.u1 - box.u0 + 2 * PAD, box.v1 - box.v0 + 2 * PAD
    columns, rows = tile_count(sizes[0], width), tile_count(sizes[1], height)
    left, low = _left_edge(box, columns, width), box.v0 - PAD - (rows * (height - OVERLAP) + OVERLAP - sizes[1]) / 2
    return [
        Sheet(
            on,
            (Placed(index, x - left - column * (width - OVERLAP), y - low - row * (height - OVERLAP)),),
            Tile(column, row, columns, rows),
        )
        for row in range(rows)
        for column in range(columns)
    ]


def _left_edge(box: Box, columns: int, width: float) -> float:
    """Left edge of the first tile: where the fewest of the spans are cut by seams, and of these nearest to the middle."""
    pitch = width - OVERLAP
    room = columns * pitch + OVERLAP - (box.u1 - box.u0 + 2 * PAD)

    def spans_cut(left: float) -> int:
        seams = [left + column * pitch + OVERLAP / 2 for column in range(1, columns)]
        return sum(low < at < high for at in seams for low, high in box.whole)

    shifts = sorted((share / SHIFTS for share in range(SHIFTS + 1)), key=lambda share: abs(share - 0.5))
    return min((box.u0 - PAD - room * share for share in shifts), key=spans_cut)


def _packed(small: list[int], boxes: list[Box], on: Page) -> list[Sheet]:
    """Drawings in rows from the top of the sheet, the tallest first."""
    width, height = on.area
    x, y = on.corner
    pages: list[list[Placed]] = []
    across, top, tallest = math.inf, 0.0, 0.0
    for i in sorted(small, key=lambda i: -boxes[i].room[1]):
        box = boxes[i]
        wide, high = box.room
        if across + wide > width:
            across, top, tallest = 0.0, top - tallest - GAP, high
        if not pages or top - high < 0:
            pages.append([])
            across, top, tallest = 0.0, height, high
        pages[-1].append(Placed(i, x + across + PAD - box.u0, y + top - PAD - box.above - box.v1))
        across += wide + GAP
    return [Sheet(on, tuple(placed)) for placed in pages]
