"""Sheets with the parts at true scale: what is on which, with captions, joins, check bars and title block."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
from reportlab.pdfgen.canvas import Canvas
from shapely.geometry import box

from simharness.sheets.build.section import Section
from simharness.sheets.drawing.lettering import BOLD, PLAIN, SIZES, lines, text_bounds
from simharness.sheets.drawing.placing import Room, drawn_bounds
from simharness.sheets.flat.paths import Drawing, Text
from simharness.sheets.pages import pdf_drawing
from simharness.sheets.pages.pdf_drawing import M, draw_text
from simharness.sheets.pages.tiles import MARGIN, MM, PAD, Box, Paper, Sheet, Span, sheets
from simharness.sheets.pages.title_block import ROW, Issue, TitleBlock, draw_title_block

_, SMALL, _, TITLE = SIZES
LINE = 3.6 * MM
"""Distance between the lines of a caption, m."""
CAPTIONS = (72 * MM, 85 * MM, 105 * MM, 125 * MM)
"""Widths that are tried for the caption of a small part, m: the least that needs no more than `MAX_LINES`."""
MAX_LINES = 9
MAX_CAPTION = 180 * MM
"""Greatest width of a caption, m."""
PRINT = "Print at 100 %: both bars must measure 100 mm. Cut to the middle of the lines."


def planned(drawings: tuple[Drawing, ...], paper: Paper) -> tuple[list[Sheet], tuple[Drawing, ...]]:
    """Which drawing goes on which sheet, and the drawings.

    Captions are moved onto large parts where that saves sheets.
    """
    chosen = tuple(_saving_sheets(drawing, paper) for drawing in drawings)
    return sheets([_box(drawing) for drawing in chosen], paper), chosen


def _saving_sheets(drawing: Drawing, paper: Paper) -> Drawing:
    """The drawing, with its caption on the part where it then takes fewer sheets."""
    count = len(sheets([_box(drawing)], paper))
    other = _caption_inside(drawing) if count > 1 else drawing
    return other if other is not drawing and len(sheets([_box(other)], paper)) < count else drawing


def _caption_inside(drawing: Drawing) -> Drawing:
    """The drawing with its caption on an empty area of the part, if there is one large enough."""
    room, (u0, v0, u1, v1) = Room(drawing.paths), drawing.bounds()
    room.add(replace(drawing.dimensions, texts=drawing.dimensions.texts + drawing.texts))
    bounds = [text_bounds(text, font) for text, font in caption_texts(drawing)]
    wide, high = (
        max(b[2] for b in bounds) - min(b[0] for b in bounds),
        max(b[3] for b in bounds) - min(b[1] for b in bounds),
    )
    for u, v in itertools.product(
        np.arange(u0 + 2 * LINE, u1 - wide, 2 * LINE), np.arange(v1 - LINE, v0 + high, -LINE)
    ):
        if room.is_empty(box(u - LINE, v - high - LINE, u + wide + LINE, v + LINE)):
            return replace(drawing, caption_at=(float(u), float(v)))
    return drawing


def contents(plan: list[Sheet], drawings: tuple[Drawing, ...]) -> Section:
    """Which part is on which sheet."""
    rows = [("part", "sheet", "")]
    for i, drawing in enumerate(drawings):
        numbers = [n for n, sheet in enumerate(plan, 1) if any(p.index == i for p in sheet.placed)]
        tile = plan[numbers[0] - 1].tile
        several = "" if tile.alone else f"{tile.columns} across, {tile.rows} up: join them"
        rows.append(
            (
                drawing.title,
                f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}",
                several,
            )
        )
    joining = (
        ()
        if all(sheet.tile.alone for sheet in plan)
        else (
            "Where a part goes over several sheets: cut one of two neighbours along the broken line, lay "
            "it on the other so that the crosses cover each other, and tape.",
        )
    )
    reading = (
        "Numbers at a circle count from there: places along a wall from the inner face of its near end. "
        "Slots: lengths outside the part or beside them, offsets from the centre line at their ends."
    )
    return Section(
        "Sheets", ("Print at actual size, not fitted to the page. " + PRINT, reading, *joining), tuple(rows)
    )


def draw_sheet(
    canvas: Canvas, plan: list[Sheet], number: int, drawings: tuple[Drawing, ...], issue: Issue
) -> None:
    """Sheet `number` of the plan, counted from 1, as a page of its own."""
    sheet = plan[number - 1]
    on = sheet.page
    canvas.setPageSize((on.width * M, on.height * M))
    (x, y), (width, height) = on.corner, on.area
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(x * M, y * M, width * M, height * M)
    canvas.clipPath(window, stroke=0)
    if not sheet.tile.alone:
        _joins(canvas, sheet)  # Before the part, so that no broken line covers an edge.
    for placed in sheet.placed:
        drawing = drawings[placed.index]
        pdf_drawing.draw_lines(canvas, drawing, placed.x, placed.y)
        for text, font in _whole(
            _texts(drawing), sheet, [other for other in plan if other.placed[0].index == placed.index]
        ):
            draw_text(canvas, replace(text, at=(placed.x + text.at[0], placed.y + text.at[1])), font)
    canvas.restoreState()
    _foot(canvas, sheet, number)
    shown = [drawings[placed.index] for placed in sheet.placed]
    names = ", ".join(d.title for d in shown) if len(shown) < 3 else f"{len(shown)} parts"
    block = TitleBlock(
        names, _common([d.sheet for d in shown]), _common([d.view for d in shown]), f"{number} of {len(plan)}"
    )
    draw_title_block(canvas, block, issue, (x, MARGIN), width)
    canvas.showPage()


def _common(words_of_parts: list[str]) -> str:
    return words_of_parts[0] if len(set(words_of_parts)) == 1 else "as written at each part"


def caption_width(drawing: Drawing) -> float:
    """Width of the caption of a drawing, m."""
    u0, _, u1, _ = drawn_bounds(drawing)
    room = next((width for width in CAPTIONS if len(_rows(drawing, width)) <= MAX_LINES), CAPTIONS[-1])
    return min(max(u1 - u0, room), MAX_CAPTION)


def _rows(drawing: Drawing, width: float) -> list[str]:
    return [row for part in drawing.caption for row in lines(part, SMALL, width)]


def caption_texts(drawing: Drawing) -> list[tuple[Text, str]]:
    """Title and lines of a caption over a drawing, each with its font; m from the drawing's origin."""
    u0, _, _, v1 = drawn_bounds(drawing)
    rows = _rows(drawing, caption_width(drawing))
    top = v1 + 3 * MM + LINE * (len(rows) - 0.5)
    if drawing.caption_at is not None:
        u0, top = drawing.caption_at[0], drawing.caption_at[1] - TITLE / 2 - LINE - 2.2 * MM
    found = [(Text((u0, top + LINE + 2.2 * MM), drawing.title, TITLE, anchor="start"), BOLD)]
    return found + [
        (Text((u0, top - i * LINE), row, SMALL, anchor="start"), PLAIN) for i, row in enumerate(rows)
    ]


