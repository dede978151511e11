"""Sections of sentences and tables on the pages of a PDF: full pages, no heading without what follows it."""

from __future__ import annotations

import io
from collections.abc import Callable
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    KeepTogether,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from simharness.sheets.build.section import Section
from simharness.sheets.drawing.lettering import BOLD, CAP_HEIGHT, PLAIN, M, lines, width
from simharness.sheets.pages.pdf_drawing import TEXT_COLOUR

SHORT = 8
"""A table of no more rows is not broken over pages."""
TOGETHER = 3
"""Fewest rows on either page where a table is broken."""
MAX_WIDTH = 172e-3
"""Greatest width of a table, m: between the margins of the narrower paper."""
MIN_FILLED = 0.3
"""Share of the last page that should be filled."""
SCALES = (1.0, 0.97, 0.94, 1.03, 0.91, 1.06, 1.09)
"""Scales of letters and spaces, tried in this order until the last page is full enough."""
_ABOVE = 3e-3
"""Space above the heading of a section, m."""


def built(
    flow: Callable[[float], list[Flowable]], document: Callable[[io.BytesIO], SimpleDocTemplate]
) -> bytes:
    """The document; its letters a little smaller or larger where its last page would be nearly empty.

    Parameters
    ----------
    flow : function
        The content at a scale of its letters; called anew for every attempt.
    document : function
        The document that is written to a stream.

    Returns
    -------
    bytes
    """
    best, fullest = b"", -1.0
    for scale in SCALES:
        stream, seen = io.BytesIO(), _LastPage()
        made = document(stream)
        made.build([*flow(scale), seen])
        filled = 1.0 if made.page == 1 else seen.filled
        if filled > fullest:
            best, fullest = stream.getvalue(), filled
        if filled >= MIN_FILLED:
            break
    return best


class _LastPage(Flowable):
    """An invisible element that finds out how far the page is filled where it stands."""

    filled = 0.0

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Take no room, and note how full the frame is."""
        frame = getattr(self, "_frame", None)
        if frame is not None:
            self.filled = 1 - available_height / (frame._aH or 1)
        return 0, 0

    def draw(self) -> None:
        """Draw nothing."""


class _Start(CondPageBreak):
    """A new page, unless the first pieces of what follows fit on this one."""

    def __init__(self, pieces: list[Flowable]):
        super().__init__(0)
        self.pieces = pieces

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Set the height that they need."""
        self.height = sum(
            piece.wrap(available_width, available_height)[1] + piece.getSpaceAfter() for piece in self.pieces
        )
        return super().wrap(available_width, available_height)


class _Rows(Table):
    """A table that leaves some rows on either page where it is broken."""

    def split(self, available_width: float, available_height: float) -> list[Flowable]:
        """The two pieces; nothing, which means the next page, where too few rows would stand on this one."""
        parts = super().split(available_width, available_height)
        if len(parts) == 2:
            first, second = (len(part._cellvalues) - self.repeatRows for part in parts)
            if second < TOGETHER and first > TOGETHER:
                height = sum(self._rowHeights[: self.repeatRows + first + second - TOGETHER])
                parts = super().split(available_width, height + 0.1)
                first = len(parts[0]._cellvalues) - self.repeatRows if len(parts) == 2 else first
            if first < TOGETHER:
                return []
        return parts


def paragraph(
    text: str,
    size: float,
    font: str = PLAIN,
    after: float = 3,
    colour: tuple[float, float, float] = TEXT_COLOUR,
) -> Paragraph:
    """Text in one size (points) and colour, with `after` points below it."""
    style = ParagraphStyle(
        font, fontName=font, fontSize=size, leading=1.3 * size, spaceAfter=after, textColor=Color(*colour)
    )
    return Paragraph(escape(text), style)


def section_flow(section: Section, scale: float = 1.0, before: tuple[Flowable, ...] = ()) -> list[Flowable]:
    """Heading, sentences and table; the heading stays with what follows it, and a short table in one piece.

    Parameters
    ----------
    section : Section
    scale : float
        Of all letters.
    before : tuple of Flowable
        Further headings, kept with the section's own.
    """
    heading = [
        *before,
        Spacer(1, _ABOVE * M * scale),
        *([paragraph(section.title, 12 * scale, BOLD)] if section.title else []),
    ]
    body = [paragraph(sentence, 9.5 * scale) for sentence in section.sentences]
    if not section.table:
        return [KeepTogether(heading + body[:1]), *body[1:]]
    table = _table(section.table, scale)
    if len(section.table) <= SHORT:
        lead = body[:-1] if len(body) > 2 else []
        if not lead:
            return [KeepTogether([*heading, *body, table])]
        return [KeepTogether(heading + lead[:1]), *lead[1:], KeepTogether([*body[-1:], table])]
    first = _table(section.table[: TOGETHER + 1], scale)
    if len(body) > 2:
        return [KeepTogether(heading + body[:1]), *body[1:-1], _Start([body[-1], first]), body[-1], table]
    return [_Start([*heading, *body, first]), *heading, *body, table]


def _broken(rows: tuple[tuple[str, ...], ...], size: float) -> list[tuple[str, ...]]:
    """Rows whose table is no wider than `MAX_WIDTH`: heads are broken first, then the widest column."""
    height, padding = size / M * CAP_HEIGHT, 12 / M
    body = [max((width(cell, height) for cell in column[1:]), default=0.0) + padding for column in zip(*rows)]
    heads = [width(cell, height, BOLD) + padding for cell in rows[0]]
    if sum(map(max, body, heads)) <= MAX_WIDTH:
        return list(rows)
    longest = [max(width(word, height, BOLD) for word in (*cell.split(), "")) + padding for cell in rows[0]]
    room = [max(pair) for pair in zip(body, longest)]
    widest = room.index(max(room))
    room[widest] -= max(0.0, sum(room) - MAX_WIDTH)
    spare = max(0.0, MAX_WIDTH - sum(room)) / len(room)
    breaks = [each - padding + (spare if i != widest else 0.0) + 1e-6 for i, each in enumerate(room)]
    return [
        tuple(
            "\n".join(lines(cell, height, limit, BOLD if i == 0 else PLAIN))
            for cell, limit in zip(row, breaks)
        )
        for i, row in enumerate(rows)
    ]


def _table(rows: tuple[tuple[str, ...], ...], scale: float) -> Table:
    size = 9 * scale
    style = TableStyle(
        [
            ("FONT", (0, 0), (-1, -1), PLAIN, size),
            ("FONT", (0, 0), (-1, 0), BOLD, size),
            ("TEXTCOLOR", (0, 0), (-1, -1), Color(*TEXT_COLOUR)),
            ("LINEBELOW", (0, 0), (-1, 0), 0.6, Color(*TEXT_COLOUR)),
            ("LINEBELOW", (0, 1), (-1, -1), 0.2, Color(0.8, 0.8, 0.8)),
            ("TOPPADDING", (0, 0), (-1, -1), 1.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
            ("ALIGN", (1, 0), (-1, -1), "LEFT"),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEADING", (0, 0), (-1, -1), 1.15 * size),
        ]
    )
    return _Rows(_broken(rows, size), repeatRows=1, hAlign="LEFT", style=style)
