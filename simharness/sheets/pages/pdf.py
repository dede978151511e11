"""The cut sheets as one PDF: text and tables first, then the parts at true scale."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, SimpleDocTemplate, Spacer

from simharness import __version__
from simharness.sheets.build.section import Section
from simharness.sheets.drawing.lettering import BOLD, SIZES, M, use_fonts
from simharness.sheets.flat.paths import Drawing, Text
from simharness.sheets.pages.flow import built, paragraph, section_flow
from simharness.sheets.pages.pdf_drawing import draw_text
from simharness.sheets.pages.sheet_pages import contents, draw_sheet, planned
from simharness.sheets.pages.tiles import MM, Paper, Sheet, page
from simharness.sheets.pages.title_block import Issue

EDGE = 14 * MM
"""Margin of the pages of text, m."""


@dataclass(frozen=True)
class FrontMatter:
    """What is written before the drawings: a line below the title, and sections."""

    subtitle: str
    sections: tuple[Section, ...]


def pdf_bytes(issue: Issue, front: FrontMatter, drawings: tuple[Drawing, ...], paper: Paper) -> bytes:
    """The whole document.

    Parameters
    ----------
    issue : title, record and date of the title blocks.
    drawings : at true scale; those greater than the paper go over several sheets.
    paper : for the text standing, for the drawings as they need it.
    """
    use_fonts()
    plan, drawings = planned(drawings, paper)
    sections = (contents(plan, drawings), *front.sections)

    def flow(scale: float) -> list[Flowable]:
        found = [
            paragraph(issue.title, 16 * scale, BOLD),
            paragraph(front.subtitle, 10 * scale),
            Spacer(1, 3 * MM * M),
        ]
        return found + [item for section in sections for item in section_flow(section, scale)]

    return built(flow, lambda stream: _Sheets(stream, issue, plan, drawings, paper))


class _Canvas(Canvas):
    """A canvas that draws the sheets after the pages of text, before it is closed."""

    document: _Sheets

    def save(self) -> None:
        """Add the sheets and close the document."""
        for number in range(1, len(self.document.plan) + 1):
            draw_sheet(self, self.document.plan, number, self.document.drawings, self.document.issue)
        super().save()


class _Sheets(SimpleDocTemplate):
    """Pages of text with their foot, and the sheets behind them."""

    def __init__(
        self, stream: io.BytesIO, issue: Issue, plan: list[Sheet], drawings: tuple[Drawing, ...], paper: Paper
    ):
        self.issue, self.plan, self.drawings = issue, plan, drawings
        on, edge = page(paper, False), EDGE * M
        super().__init__(
            stream,
            pagesize=(on.width * M, on.height * M),
            leftMargin=edge,
            rightMargin=edge,
            topMargin=edge,
            bottomMargin=edge,
            title=f"{issue.title}: cut sheets",
            creator=f"simharness {__version__}",
            invariant=1,
        )

    def build(self, flowables: list[Flowable], **options: Any) -> None:
        """Every page of text with its foot."""
        super().build(
            flowables, onFirstPage=self._foot, onLaterPages=self._foot, canvasmaker=self._canvas, **options
        )

    def _foot(self, canvas: Canvas, document: SimpleDocTemplate) -> None:
        draw_text(
            canvas,
            Text(
                (self.pagesize[0] / M / 2, 8 * MM),
                f"{self.issue.title} · page {document.page} of the text",
                SIZES[0],
            ),
        )

    def _canvas(self, *arguments: Any, **options: Any) -> _Canvas:
        made = _Canvas(*arguments, **options)
        made.setViewerPreference("PrintScaling", "None")
        made.document = self
        return made