def _texts(drawing: Drawing) -> list[tuple[Text, str]]:
    """All texts of a drawing, each with its font."""
    return [*((text, PLAIN) for text in (*drawing.texts, *drawing.dimensions.texts)), *caption_texts(drawing)]


def _whole(texts: list[tuple[Text, str]], sheet: Sheet, others: list[Sheet]) -> list[tuple[Text, str]]:
    """The texts of a drawing that belong on this sheet of several.

    Those that are whole on it or go over its joins, and those that are whole on none of its sheets.
    """
    if sheet.tile.alone:
        return texts
    kept = []
    for text, font in texts:
        bounds = text_bounds(text, font)
        if (
            _shows(sheet, bounds)
            or _joined_through(sheet, bounds)
            or not any(_shows(other, bounds) for other in others)
        ):
            kept.append((text, font))
    return kept


def _joined_through(sheet: Sheet, bounds: tuple[float, float, float, float]) -> bool:
    """Whether a rectangle of its drawing lies on one of the joins of a tile."""
    placed, (across, upward), (u0, v0, u1, v1) = sheet.placed[0], sheet.seams(), bounds
    return any(u0 < x - placed.x < u1 for x in across) or any(v0 < y - placed.y < v1 for y in upward)


def _shows(sheet: Sheet, bounds: tuple[float, float, float, float]) -> bool:
    """Whether a rectangle of its drawing is whole on a tile."""
    (x, y), (width, height), placed = sheet.page.corner, sheet.page.area, sheet.placed[0]
    u0, v0, u1, v1 = bounds
    return (
        x <= placed.x + u0
        and placed.x + u1 <= x + width
        and y <= placed.y + v0
        and placed.y + v1 <= y + height
    )


