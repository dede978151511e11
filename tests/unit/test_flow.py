"""Pages of text: a table is not torn at its ends, a heading stays with what follows, and a last page has more
than a few lines.
"""

from __future__ import annotations

import io
import re

import pypdfium2
from reportlab.lib.pagesizes import A4
from reportlab.platypus import SimpleDocTemplate

from simharness.sheets.build.section import Section
from simharness.sheets.drawing.lettering import use_fonts
from simharness.sheets.pages.flow import TOGETHER, built, section_flow


def pages(*sections: Section) -> list[str]:
    """What stands on each page."""
    use_fonts()
    made = built(
        lambda scale: [piece for section in sections for piece in section_flow(section, scale)],
        lambda stream: SimpleDocTemplate(
            stream, pagesize=A4, leftMargin=40, rightMargin=40, topMargin=40, bottomMargin=40, invariant=1
        ),
    )
    with pypdfium2.PdfDocument(io.BytesIO(made)) as document:
        return [page.get_textpage().get_text_range().replace("\r\n", "\n") for page in document]


def test_tables_of_any_length_break_well():
    """Before a table of 60 rows 0 to 60 lines of text, more than a page: some rows with its head on every
    page that has any.
    """
    table = (("item", "value"), *((f"row {i}", f"{i}") for i in range(60)))
    for lines in range(0, 61, 4):
        found = pages(
            Section("Before", tuple(f"Line {i}." for i in range(lines))),
            Section("A table", ("Words about it.",), table),
        )
        assert [int(i) for page in found for i in re.findall(r"row (\d+)", page)] == list(range(60))
        for page in found:
            rows = re.findall(r"row \d+", page)
            assert not rows or (len(rows) >= TOGETHER and "item\nvalue" in page.replace(" ", "\n"))
            assert ("A table" in page) <= bool(rows) and not page.rstrip().endswith(
                ("A table", "Before", "Words about it.")
            )


def test_last_page_is_not_left_with_a_few_lines():
    """Text of every length about one page: letters go a little smaller or larger, so that a second page has a
    fifth of the lines.
    """
    for lines in range(36, 52):
        found = pages(Section("Words", tuple(f"Line {i}." for i in range(lines))))
        assert sum(page.count("Line ") for page in found) == lines
        assert len(found) == 1 or found[-1].count("Line ") >= 7, lines


def test_a_wide_table_stays_on_the_paper():
    """Heads are broken over lines, then the longest cells: nothing beyond the right margin."""
    head = (
        "a dimension with a very long name",
        "another dimension with a very long name",
        "a third one that is even longer, in mm",
        "value",
    )
    use_fonts()
    made = built(
        lambda scale: section_flow(
            Section(
                "Wide",
                (),
                (head, ("1", "2", "some words that go on for very much longer than a cell should " * 2, "4")),
            ),
            scale,
        ),
        lambda stream: SimpleDocTemplate(
            stream, pagesize=A4, leftMargin=45, rightMargin=45, topMargin=40, bottomMargin=40, invariant=1
        ),
    )
    with pypdfium2.PdfDocument(io.BytesIO(made)) as document:
        right = max(thing.get_bounds()[2] for thing in document[0].get_objects())
        assert right < A4[0] - 40
        said = " ".join(document[0].get_textpage().get_text_range().split())
    assert all(word in said for word in " ".join(head).split())
