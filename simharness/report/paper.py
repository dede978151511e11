"""The report as a PDF: the same chapters as the page, without the view that turns."""

from __future__ import annotations

import io

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import CondPageBreak, Flowable, Image, KeepTogether, SimpleDocTemplate, Spacer

from simharness import __version__
from simharness.match_state import MatchState
from simharness.report.content import Chapter, Report, with_minus_signs
from simharness.report.pictures import Picture
from simharness.sheets import ink
from simharness.sheets.build_list import Section
from simharness.sheets.flow import paragraph, section_flow
from simharness.sheets.ink import BOLD, M, words
from simharness.sheets.shapes import Text
from simharness.sheets.tiles import MM, PAPERS, Paper

EDGE = 16 * MM
"""Margin, m."""
PIXEL = 25.4 * MM / 260
"""Of a picture, m; smaller where a picture is too wide or too high for the page."""
ROOM = 60 * MM
"""A chapter begins on a new page where less than this is left, m."""
_HEADLINE_COLOURS = {MatchState.MET: (0.04, 0.42, 0.23), MatchState.CLOSE: (0.42, 0.31, 0.0), MatchState.MISSED: (0.64, 0.23, 0.0)}
"""Those of the page."""
HIGHEST = 0.8
"""Of the page between its margins: the height of a picture."""


def pdf_bytes(report: Report, paper: str) -> bytes:
    """The whole document.

    Parameters
    ----------
    report : Report
    paper : str
        'a4' or 'letter'.

    Returns
    -------
    bytes
    """
    ink.use_fonts()
    size = PAPERS[paper]

    def foot(canvas: Canvas, document: SimpleDocTemplate) -> None:
        words(canvas, Text((size.width / 2, EDGE / 2), f"{report.title} · page {document.page}", 1.9 * MM))

    flow: list[Flowable] = [paragraph(with_minus_signs(report.title), 16, BOLD), paragraph(report.subtitle, 9)]
    if report.note:
        flow.append(paragraph(with_minus_signs(report.note), 9))
    for chapter in report.chapters:
        flow += _chapter(chapter, report, size)
    stream = io.BytesIO()
    document = SimpleDocTemplate(
        stream, pagesize=(size.width * M, size.height * M), leftMargin=EDGE * M, rightMargin=EDGE * M, topMargin=EDGE * M,
        bottomMargin=EDGE * M, title=f"{report.title}: report", creator=f"simharness {__version__}", invariant=1, lang="en",
    )
    document.build(flow, onFirstPage=foot, onLaterPages=foot)
    return stream.getvalue()


def _chapter(chapter: Chapter, report: Report, size: Paper) -> list[Flowable]:
    flow: list[Flowable] = [CondPageBreak(ROOM * M), Spacer(1, 5 * MM * M), paragraph(chapter.title, 14, BOLD)]
    if chapter.key == "verdict":
        flow.append(paragraph(report.headline, 12, BOLD, colour=_HEADLINE_COLOURS[report.state]))
    for section in chapter.sections:
        flow += section_flow(_typeset(section))
    return flow + [_picture(picture, size) for picture in chapter.pictures]


def _typeset(section: Section) -> Section:
    return Section(
        with_minus_signs(section.title), tuple(map(with_minus_signs, section.sentences)),
        tuple(tuple(map(with_minus_signs, row)) for row in section.table),
    )


def _picture(picture: Picture, size: Paper) -> Flowable:
    """Title, picture, and in words what is to be seen."""
    wide, high = picture.pixels
    width, height = size.width - 2 * EDGE, HIGHEST * (size.height - 2 * EDGE)
    pixel = min(PIXEL, width / wide, height / high) * M
    image = Image(io.BytesIO(picture.png), wide * pixel, high * pixel, hAlign="LEFT")
    return KeepTogether([
        Spacer(1, 4 * MM * M), paragraph(picture.title, 11, BOLD), image, paragraph(with_minus_signs(picture.alt), 8.5),
    ])