def _box(drawing: Drawing) -> Box:
    u0, v0, u1, v1 = drawn_bounds(drawing)
    above = (
        max(0.0, caption_texts(drawing)[0][0].at[1] + TITLE / 2 - v1 + 2 * MM)
        if drawing.caption_at is None
        else 0.0
    )
    edges = [
        path.line().bounds
        for path in drawing.paths
        if path.layer in ("cut", "etch") and path is not drawing.paths[0]
    ]
    written = [text_bounds(text, font) for text, font in _texts(drawing)]
    spans = [*((b, False) for b in edges), *((b, True) for b in written)]
    return Box(
        u0,
        v0,
        u1,
        v1,
        above=above,
        width=min(caption_width(drawing), max(b[2] - u0 for b in written)),
        whole=tuple(Span(b[0] - PAD, b[2] + PAD, is_word) for b, is_word in spans),
        upright=tuple(Span(b[1] - PAD, b[3] + PAD, is_word) for b, is_word in spans),
    )


def _joins(canvas: Canvas, sheet: Sheet) -> None:
    """Broken lines and register marks where the neighbours join."""
    (x, y), (width, height), mark = sheet.page.corner, sheet.page.area, 8 * MM
    across, upward = sheet.seams()
    for at in across:
        pdf_drawing.seam(canvas, (at, y), (at, y + height))
        for level in (y + 2 * mark, y + height - 2 * mark):
            pdf_drawing.register_mark(canvas, at, level)
    for level in upward:
        pdf_drawing.seam(canvas, (x, level), (x + width, level))
        for at in (x + 2 * mark, x + width - 2 * mark):
            pdf_drawing.register_mark(canvas, at, level)


def foot_texts(sheet: Sheet, number: int) -> list[Text]:
    """How to print and to join the sheet, beside its lying check bar; m on the page."""
    (x, y), (width, _) = sheet.page.corner, sheet.page.area
    room = width - 108 * MM
    height, step = SMALL, LINE
    rows = _foot_rows(sheet, number, room, SMALL)
    if len(rows) * LINE > sheet.page.foot - 2 * ROW - 1 * MM:
        height, step = SIZES[0], 2.8 * MM
        rows = _foot_rows(sheet, number, room, height)
    return [Text((x, y - 2.6 * MM - i * step), row, height, anchor="start") for i, row in enumerate(rows)]


def _foot_rows(sheet: Sheet, number: int, room: float, height: float) -> list[str]:
    return [row for sentence in (_neighbours(sheet, number), PRINT) for row in lines(sentence, height, room)]


def _foot(canvas: Canvas, sheet: Sheet, number: int) -> None:
    """Check bars, and how the sheet is printed and joined."""
    (x, y), (width, _) = sheet.page.corner, sheet.page.area
    pdf_drawing.check_bar(canvas, x + width - 102 * MM, y - 7.5 * MM, upright=False)
    pdf_drawing.check_bar(canvas, x - 3 * MM, y + 5 * MM, upright=True)
    for text in foot_texts(sheet, number):
        draw_text(canvas, text)


def _neighbours(sheet: Sheet, number: int) -> str:
    """Which sheets this one joins; nothing where it stands alone."""
    tile = sheet.tile
    if tile.alone:
        return ""
    found = [
        f"{number + step} {where}"
        for step, where, there in (
            (-1, "left", tile.column > 0),
            (1, "right", tile.column < tile.columns - 1),
            (-tile.columns, "below", tile.row > 0),
            (tile.columns, "above", tile.row < tile.rows - 1),
        )
        if there
    ]
    return "Joins sheet " + ", ".join(found) + ": cut along the broken line, lay cross on cross."
