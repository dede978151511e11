"""The title block at the foot of a sheet, with those data fields of ISO 7200 that a workshop needs; m."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from simharness.sheets.drawing.lettering import BOLD, PLAIN, SIZES, M, fitting, lines
from simharness.sheets.flat.paths import Text
from simharness.sheets.pages.pdf_drawing import NARROW, TEXT_COLOUR, WIDE, draw_text

ROW = 9e-3
"""Height of one of its two rows, m."""
_PAD = 1.2e-3


@dataclass(frozen=True)
class Issue:
    """What all sheets of one design share: its title, a hash of its record, the day of issue or nothing."""

    title: str
    record: str = ""
    date: str = ""


@dataclass(frozen=True)
class TitleBlock:
    """What one sheet shows: its parts, what they are made of, from where they are seen, and its number."""

    part: str
    sheet: str
    view: str
    number: str


def draw_title_block(
    canvas: Canvas, block: TitleBlock, issue: Issue, at: tuple[float, float], width: float
) -> None:
    """Two rows of fields from their lower left corner, over the whole width; m."""
    upper = (
        ("part", block.part, 0.42),
        ("material", block.sheet, 0.36),
        ("scale", "1:1", 0.10),
        ("lengths in", "mm", 0.12),
    )
    lower = (
        ("antenna", issue.title, 0.42),
        ("seen", block.view, 0.22),
        ("record", issue.record, 0.12),
        ("date", issue.date, 0.12),
        ("sheet", block.number, 0.12),
    )
    x, y = at
    canvas.saveState()
    canvas.setStrokeColorRGB(*TEXT_COLOUR)
    for level, fields in ((y + ROW, upper), (y, lower)):
        left = x
        for name, value, share in fields:
            _field(canvas, name, value, (left, level), share * width, BOLD if name == "part" else PLAIN)
            left += share * width
    canvas.setLineWidth(2 * WIDE * mm)
    canvas.rect(x * M, y * M, width * M, 2 * ROW * M)
    canvas.restoreState()


def _field(canvas: Canvas, name: str, value: str, at: tuple[float, float], width: float, font: str) -> None:
    (x, y), room = at, width - 2 * _PAD
    canvas.setLineWidth(NARROW * mm)
    canvas.rect(x * M, y * M, width * M, ROW * M)
    draw_text(canvas, Text((x + _PAD, y + ROW - 1.7e-3), name, SIZES[0], anchor="start"))
    size = fitting(value, room, font, SIZES[2])
    rows = lines(value, size, room, font)
    if len(rows) > 2:
        rows = [rows[0], f"{rows[1]} ..."]
    for i, row in enumerate(rows):
        draw_text(
            canvas,
            Text(
                (x + _PAD, y + (3.1e-3 if len(rows) == 1 else 4.9e-3 - 2.7e-3 * i)), row, size, anchor="start"
            ),
            font,
        )
