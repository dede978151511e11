"""Sheets as they reach printer and machine, measured: PDF rendered by PDFium, DXF read by ezdxf, SVG by
svgelements.

What is found is compared with the scene; 0.1 mm on paper (a dot at 600 dpi is 0.042 mm), 0.01 mm in the files
for machines.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass

import ezdxf
import numpy as np
import pypdfium2
import pytest
import shapely
import svgelements
from ezdxf import path as dxf_path
from scipy import ndimage
from scipy.spatial import cKDTree
from shapely.geometry import LinearRing, LineString, Polygon
from sheet_cases import CASES, MM, SCENES, holes, wall

from simharness.sheets import write_sheets
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.shapes import parts

DPI = 600
DOT = 25.4 / DPI
LINE = 0.35
"""Width of a cut line on paper, mm: pixels lie within half of it from the edge."""
ON_PAPER, IN_FILES = 0.1, 0.01


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A function that writes the sheets of a case once: folder, flat parts, what was written."""
    done = {}

    def write(name: str, paper: str = "a4", cutter: float = 0.0, **fabrication):
        key = (name, paper, cutter, tuple(fabrication.items()))
        if key not in done:
            folder = tmp_path_factory.mktemp("sheets")
            how = Fabrication(**fabrication)
            done[key] = (
                folder,
                parts(SCENES[name], how),
                write_sheets(CASES[name], folder, how, paper, cutter),
            )
        return done[key]

    return write


@dataclass(eq=False)
class Picture:
    """A page at 600 dpi: dots by colour, x to the right and y upwards, mm from the lower left corner."""

    pixels: np.ndarray

    def dots(self, colour: str) -> np.ndarray:
        """Mask of the dots: 'cut' black, 'bend' blue, 'bar' green, 'join' magenta."""
        r, g, b = (np.ascontiguousarray(self.pixels[..., i]) for i in range(3))
        return {
            "cut": lambda: (r < 60) & (g < 60) & (b < 60),
            "bend": lambda: (r < 120) & (b > 140) & (g < 160),
            "bar": lambda: (r < 100) & (g > r + 40.0) & (b < 120),
            "join": lambda: (r > 150) & (b > 150) & (g < 120),
        }[colour]()

    def shapes(self, colour: str) -> list[np.ndarray]:
        """Connected dots as arrays (n, 2) of x, y in mm."""
        return shapes(self.dots(colour))


def shapes(mask: np.ndarray) -> list[np.ndarray]:
    """Connected dots of a mask, x and y upwards in mm."""
    labels, count = ndimage.label(mask, structure=np.ones((3, 3)))
    row, column = np.nonzero(mask)
    label = labels[row, column]
    order = np.argsort(label, kind="stable")
    points = places(row, column, mask.shape[0])[order]
    return np.split(points, np.cumsum(np.bincount(label)[1:])[:-1]) if count else []


def places(row: np.ndarray, column: np.ndarray, height: int) -> np.ndarray:
    """Middles of dots, x and y upwards in mm."""
    return np.column_stack([(column + 0.5) * DOT, (height - row - 0.5) * DOT])


def rendered(document, index: int) -> Picture:
    return Picture(document[index].render(scale=DPI / 72, rev_byteorder=True).to_numpy())


def sheet_pages(folder, record_name: str, paper: str):
    """The document and the numbers of its pages with drawings: those that lie on their side, or follow the
    text.
    """
    document = pypdfium2.PdfDocument(folder / f"{record_name}-{paper}.pdf")
    found = [
        i
        for i in range(len(document))
        if "100 mm\r\n" in document[i].get_textpage().get_text_range() + "\r\n"
        and "of the text" not in document[i].get_textpage().get_text_range()
    ]
    return document, found


def pages_of(document, pages: list[int], title: str) -> list[int]:
    """Those of the pages whose title block names one part."""
    return [i for i in pages if f"part\r\n{title}\r\n" in document[i].get_textpage().get_text_range()]


