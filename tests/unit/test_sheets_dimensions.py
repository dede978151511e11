"""What a reader of the cut sheets meets: every dimension of the record in print, nothing over anything else,
no page nearly empty.

The PDF is read back by PDFium, which shares nothing with what wrote it; expected numbers are worked out from
the record.
"""

from __future__ import annotations

import functools
import itertools
import math
import re
from collections import Counter

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import shapely
from each_case import each_case
from shaped_records import SHIPPED
from shapely.geometry import box
from sheet_cases import CURVED, MM

from simharness.records import Probe
from simharness.records.outlines import slot_outline
from simharness.sheets import write_sheets
from simharness.sheets.build.build_list import build_of
from simharness.sheets.drawing.dimension_lines import number, spread
from simharness.sheets.drawing.dimensioning import with_dimensions
from simharness.sheets.drawing.feeds import feed_drawing
from simharness.sheets.drawing.layers import part_drawing
from simharness.sheets.drawing.lettering import text_bounds
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.pages.sheet_pages import planned
from simharness.sheets.pages.tiles import PAPERS

RECORDS = SHIPPED | {"curved": CURVED}
HOW = {"as it is": {}, "lips": {"make": "folded", "lip": 6e-3}, "scored": {"make": "folded", "scored": True}}
DATE = "2026-02-03"
"""Invented."""
POINT = 25.4 / 72
"""mm."""
MARGIN, SIDE = 6.0, 9.0
"""Of a sheet, mm: where printers do not reach, and the strip of the upright check bar."""
LEAST = 0.2
"""Of the room for drawings that the drawings on a sheet should span, but for the last one."""


def fabrication(record) -> Fabrication:
    return Fabrication(make=record.guide.make)


@functools.cache
def drawings(name: str, how: str = "as it is"):
    """Of all parts of a record, with their dimensions."""
    record = RECORDS[name]
    flat = build_of(record, Fabrication(**({"make": record.guide.make} | HOW[how]))).parts
    found = [with_dimensions(part_drawing(part, "brass"), part) for part in flat]
    return [*found, feed_drawing(record)]


@pytest.fixture(scope="module")
def documents(tmp_path_factory):
    """The sheets of every shipped record, and of curved slots, opened: pages of text, pages of drawings."""
    found = {}
    for name, record in RECORDS.items():
        folder = tmp_path_factory.mktemp("sheets")
        write_sheets(record, folder, fabrication(record), date=DATE)
        document = pypdfium2.PdfDocument(folder / f"{record.name}-a4.pdf")
        is_text = ["of the text" in words(page) for page in document]
        found[name] = (
            [p for p, text in zip(document, is_text) if text],
            [p for p, text in zip(document, is_text) if not text],
        )
    return found


def words(page) -> str:
    return page.get_textpage().get_text_range().replace("\r\n", "\n")


def text_boxes(page) -> list[tuple[tuple[float, float, float, float], str]]:
    """Every run of words on a page as left, bottom, right, top in mm, and what it says."""
    reader, found = page.get_textpage(), []
    for thing in page.get_objects([pdfium.FPDF_PAGEOBJ_TEXT]):
        bounds = tuple(POINT * x for x in thing.get_bounds())
        if bounds[2] > bounds[0]:
            found.append((bounds, reader.get_text_bounded(*(x / POINT for x in bounds)).strip()))
    return found


def printed(value_mm: float) -> str:
    return f"{abs(value_mm):.2f}"


def expected_numbers(record) -> Counter:
    """Of walls and openings: places, lengths and offsets of slots as often as they must stand there, other
    numbers once.
    """
    found, once = Counter(), set()
    for slot in record.slots:
        x0, z0, x1, z1 = slot_outline(slot).bounds
        found[printed((z0 + z1) / 2 / MM)] += 1
        found[printed((z1 - z0) / MM)] += 1
        if abs(x0 + x1) > 1e-5:
            found[printed((x0 + x1) / 2 / MM)] += 1
        once.add(printed((x1 - x0) / MM))
    guide, feed = record.guide, record.feed
    once |= {printed(guide.length_mm + (guide.load_mm or 0.0)), printed(feed.coax_outer_mm)}
    once.add(printed(feed.position_mm if isinstance(feed, Probe) else feed.run_mm))
    once.add(printed(feed.wire_diameter_mm))
    if guide.shape == "round":
        # The unrolled outside; slots stand at a quarter of it from the seam, the feed at three quarters.
        around = math.pi * (guide.diameter_mm + 2 * guide.wall_mm)
        once |= {
            printed(around),
            printed(around / 4),
            printed(3 * around / 4),
            printed(guide.diameter_mm + 2 * guide.wall_mm),
        }
    else:
        outer = guide.width_mm + 2 * guide.other_walls_mm
        # A front wall that goes on into wings is dimensioned to their bends, see test_wings.py.
        if record.wings is None or record.wings.join != "folded":
            once |= {printed(outer), printed(outer / 2)}
    return found + Counter({value: 1 for value in once if value not in found})


