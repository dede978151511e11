"""Paths, marks and text on a PDF page at true scale; millimetres and points stay inside."""

from __future__ import annotations

import math

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from simharness.sheets.drawing.lettering import PLAIN, SIZES, M, points
from simharness.sheets.flat.paths import HEAD, Arrow, Drawing, Mark, Path, Text, arc

WIDE, NARROW = 0.35, 0.18
"""Widths of the wide and the narrow lines of one group of ISO 128-2 (memory), mm: wide for edges only."""
LINES = {
    "cut": ((0.0, 0.0, 0.0), WIDE),
    "etch": ((0.0, 0.45, 0.35), WIDE),
    "score": ((0.0, 0.28, 0.7), NARROW),
    "drill": ((0.75, 0.0, 0.0), NARROW),
    "note": ((0.4, 0.4, 0.4), NARROW),
    "dimension": ((0.3, 0.3, 0.3), NARROW),
}
"""Colour and width (mm) of the lines of each layer; only cuts are black."""
DASHED, CHAINED = (3.0, 1.2), (6.0, 1.0, 0.6, 1.0)
"""Lengths of dashes and gaps, mm: of hidden lines and lines beside the part, and of centre lines."""
BAR, JOIN, TEXT_COLOUR = (0.0, 0.4, 0.2), (0.75, 0.0, 0.75), (0.27, 0.27, 0.27)
"""Colours of check bars, of joins between tiles, of text."""
ROUND = 1
"""Lines are joined round: pointed joins run past the tip of a tapered slot by twice the width of the line."""


def draw_lines(canvas: Canvas, drawing: Drawing, x: float, y: float) -> None:
    """Paths, marks and arrows of a drawing with its origin at (x, y) of the page, m."""
    canvas.saveState()
    canvas.translate(x * M, y * M)
    for arrow in drawing.dimensions.arrows:  # Before the edges, so that no head covers one.
        _head(canvas, arrow)
    for layer in ("dimension", "note", "score", "drill", "etch", "cut"):
        colour, width = LINES[layer]
        canvas.setStrokeColorRGB(*colour)
        canvas.setLineWidth(width * mm)
        canvas.setLineJoin(ROUND)
        for path in (*drawing.dimensions.paths, *drawing.paths):
            if path.layer == layer:
                _path(canvas, path)
        if layer == "drill":
            for mark in drawing.marks:
                _cross(canvas, mark)
    canvas.restoreState()


def _path(canvas: Canvas, path: Path) -> None:
    canvas.setDash([length * mm for length in (DASHED if path.dashed else CHAINED if path.chained else ())])
    line = canvas.beginPath()
    line.moveTo(*(M * c for c in path.points[0]))
    for begin, end, bulge in path.pieces():
        if bulge:
            bow = arc(begin, end, bulge)
            (u, v), r = bow.centre, bow.radius
            box = (u - r) * M, (v - r) * M, (u + r) * M, (v + r) * M
            line.arcTo(*box, startAng=math.degrees(bow.start), extent=math.degrees(bow.sweep))
        else:
            line.lineTo(*(M * c for c in end))
    if path.closed:
        line.close()
    canvas.drawPath(line)
    canvas.setDash()


def _head(canvas: Canvas, arrow: Arrow) -> None:
    """A filled head, a sixth as wide on each side as it is long."""
    (u, v), (along, across) = arrow.tip, (math.cos(arrow.way), math.sin(arrow.way))
    canvas.setFillColorRGB(*LINES["dimension"][0])
    shape = canvas.beginPath()
    shape.moveTo(u * M, v * M)
    for side in (-1, 1):
        shape.lineTo(
            (u - HEAD * (along - side * across / 6)) * M, (v - HEAD * (across + side * along / 6)) * M
        )
    shape.close()
    canvas.drawPath(shape, stroke=0, fill=1)


def _cross(canvas: Canvas, mark: Mark) -> None:
    """A cross that stays inside the hole, at most 3 mm wide."""
    (u, v), arm = mark.at, min(1.5e-3, 0.4 * mark.diameter)
    canvas.line((u - arm) * M, v * M, (u + arm) * M, v * M)
    canvas.line(u * M, (v - arm) * M, u * M, (v + arm) * M)


def draw_text(
    canvas: Canvas, text: Text, font: str = PLAIN, colour: tuple[float, float, float] = TEXT_COLOUR
) -> None:
    """A text with the middle of its capitals at its place, m from the origin in force."""
    canvas.saveState()
    canvas.setFillColorRGB(*colour)
    canvas.setFont(font, points(text.height))
    canvas.translate(text.at[0] * M, text.at[1] * M)
    if text.upward:
        canvas.rotate(90)
    put = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}[
        text.anchor
    ]
    put(0, -text.height * M / 2, text.words)
    canvas.restoreState()


def check_bar(canvas: Canvas, x: float, y: float, upright: bool) -> None:
    """A bar of exactly 100 mm with end ticks from (x, y), m, and its label."""
    canvas.setStrokeColorRGB(*BAR)
    canvas.setLineWidth(WIDE * mm)
    along, tick = 0.1, 1.5e-3
    lines = [((0, 0), (along, 0)), ((0, -tick), (0, tick)), ((along, -tick), (along, tick))]
    for ends in lines:
        (u0, v0), (u1, v1) = [(v, u) if upright else (u, v) for u, v in ends]
        canvas.line((x + u0) * M, (y + v0) * M, (x + u1) * M, (y + v1) * M)
    at = (x - 2.4e-3, y + along / 2) if upright else (x + along / 2, y + 2.4e-3)
    draw_text(canvas, Text(at, "100 mm", SIZES[1], upward=upright), colour=BAR)


def register_mark(canvas: Canvas, x: float, y: float) -> None:
    """A cross in a circle about a point that two sheets share, m."""
    canvas.setStrokeColorRGB(*JOIN)
    canvas.setLineWidth(0.18 * mm)
    canvas.setDash()
    canvas.circle(x * M, y * M, 2e-3 * M)
    canvas.line((x - 4e-3) * M, y * M, (x + 4e-3) * M, y * M)
    canvas.line(x * M, (y - 4e-3) * M, x * M, (y + 4e-3) * M)


def seam(canvas: Canvas, start: tuple[float, float], end: tuple[float, float]) -> None:
    """The broken line along which two sheets are joined, m."""
    canvas.setStrokeColorRGB(*LINES["note"][0])
    canvas.setLineWidth(0.15 * mm)
    canvas.setDash(1 * mm, 2 * mm)
    canvas.line(*(M * c for c in (*start, *end)))
    canvas.setDash()
