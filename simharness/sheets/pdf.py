"""The cut sheets as one PDF: words and tables first, then the parts at true scale."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass

from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import SimpleDocTemplate, Spacer

from simharness import __version__
from simharness.sheets import ink
from simharness.sheets.build_list import Section
from simharness.sheets.flow import paragraph, section_flow
from simharness.sheets.ink import BOLD, M, PLAIN, words
from simharness.sheets.shapes import Drawing, Text
from simharness.sheets.tiles import MM, PAD, Box, Page, Paper, Sheet, page, sheets

TITLE, SMALL = 2.6 * MM, 1.9 * MM
"""Heights of capitals in titles and captions, m."""
LINE = 3.6 * MM
"""Between the lines of a caption, m."""
CAPTION = 118 * MM
"""Least width of a caption, m."""
FOOT_ROWS = 5
"""Lines at the foot of a sheet, below its heading."""
PRINT = "Print at 100 % (actual size, not fitted to the page). Both bars must measure 100 mm. Lines: cut to their middle."


@dataclass(frozen=True)
class Words:
    """What is written before the drawings: title, a line below it, sections."""

    title: str
    subtitle: str
    sections: tuple[Section, ...]


def pdf_bytes(front: Words, drawings: tuple[Drawing, ...], paper: Paper) -> bytes:
    """The whole document.

    Parameters
    ----------
    drawings : at true scale; those greater than the paper go over several sheets.
    """
    ink.use_fonts()
    plan = sheets([_box(drawing) for drawing in drawings], paper)

    def add_sheets(canvas: Canvas) -> None:
        for number, sheet in enumerate(plan, 1):
            _sheet(canvas, sheet, number, len(plan), drawings, front.title)

    return _document(front, _contents(plan, drawings), page(paper, False), add_sheets)


class _Canvas(Canvas):
    """Takes further pages after those of the text, before it is closed."""

    further: Callable[[Canvas], None]

    def save(self) -> None:
        """Add the further pages and close the document."""
        self.further(self)
        super().save()


def _document(front: Words, contents: Section, on: Page, further: Callable[[Canvas], None]) -> bytes:
    """Title, contents and sections, over as many pages as they need, and then the further pages."""

    def canvas(*arguments, **options) -> _Canvas:
        made = _Canvas(*arguments, **options)
        made.setViewerPreference("PrintScaling", "None")
        made.further = further
        return made

    def foot(canvas: Canvas, document: SimpleDocTemplate) -> None:
        words(canvas, Text((on.width / 2, 8 * MM), f"{front.title} · page {document.page} of the text", SMALL))

    flow = [paragraph(front.title, 16, BOLD), paragraph(front.subtitle, 9), Spacer(1, 4 * MM * M)]
    for section in (contents, *front.sections):
        flow += section_flow(section)
    stream = io.BytesIO()
    edge = 14 * MM * M
    document = SimpleDocTemplate(
        stream, pagesize=(on.width * M, on.height * M), leftMargin=edge, rightMargin=edge, topMargin=edge, bottomMargin=edge,
        title=f"{front.title}: cut sheets", creator=f"simharness {__version__}", invariant=1,
    )
    document.build(flow, onFirstPage=foot, onLaterPages=foot, canvasmaker=canvas)
    return stream.getvalue()


def _caption_lines(drawing: Drawing) -> list[str]:
    width = max(_span(drawing), CAPTION)
    return [line for part in drawing.caption for line in simpleSplit(part, PLAIN, SMALL * M / ink.CAP_HEIGHT, width * M)]


def _span(drawing: Drawing) -> float:
    u0, _, u1, _ = drawing.bounds()
    return u1 - u0


def _box(drawing: Drawing) -> Box:
    above = TITLE + LINE * (len(_caption_lines(drawing)) + 0.5) + 2 * MM
    edges = [path.line().bounds for path in drawing.paths if path.layer == "cut" and path is not drawing.paths[0]]
    return Box(*drawing.bounds(), above=above, width=CAPTION, whole=tuple((u0 - PAD, u1 + PAD) for u0, _, u1, _ in edges))


def _contents(plan: list[Sheet], drawings: tuple[Drawing, ...]) -> Section:
    """Which part is on which sheet."""
    rows = [("part", "sheet", "")]
    for i, drawing in enumerate(drawings):
        numbers = [n for n, sheet in enumerate(plan, 1) if any(p.index == i for p in sheet.placed)]
        tile = plan[numbers[0] - 1].tile
        several = "" if tile.alone else f"{tile.columns} across, {tile.rows} up: join them"
        rows.append((drawing.title, f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}", several))
    tiled = (drawings[sheet.placed[0].index] for sheet in plan if sheet.tile.last and not sheet.tile.alone)
    joining = (
        "Where a part goes over several sheets: cut one of two neighbours along the broken line, lay it on the other so that the crosses "
        "cover each other, and tape."
    )
    captions = (f"{drawing.title}: {' '.join(drawing.caption)}" for drawing in tiled)
    return Section("Sheets", (PRINT, *captions, joining), tuple(rows))


def _sheet(canvas: Canvas, sheet: Sheet, number: int, count: int, drawings: tuple[Drawing, ...], title: str) -> None:
    on = sheet.page
    canvas.setPageSize((on.width * M, on.height * M))
    (x, y), (width, height) = on.corner, on.area
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(x * M, y * M, width * M, height * M)
    canvas.clipPath(window, stroke=0)
    tiled = not sheet.tile.alone
    if tiled:
        _joins(canvas, sheet)  # Before the part, so that no broken line covers an edge.
    for placed in sheet.placed:
        ink.draw(canvas, drawings[placed.index], placed.x, placed.y)
        if not tiled:
            _caption(canvas, drawings[placed.index], placed.x, placed.y)
    canvas.restoreState()
    _foot(canvas, sheet, f"{title} · sheet {number} of {count}", drawings[sheet.placed[0].index] if tiled else None, number)
    canvas.showPage()


def _caption(canvas: Canvas, drawing: Drawing, x: float, y: float) -> None:
    u0, _, _, v1 = drawing.bounds()
    lines = _caption_lines(drawing)
    top = y + v1 + 2 * MM + LINE * (len(lines) - 0.5)
    words(canvas, Text((x + u0, top + LINE), drawing.title, TITLE, anchor="start"), BOLD)
    for i, line in enumerate(lines):
        words(canvas, Text((x + u0, top - i * LINE), line, SMALL, anchor="start"))


def _joins(canvas: Canvas, sheet: Sheet) -> None:
    """Broken lines and register marks where the neighbours join."""
    (x, y), (width, height), mark = sheet.page.corner, sheet.page.area, 8 * MM
    across, upward = sheet.seams()
    for at in across:
        ink.seam(canvas, (at, y), (at, y + height))
        for level in (y + 2 * mark, y + height - 2 * mark):
            ink.register_mark(canvas, at, level)
    for level in upward:
        ink.seam(canvas, (x, level), (x + width, level))
        for at in (x + 2 * mark, x + width - 2 * mark):
            ink.register_mark(canvas, at, level)


def _foot(canvas: Canvas, sheet: Sheet, title: str, tiled: Drawing | None, number: int) -> None:
    """Check bars, what the sheet is, and how its tile is joined."""
    on = sheet.page
    (x, y) = on.corner
    bar = on.width - on.corner[0] - 96 * MM
    ink.check_bar(canvas, bar, y - 9 * MM, upright=False)
    ink.check_bar(canvas, x - 3 * MM, y + 5 * MM, upright=True)
    room = (bar - x - 6 * MM) * M
    size = 1.6 * MM

    def wrapped(text: str) -> list[str]:
        return simpleSplit(text, PLAIN, size * M / ink.CAP_HEIGHT, room)

    heading = f"{tiled.title}: {title}" if tiled else title
    rows = wrapped(PRINT)
    if tiled is not None:
        joins, detail = wrapped(_neighbours(sheet, number)), wrapped(" ".join(tiled.caption))
        # A standing sheet has no room for the caption; the text pages have it too.
        rows = joins + (detail if len(joins + detail + rows) <= FOOT_ROWS else []) + rows
    for i, line in enumerate((heading, *rows)):
        words(canvas, Text((x, y - (2.2 + 2.4 * i) * MM), line, size, anchor="start"), BOLD if i == 0 else PLAIN)


def _neighbours(sheet: Sheet, number: int) -> str:
    tile = sheet.tile
    found = [
        f"sheet {number + step} {where}" for step, where, there in (
            (-1, "on the left", tile.column > 0), (1, "on the right", tile.column < tile.columns - 1),
            (-tile.columns, "below", tile.row > 0), (tile.columns, "above", tile.row < tile.rows - 1),
        ) if there
    ]
    return "Joins " + ", ".join(found) + ": cut along the broken line, lay cross on cross."