@each_case("name", RECORDS)
def test_numbers_of_the_record_stand_on_the_sheets(documents, name):
    said = Counter(re.findall(r"\d+\.\d\d", " ".join(words(page) for page in documents[name][1])))
    missing = expected_numbers(RECORDS[name]) - said
    assert not missing


def test_nothing_else_is_dimensioned_on_a_tube():
    """Every number on the two faces of the shipped eight-slot tube, and no other: 40 + 2 x 2 mm wide, land
    three times the hole.
    """
    front, back, *_ = drawings("eight-slot-5g8")
    said = [
        {value for text in d.dimensions.texts for value in re.findall(r"[\d.]*\d", text.words)}
        for d in (front, back)
    ]
    faces = {"0", "300.50", "22.00", "44.00"}
    assert said[0] == faces | {"25.20", "5.50", "3.00", "8"} | {f"{46 + 33.9 * i:.2f}" for i in range(8)}
    assert said[1] == faces | {"12.20", "4.10", "12.30"}


def test_flat_blank_counts_up_to_its_bends():
    """Back and sides of 0.5 mm sheet, K by DIN 6935: half of 180.081 mm, less and plus 90 / 2 - 0.5 +
    allowance / 2 for the bends.
    """
    blank = drawings("five-slot-2g45")[1]
    middle, bend = 180.081 / 2, 45 - 0.5 + math.pi / 4 * (0.5 + 0.325 * 0.5)
    said = {text.words for text in blank.dimensions.texts}
    assert {printed(middle), printed(middle - bend), printed(middle + bend), printed(2 * middle)} <= said
    assert sum(word == "up 90\u00b0 R0.50" for word in (text.words for text in blank.dimensions.texts)) == 2


def test_panel_connector_has_its_screws_in_words():
    """Common practice (memory): 12.7 mm flange, four holes of 2.6 mm, 8.64 mm apart."""
    back = drawings("panel-probe-5g8")[1]
    assert {"4\u00d7 \u23002.60 on \u25a18.64", "\u25a112.70"} <= {
        text.words for text in back.dimensions.texts
    }


@each_case("name", RECORDS)
def test_no_words_lie_on_other_words(documents, name):
    for page in itertools.chain(*documents[name]):
        boxes = text_boxes(page)
        assert len(boxes) > 5
        for (a, first), (b, second) in itertools.combinations(boxes, 2):
            assert min(a[2], b[2]) - max(a[0], b[0]) < 0.05 or min(a[3], b[3]) - max(a[1], b[1]) < 0.05, (
                first,
                second,
            )


@pytest.mark.parametrize("how", HOW)
def test_no_line_runs_through_words(how):
    """Contours, centre lines, dimension and extension lines keep clear of every number, and letters are 3.5
    mm high or more.
    """
    for name, record in RECORDS.items():
        if (record.guide.shape == "round" and how != "as it is") or (
            how == "lips" and (getattr(record.guide, "laminate", None) or record.wings is not None)
        ):
            continue
        for drawing in drawings(name, how):
            texts = (*drawing.texts, *drawing.dimensions.texts)
            lines = [path.line() for path in (*drawing.paths, *drawing.dimensions.paths)]
            for text in texts:
                assert text.height >= 3.5 * MM
                assert not shapely.intersects(box(*text_bounds(text)), lines).any(), (
                    name,
                    drawing.name,
                    text.words,
                )


@pytest.mark.parametrize("paper", PAPERS)
def test_words_are_whole_on_a_sheet(paper):
    """No number of a tiled part is cut off: it is whole on one of its sheets; and on A4 no join runs through
    one.
    """
    for name in SHIPPED:
        plan, shown = planned(tuple(drawings(name)), PAPERS[paper])
        for index, drawing in enumerate(shown):
            tiles = [sheet for sheet in plan if sheet.placed[0].index == index and not sheet.tile.alone]
            for text in (*drawing.texts, *drawing.dimensions.texts) if tiles else ():
                u0, v0, u1, v1 = text_bounds(text)
                assert any(
                    sheet.page.corner[0] <= u0 + sheet.placed[0].x
                    and u1 + sheet.placed[0].x <= sheet.page.corner[0] + sheet.page.area[0]
                    and sheet.page.corner[1] <= v0 + sheet.placed[0].y
                    and v1 + sheet.placed[0].y <= sheet.page.corner[1] + sheet.page.area[1]
                    for sheet in tiles
                ), (name, drawing.name, text.words)
                seams = [u0 < x - sheet.placed[0].x < u1 for sheet in tiles for x in sheet.seams()[0]]
                seams += [v0 < y - sheet.placed[0].y < v1 for sheet in tiles for y in sheet.seams()[1]]
                assert paper != "a4" or not any(seams), (name, drawing.name, text.words)


