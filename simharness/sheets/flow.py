"""Sections of words and tables as they flow over the pages of a PDF."""

from __future__ import annotations

from xml.sax.saxutils import escape

from reportlab.lib.colors import Color
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer, Table, TableStyle

from simharness.sheets.build_list import Section
from simharness.sheets.ink import BOLD, PLAIN, WORDS, M

SHORT = 12
"""Rows of a table that is not broken over pages."""
_ABOVE = 3e-3
"""Above the heading of a section, m."""


def paragraph(text: str, size: float, font: str = PLAIN, after: float = 3, colour: tuple[float, float, float] = WORDS) -> Paragraph:
    """Words in one size (points) and colour, with `after` points below them."""
    style = ParagraphStyle(font, fontName=font, fontSize=size, leading=1.3 * size, spaceAfter=after, textColor=Color(*colour))
    return Paragraph(escape(text), style)


def section_flow(section: Section) -> list[Flowable]:
    """Heading, sentences and table; the heading stays with what follows it, and a short table in one piece."""
    heading = [Spacer(1, _ABOVE * M), *([paragraph(section.title, 11, BOLD)] if section.title else [])]
    body = [paragraph(sentence, 8.5) for sentence in section.sentences]
    if not section.table:
        return [KeepTogether(heading + body[:1]), *body[1:]]
    table = _table(section.table)
    if len(section.table) <= SHORT:
        return [KeepTogether([*heading, *body, table])]
    return [KeepTogether(heading + body), table]


def _table(rows: tuple[tuple[str, ...], ...]) -> Table:
    style = TableStyle([
        ("FONT", (0, 0), (-1, -1), PLAIN, 8), ("FONT", (0, 0), (-1, 0), BOLD, 8), ("TEXTCOLOR", (0, 0), (-1, -1), Color(*WORDS)),
        ("LINEBELOW", (0, 0), (-1, 0), 0.6, Color(*WORDS)), ("LINEBELOW", (0, 1), (-1, -1), 0.2, Color(0.8, 0.8, 0.8)),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
        ("ALIGN", (1, 0), (-1, -1), "LEFT"),
    ])
    return Table(rows, repeatRows=1, hAlign="LEFT", style=style)
