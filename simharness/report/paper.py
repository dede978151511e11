"""The report as a PDF: the same chapters as the page, without the view that turns."""

from __future__ import annotations

import io
from typing import Any

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, SimpleDocTemplate, Spacer

from simharness import __version__
from simharness.report.content import Chapter, Report, with_minus_signs
from simharness.report.plates import Frame, plates
from simharness.sheets.build.section import Section
from simharness.sheets.drawing.lettering import BOLD, SIZES, M, use_fonts
from simharness.sheets.flat.paths import Text
from simharness.sheets.pages.flow import built, paragraph, section_flow
from simharness.sheets.pages.pdf_drawing import draw_text
from simharness.sheets.pages.tiles import MM, PAPERS, Paper
from simharness.verdict.match_state import MatchState

EDGE = 16 * MM
"""Margin of a page, m."""
_PADDING = 6
"""Padding of the frame within the margins on each side, points; reportlab's own."""
_HEADLINE_COLOURS = {
    MatchState.MET: (0.04, 0.42, 0.23),
    MatchState.CLOSE: (0.42, 0.31, 0.0),
    MatchState.MISSED: (0.64, 0.23, 0.0),
}
"""Colours of the headline, as on the HTML page."""


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
    use_fonts()
    size = PAPERS[paper]
    frame = Frame((size.width - 2 * EDGE) * M - 2 * _PADDING, (size.height - 2 * EDGE) * M - 2 * _PADDING)

    def flow(scale: float) -> list[Flowable]:
        found = [
            paragraph(with_minus_signs(report.title), 16 * scale, BOLD),
            paragraph(report.subtitle, 9.5 * scale),
        ]
        if report.note:
            found.append(paragraph(with_minus_signs(report.note), 9.5 * scale))
        return found + [
            piece for chapter in report.chapters for piece in _chapter(chapter, report, frame, scale)
        ]

    return built(flow, lambda stream: _Document(stream, report, size))


class _Document(SimpleDocTemplate):
    """Pages with their foot."""

    def __init__(self, stream: io.BytesIO, report: Report, size: Paper):
        self.report, self.size = report, size
        edge = EDGE * M
        super().__init__(
            stream,
            pagesize=(size.width * M, size.height * M),
            leftMargin=edge,
            rightMargin=edge,
            topMargin=edge,
            bottomMargin=edge,
            title=f"{report.title}: report",
            creator=f"simharness {__version__}",
            invariant=1,
            lang="en",
        )

    def build(self, flowables: list[Flowable], **options: Any) -> None:
        """Every page with its foot."""
        super().build(flowables, onFirstPage=self._foot, onLaterPages=self._foot, **options)

    def _foot(self, canvas: Canvas, document: SimpleDocTemplate) -> None:
        draw_text(
            canvas,
            Text((self.size.width / 2, EDGE / 2), f"{self.report.title} · page {document.page}", SIZES[0]),
        )


def _chapter(chapter: Chapter, report: Report, frame: Frame, scale: float) -> list[Flowable]:
    before: tuple[Flowable, ...] = (Spacer(1, 4 * MM * M), paragraph(chapter.title, 14 * scale, BOLD))
    if chapter.key == "verdict":
        before += (paragraph(report.headline, 12 * scale, BOLD, colour=_HEADLINE_COLOURS[report.state]),)
    flow: list[Flowable] = []
    for section in chapter.sections:
        flow += section_flow(_typeset(section), scale, before)
        before = ()
    return flow + plates(chapter.pictures, frame, scale, before)


def _typeset(section: Section) -> Section:
    return Section(
        with_minus_signs(section.title),
        tuple(map(with_minus_signs, section.sentences)),
        tuple(tuple(map(with_minus_signs, row)) for row in section.table),
    )
