"""Which drawing goes where on which sheet of paper, at true scale; lengths in m."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from simharness.constants import MM

MARGIN = 6 * MM
"""Margin of a sheet, where printers do not print."""
LYING_FOOT, STANDING_FOOT, SIDE = 29 * MM, 34 * MM, 9 * MM
"""Strips at the foot and on the left for title block, check bars and text, m; text takes more lines on a
standing sheet."""
OVERLAP = 12 * MM
"""Width of the strip that two neighbouring tiles both show."""
GAP = 5 * MM
"""Distance between parts on one sheet."""
PAD = 1 * MM
"""Margin around a part, so that the lines of its edges are whole."""


SHIFTS = 400
"""Number of places tried for the seams of a tiled drawing."""
NEAR_SEAM = OVERLAP / 2
"""Distance from a seam at which both sheets show a thing whole or not at all."""


class Span(NamedTuple):
    """What no seam should cut, from `low` to `high`, m; edges come before text."""

    low: float
    high: float
    text: bool = False


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
    def foot(self) -> float:
        """Height of the strip at its foot."""
        return LYING_FOOT if self.width > self.height else STANDING_FOOT

    @property
    def area(self) -> tuple[float, float]:
        """Width and height of the area for drawings; its lower left corner is at `corner`."""
        return self.width - 2 * MARGIN - SIDE, self.height - 2 * MARGIN - self.foot

    @property
    def corner(self) -> tuple[float, float]:
        """Lower left corner of that area on the sheet."""
        return MARGIN + SIDE, MARGIN + self.foot


def page(paper: Paper, lying: bool) -> Page:
    """The paper lying on its long side, or standing."""
    return Page(paper.height, paper.width) if lying else Page(paper.width, paper.height)


@dataclass(frozen=True)
class Box:
    """Bounds of a drawing, and what it needs around it, m.

    Attributes
    ----------
    above : room for text above it.
    width : what it takes across at least.
    whole, upright : spans of u and of v that no seam should cut.
    """

    u0: float
    v0: float
    u1: float
    v1: float
    above: float = 0.0
    width: float = 0.0
    whole: tuple[Span, ...] = ()
    upright: tuple[Span, ...] = ()

    @property
    def room(self) -> tuple[float, float]:
        """Width and height on the sheet with its text."""
        return max(self.u1 - self.u0, self.width) + 2 * PAD, self.v1 - self.v0 + self.above + 2 * PAD


@dataclass(frozen=True)
class Placed:
    """Drawing number `index` with its origin (0, 0) at this point of the sheet, m."""

    index: int
    x: float
    y: float


@dataclass(frozen=True)
class Tile:
    """Place of a sheet in a drawing over several: column and row from the lower left, and their numbers."""

    column: int
    row: int
    columns: int
    rows: int

    @property
    def alone(self) -> bool:
        """Whether the drawing is on this one sheet."""
        return self.columns * self.rows == 1

    @property
    def last(self) -> bool:
        """Whether it is the last of its drawing, at the upper right."""
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
        across = [x + OVERLAP / 2] * (tile.column > 0) + [x + width - OVERLAP / 2] * (
            tile.column < tile.columns - 1
        )
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
    lying, standing = page(paper, True), page(paper, False)
    return min((_on(boxes, on, (lying, standing)) for on in (lying, standing)), key=len)


def _on(boxes: list[Box], on: Page, pages: tuple[Page, Page]) -> list[Sheet]:
    """The small drawings together on pages of one kind, every other tiled on the better of both."""
    small = [i for i, box in enumerate(boxes) if all(need <= have for need, have in zip(box.room, on.area))]
    found = [
        sheet
        for i, box in enumerate(boxes)
        if i not in small
        for sheet in min((_tiled(i, box, each) for each in pages), key=len)
    ]
    tallest_first = sorted(small, key=lambda i: -boxes[i].room[1])
    return found + min((_packed(order, boxes, on) for order in (small, tallest_first)), key=len)


def _tiled(index: int, box: Box, on: Page) -> list[Sheet]:
    width, height = on.area
    x, y = on.corner
    sizes = box.room
    columns, rows = tile_count(sizes[0], width), tile_count(sizes[1], height)
    left = _edge(box.u0 - PAD, sizes[0], columns, width, box.whole)
    low = _edge(box.v0 - PAD, sizes[1], rows, height, box.upright)
    return [
        Sheet(
            on,
            (Placed(index, x - left - column * (width - OVERLAP), y - low - row * (height - OVERLAP)),),
            Tile(column, row, columns, rows),
        )
        for row in range(rows)
        for column in range(columns)
    ]


def _edge(begin: float, size: float, count: int, length: float, spans: tuple[Span, ...]) -> float:
    """Where the first of `count` tiles begins, m.

    Seams shall cut the fewest edges, then the fewest texts; then ends of overlaps the fewest of either; then
    the drawing shall be in the middle.
    """
    pitch = length - OVERLAP
    room = count * pitch + OVERLAP - size
    if count == 1 or not spans:
        return begin - room / 2
    low, high, text = (np.array([span[i] for span in spans]) for i in range(3))
    shares = np.linspace(0.0, 1.0, SHIFTS + 1)
    # Axes: the place tried, the seam, the span.
    seams = begin - room * shares[:, None, None] + pitch * np.arange(1, count)[:, None] + OVERLAP / 2
    cut = (low < seams) & (seams < high)
    halved = sum(
        ((low < seams + aside) & (seams + aside < high)).sum(axis=(1, 2)) for aside in (-NEAR_SEAM, NEAR_SEAM)
    )
    burdens = (cut & ~text).sum(axis=(1, 2)), (cut & text).sum(axis=(1, 2)), halved, np.abs(shares - 0.5)
    return begin - room * float(shares[np.lexsort(burdens[::-1])[0]])


@dataclass
class _Row:
    """Drawings side by side: number of the sheet, top and height of the row, and how far it is filled; m."""

    sheet: int
    top: float
    height: float
    filled: float


def _packed(small: list[int], boxes: list[Box], on: Page) -> list[Sheet]:
    """Drawings in rows from the top, each in the first row with room for it."""
    (width, height), (x, y) = on.area, on.corner
    placed: list[list[Placed]] = []
    rows: list[_Row] = []
    for i in small:
        box = boxes[i]
        wide, high = box.room
        row = next(
            (row for row in rows if row.filled + wide <= width and high <= row.height), None
        ) or _new_row(rows, len(placed), high, height)
        if row.sheet == len(placed):
            placed.append([])
        placed[row.sheet].append(
            Placed(i, x + row.filled + PAD - box.u0, y + row.top - PAD - box.above - box.v1)
        )
        row.filled += wide + GAP
    return [Sheet(on, tuple(each)) for each in placed]


def _new_row(rows: list[_Row], sheets_used: int, high: float, height: float) -> _Row:
    """A row below the others of the first sheet with room, or on a new sheet."""
    for sheet in range(sheets_used):
        low = min(row.top - row.height for row in rows if row.sheet == sheet) - GAP
        if low - high >= 0:
            break
    else:
        sheet, low = sheets_used, height
    rows.append(_Row(sheet, low, high, 0.0))
    return rows[-1]