@each_case("name", RECORDS)
def test_no_page_is_nearly_empty(documents, name):
    """Drawings span a good part of every sheet but the last; a last page of text has more than a few
    lines.
    """
    text, sheets = documents[name]
    assert len(text_boxes(text[-1])) > 8
    for page in sheets[:-1]:
        width, height = (POINT * x for x in page.get_size())
        foot = 29.0 if width > height else 34.0
        corner, area = (MARGIN + SIDE, MARGIN + foot), (width - 2 * MARGIN - SIDE, height - 2 * MARGIN - foot)
        bounds = [
            [POINT * x for x in thing.get_bounds()]
            for thing in page.get_objects([pdfium.FPDF_PAGEOBJ_TEXT, pdfium.FPDF_PAGEOBJ_PATH])
        ]
        inside = [b for b in bounds if b[0] > corner[0] - 0.5 and b[1] > corner[1] - 0.5]
        # The part of it on this sheet: a long outline goes on beyond the window.
        left, low = min(b[0] for b in inside), min(b[1] for b in inside)
        right, top = (
            min(max(b[2] for b in inside), corner[0] + area[0]),
            min(max(b[3] for b in inside), corner[1] + area[1]),
        )
        assert (right - left) * (top - low) > LEAST * area[0] * area[1]


def test_title_blocks(documents):
    """Fields of ISO 7200 as far as a workshop has them, the same record and date on all, and sheets counted
    through.
    """
    for name, (_, sheets) in documents.items():
        record = RECORDS[name]
        seen = [words(page) for page in sheets]
        for i, said in enumerate(seen, 1):
            assert (
                f"sheet\n{i} of {len(seen)}" in said
                and f"date\n{DATE}" in said
                and "scale\n1:1\nlengths in\nmm" in said
            )
            assert (record.title or record.name).split()[0] in said.split("antenna\n")[1]
        assert len({re.search(r"record\n([0-9a-f]{8})\n", said)[1] for said in seen}) == 1
    hashes = [re.search(r"record\n([0-9a-f]{8})\n", words(sheets[0]))[1] for _, sheets in documents.values()]
    assert len(set(hashes)) == len(hashes)


def test_without_a_date_the_file_is_the_same_again(tmp_path):
    record = SHIPPED["eight-slot-wr90-10g37"]
    first, second = (
        write_sheets(record, tmp_path / name, fabrication(record)).files[0].read_bytes()
        for name in ("one", "two")
    )
    assert first == second
    dated = write_sheets(record, tmp_path / "three", fabrication(record), date=DATE).files[0].read_bytes()
    assert dated != first


def test_dimensions_stay_out_of_files_for_machines(tmp_path):
    """A dimension line that a laser takes for a contour spoils the sheet: SVG and DXF have neither lines nor
    numbers of them.
    """
    record = SHIPPED["eight-slot-5g8"]
    for path in write_sheets(record, tmp_path, fabrication(record)).files:
        if path.suffix in (".svg", ".dxf") and path.stem.startswith("tube"):
            said = path.read_text(encoding="utf-8")
            assert (
                "79.90" not in said
                and "12.20" not in said
                and "dimension" not in said.lower().replace("$dim", "").replace("acdbdim", "")
            )


@pytest.mark.parametrize(
    "wanted",
    [
        [0.0],
        [0.0, 1.0, 1.1, 1.2, 30.0],
        [0.0, 8.02, 8.54, 9.54, 54.04, 98.54, 99.54, 100.06, 108.08],
        [5.0] * 7,
    ],
)
def test_spread_numbers_keep_their_distance_and_stay_near(wanted):
    """Never nearer than the pitch, in order, the mean of a crowd where the crowd is; no move at all where
    there is room.
    """
    places = spread(wanted, 5.0)
    assert all(b - a >= 5.0 - 1e-9 for a, b in itertools.pairwise(places))
    assert sum(places) == pytest.approx(sum(wanted), abs=1e-9)
    if all(b - a >= 5.0 for a, b in itertools.pairwise(wanted)):
        assert places == pytest.approx(wanted, abs=1e-12)


def test_numbers_are_hundredths_of_a_millimetre():
    assert [number(x) for x in (0.0, 0.0593, 0.48899999, 1.27e-3)] == ["0.00", "59.30", "489.00", "1.27"]