def extent(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lower left and upper right corner of what is inked: dots have a size."""
    return points.min(axis=0) - DOT / 2, points.max(axis=0) + DOT / 2


def size(points: np.ndarray) -> np.ndarray:
    return np.subtract(*extent(points)[::-1])


def outlines_on_paper(shapes_found: list[np.ndarray], part, rings: list[LinearRing]) -> bool:
    """Whether one of the black shapes is the part's outline, with all its rings in place, within 0.1 mm."""
    u0, v0, u1, v1 = (1e3 * x for x in part.outline.polygon().bounds)
    wanted = np.array([u1 - u0, v1 - v0]) + LINE
    tree = cKDTree(np.vstack(shapes_found))
    for outline in shapes_found:
        if np.abs(size(outline) - wanted).max() > ON_PAPER:
            continue
        shift = extent(outline)[0] + LINE / 2 - [u0, v0]
        if on_ring(outline, rings[0], shift) and all(covered(tree, ring, shift) for ring in rings[1:]):
            return True
    return False


def on_ring(dots: np.ndarray, ring, shift=(0.0, 0.0)) -> bool:
    """Whether every dot lies on the ring, and every half millimetre of the ring has its dots."""
    far = shapely.distance(shapely.points(dots[::5] - shift), ring).max()
    return far <= LINE / 2 + ON_PAPER and covered(cKDTree(dots), ring, shift)


def covered(tree: cKDTree, ring, shift=(0.0, 0.0)) -> bool:
    """Whether a line of dots runs along the whole ring: all dots nearby lie on it, within half a line and 0.1
    mm.
    """
    points = shapely.line_interpolate_point(ring, np.arange(0.0, ring.length, 0.5))
    near = tree.query_ball_point(shapely.get_coordinates(points) + shift, 0.3)
    if not all(near):
        return False
    dots = tree.data[np.unique(np.concatenate(near)).astype(int)]
    return shapely.distance(shapely.points(dots - shift), ring).max() <= LINE / 2 + ON_PAPER


def in_mm(polygon: Polygon) -> LinearRing:
    return LinearRing(np.asarray(polygon.exterior.coords) * 1e3)


def scene_rings(name: str, part) -> list[LinearRing]:
    """The part's own outline, and the scene's openings in it, mm."""
    side = {
        "front-wall": "front wall",
        "back-and-sides": "back wall",
        "tube-front": "front wall",
        "tube-back": "back wall",
    }.get(part.name)
    mirror = part.name == "tube-back"
    return [in_mm(part.outline.polygon())] + (
        [LinearRing(p.exterior) for p in holes(SCENES[name], side, 1e3, mirror)] if side else []
    )


def check_bars(picture: Picture) -> None:
    """Two bars of 100 mm, one each way, within 0.1 mm."""
    found = np.array([size(points) for points in picture.shapes("bar")])
    assert np.abs(found.max(axis=0) - 100 - LINE).max() < ON_PAPER


def test_three_slots_on_two_sheets_of_letter_paper(written):
    """Every part of the box whole on one of two pages: outlines, slots, feed hole, bends and check bars."""
    folder, flat, _ = written("three", "letter")
    document, pages = sheet_pages(folder, CASES["three"].name, "letter")
    assert len(pages) <= 2
    pictures = [rendered(document, page) for page in pages]
    for page, picture in zip(pages, pictures):
        assert sorted(document[page].get_size()) == pytest.approx((8.5 * 72, 11 * 72), abs=0.01)
        check_bars(picture)
    blacks = [picture.shapes("cut") for picture in pictures]
    for part in flat:
        assert any(outlines_on_paper(black, part, scene_rings("three", part)) for black in blacks), part.name
    back = next(p for p in flat if p.name == "back-and-sides")
    outline, picture = next(
        (s, picture)
        for black, picture in zip(blacks, pictures)
        for s in black
        if np.abs(size(s) - 1e3 * np.array(back.size) - LINE).max() < ON_PAPER
    )
    middle = np.mean(extent(outline), axis=0)
    x, y = places(*np.nonzero(picture.dots("bend")), picture.pixels.shape[0]).T
    for bend in back.bends:
        height = middle[1] + 1e3 * bend.start[1]
        near = (np.abs(y - height) < 1) & (np.abs(x - middle[0]) < 30)
        assert y[near].mean() == pytest.approx(height, abs=ON_PAPER)
        assert near.sum() > 20 / DOT


def joined(document, pages: list[int]) -> np.ndarray:
    """Black dots of neighbouring sheets laid cross on cross."""
    place, found, right = np.zeros(2), [], None
    for index in pages:
        picture = rendered(document, index)
        marks = picture.shapes("join")
        crosses = np.array([p.mean(axis=0) for p in marks])
        assert np.allclose([size(p) for p in marks], 8, atol=0.3)
        edge = picture.pixels.shape[1] * DOT / 2
        left = crosses[crosses[:, 0] < edge]
        if right is not None:
            shifts = right[np.argsort(right[:, 1])] - left[np.argsort(left[:, 1])]
            assert np.ptp(shifts, axis=0).max() < ON_PAPER
            place = place + shifts.mean(axis=0)
        right = crosses[crosses[:, 0] > edge]
        found.append(places(*np.nonzero(picture.dots("cut")), picture.pixels.shape[0]) + place)
    return np.vstack(found)


def test_forty_slots_over_several_sheets(written):
    """Sheets joined at their crosses: outline and 40 slots within 0.1 mm of the scene over 763 mm."""
    folder, _, _ = written("forty")
    document, pages = sheet_pages(folder, CASES["forty"].name, "a4")
    titled = pages_of(document, pages, "Front wall")
    assert len(titled) == 4
    dots = joined(document, titled)
    dots -= dots.min(axis=0)
    mask = np.zeros(np.ceil(dots.max(axis=0) / DOT).astype(int)[::-1] + 6, dtype=bool)
    mask[tuple(np.round(dots / DOT).astype(int).T[::-1] + 3)] = True
    # Dots of different sheets do not fall on one raster: rows left empty by rounding are closed.
    found = shapes(ndimage.binary_closing(mask[::-1], np.ones((3, 3))))
    *_, z0, z1 = SCENES["forty"].inside
    x0, x1, *_ = wall(SCENES["forty"], "front wall").bounds()
    outline = max(found, key=lambda p: size(p)[0])
    assert size(outline) == pytest.approx([1e3 * (z1 - z0) + LINE, 1e3 * (x1 - x0) + LINE], abs=ON_PAPER)
    origin = np.array([extent(outline)[0][0] + LINE / 2, np.mean(extent(outline), axis=0)[1]])
    slots = sorted((p for p in found if p is not outline and len(p) > 100), key=lambda p: p[:, 0].min())
    rings = holes(SCENES["forty"], "front wall", 1e3)
    assert len(slots) == len(rings) == 40
    for points, ring in zip(slots, rings):
        low, high = np.array(ring.bounds[:2]), np.array(ring.bounds[2:])
        begin, end = extent(points)
        assert begin - origin == pytest.approx(low - LINE / 2, abs=ON_PAPER)
        assert end - origin == pytest.approx(high + LINE / 2, abs=ON_PAPER)
        assert on_ring(points, ring.exterior, origin)


def test_no_seam_runs_through_a_slot(written):
    """40 slots with 4.5 mm between neighbours leave room for the two seams: the tables name each tile
    once.
    """
    from simharness.sheets.pages.tiles import OVERLAP, PAPERS, Box, Span, sheets

    spans = tuple(Span(*p.bounds[0::2]) for p in holes(SCENES["forty"], "front wall"))
    plan = sheets([Box(0, -12.7 * MM, 762.64 * MM, 12.7 * MM, whole=spans)], PAPERS["a4"])
    for sheet in plan:
        for seam in sheet.seams()[0]:
            u = seam - sheet.placed[0].x
            assert not any(low < u < high for low, high, _ in spans)
    assert pytest.approx(plan[0].page.area[0] - (plan[0].placed[0].x - plan[1].placed[0].x)) == OVERLAP


def dxf_rings(path, layer: str) -> list[LineString]:
    space = ezdxf.readfile(path).modelspace()
    return [
        LineString([(v.x, v.y) for v in dxf_path.make_path(e).flattening(1e-3)])
        for e in space.query(f'*[layer=="{layer}"]')
    ]


def agree(found: list, wanted: list) -> None:
    """Each wanted line has one of the found within 0.01 mm (arcs as fine chords on both sides), and none is
    left over.
    """
    assert len(found) == len(wanted)
    for line in wanted:
        fine = shapely.segmentize(line, 0.5)
        alike = [other for other in found if np.allclose(other.bounds, line.bounds, atol=IN_FILES)]
        assert (
            min(shapely.hausdorff_distance(fine, shapely.segmentize(other, 0.5)) for other in alike)
            < IN_FILES
        )


MACHINE_CASES = pytest.mark.parametrize(
    ("name", "fabrication"),
    [("three", {}), ("sheet", {"lip": 6e-3}), ("forty", {}), ("tube", {"make": "tube"})],
    ids=["three", "lips", "forty", "tube"],
)


def wanted_rings(name: str, part) -> list[LinearRing]:
    rings = scene_rings(name, part)
    return rings if part.outline.layer == "cut" else rings[1:]


@MACHINE_CASES
def test_dxf_read_back(written, name, fabrication):
    """Contours, bends and drill points in mm, on their layers; round slots as true arcs, holes as circles."""
    folder, flat, _ = written(name, **fabrication)
    for part in flat:
        document = ezdxf.readfile(folder / f"{part.name}.dxf")
        assert document.units == ezdxf.units.MM
        agree(dxf_rings(folder / f"{part.name}.dxf", "CUT"), wanted_rings(name, part))
        agree(
            dxf_rings(folder / f"{part.name}.dxf", "SCORE"),
            [LineString(np.array([b.start, b.end]) * 1e3) for b in part.bends],
        )
        points = [e.dxf.location for e in document.modelspace().query('POINT[layer=="DRILL"]')]
        assert len(points) == 2 * sum(o.kind == "slot" for o in part.openings) + sum(
            o.kind == "hole" for o in part.openings
        )
        if part.name.endswith("front") or part.name == "front-wall":
            tips = sorted((p.x, p.y) for p in points)
            slot = CASES[name].slots[0]
            first = (slot.position_mm - (slot.length_mm - slot.width_mm) / 2, slot.offset_mm)
            assert min(np.hypot(x - first[0], y - first[1]) for x, y in tips) < IN_FILES
        assert {e.dxf.layer for e in document.modelspace()} <= {"CUT", "SCORE", "DRILL", "NOTE"}


@MACHINE_CASES
def test_svg_read_back(written, name, fabrication):
    """Contours in mm by their size on paper: at 25.4 pixels an inch, a pixel of the parser is a
    millimetre.
    """
    folder, flat, _ = written(name, **fabrication)
    for part in flat:
        path = folder / f"{part.name}.svg"
        groups = {e.get("id") for e in ET.parse(path).getroot() if e.tag.endswith("}g")}
        assert groups <= {"cut", "score", "drill", "note"}
        u0, _, _, v1 = (1e3 * x for x in drawn_bounds(part))
        found = {"#000000": [], "#0047b3": []}
        for element in svgelements.SVG.parse(path, ppi=25.4).elements():
            if isinstance(element, svgelements.Path) and element.stroke.hex in found:
                curve = svgelements.Path(element)
                points = np.array(
                    [
                        (p.x, p.y)
                        for s in curve
                        if not isinstance(s, svgelements.Move)
                        for p in (s.point(t) for t in np.linspace(0, 1, 65))
                    ]
                )
                found[element.stroke.hex].append(LineString(points * [1, -1] + [u0 - 5, v1 + 5]))
        agree(found["#000000"], wanted_rings(name, part))
        agree(found["#0047b3"], [LineString(np.array([b.start, b.end]) * 1e3) for b in part.bends])


def test_curved_slots_read_back(written):
    """Bent, S-shaped and tapered slots from DXF and SVG within 0.01 mm, from paper within 0.1 mm, and in
    words.
    """
    folder, flat, _ = written("curved", "letter")
    (front,) = (part for part in flat if part.name == "front-wall")
    assert sorted(o.number for o in front.openings if o.kind == "slot") == [1, 2, 3]
    wanted = wanted_rings("curved", front)
    agree(dxf_rings(folder / "front-wall.dxf", "CUT"), wanted)
    curves = [
        svgelements.Path(e)
        for e in svgelements.SVG.parse(folder / "front-wall.svg", ppi=25.4).elements()
        if isinstance(e, svgelements.Path) and e.stroke.hex == "#000000"
    ]
    assert len(curves) == len(wanted)
    document, pages = sheet_pages(folder, CASES["curved"].name, "letter")
    black = [shape for page in pages for shape in rendered(document, page).shapes("cut")]
    assert outlines_on_paper(black, front, scene_rings("curved", front))
    words = " ".join((folder / "build-list.txt").read_text(encoding="utf-8").split())
    # the radius by h/l = (1 - cos t)/(2 t), l = 14 and 7 mm, h = 3 and 1.5 mm: t = 0.920 for both, so l/2t
    assert "arcs of 3.8 mm and 7.6 mm radius" in words and "to a point over 4 mm" in words


def drawn_bounds(part) -> tuple[float, float, float, float]:
    """Bounds of all that is drawn of a part: the margin of 5 mm counts from there; m."""
    boxes = [part.outline.polygon().bounds, *(land.polygon().bounds for land in part.lands)]
    low, high = np.min(boxes, axis=0)[:2], np.max(boxes, axis=0)[2:]
    return (*low.tolist(), *high.tolist())


def test_cutter_path_in_the_files_but_not_on_paper(written):
    folder, _, _ = written("sheet", cutter=2e-3)
    rings = sorted(dxf_rings(folder / "front-wall.dxf", "CUT"), key=lambda r: r.length)
    slot = CASES["sheet"].slots[0]
    x0, y0, x1, y1 = rings[0].bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((slot.length_mm - 2, slot.width_mm - 2), abs=IN_FILES)
    x0, y0, x1, y1 = rings[-1].bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((489 + 2, 91 + 2), abs=IN_FILES)
    text = " ".join(e.dxf.text for e in ezdxf.readfile(folder / "front-wall.dxf").modelspace().query("TEXT"))
    assert "cutter of 2 mm" in text
    shown = []
    for where in (folder, written("sheet")[0]):
        document, pages = sheet_pages(where, "five-slot-2g45", "a4")
        shown.append([document[page].render(scale=1).to_numpy() for page in pages])
    assert all(np.array_equal(with_cutter, without) for with_cutter, without in zip(*shown, strict=True))


def test_tube_on_paper(written):
    """The slots of the tube's front face: one black shape each, at the scene's distances from each other."""
    folder, _, _ = written("tube", make="tube")
    document, pages = sheet_pages(folder, CASES["tube"].name, "a4")
    titled = pages_of(document, pages, "Front face of the tube")
    dots = joined(document, titled)
    rings = holes(SCENES["tube"], "front wall", 1e3)
    low = np.min([r.bounds[:2] for r in rings], axis=0)
    dots -= extent(dots)[0]
    tree = cKDTree(dots)
    for ring in rings:
        assert covered(tree, ring.exterior, LINE / 2 - low)


def test_build_list_has_the_numbers(written):
    folder, _, done = written("sheet")
    text = (folder / "build-list.txt").read_text(encoding="utf-8")
    assert "1     83.85   143.15  113.50  +13.70  59.30   6.00   round" in text
    assert "489.00 x 180.08" in text, "blank: 90 - 1 + 2 (45 - 0.5) + 2 pi/2 (0.5 + 0.325 0.5) = 180.081 mm"
    assert "26.00 mm over the inner face of the back wall" in text
    titles = [section.title for section in done.sections]
    assert titles == [
        "Materials",
        "Slots",
        "Holes",
        "Bends",
        "Probe",
        "Joints",
        "Order of work",
        "What the solver did not see",
        "Cautions",
    ]
    assert "Local rules and licensed practice decide" in text
