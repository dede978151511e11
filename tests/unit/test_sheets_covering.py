"""The sheets over the slots and the templates for tape are what the solver has there: outlines, places, files
read back.

What is expected is the scene's; 0.01 mm in files for machines.
"""

from __future__ import annotations

import ezdxf
import pytest
from shaped_records import SHIPPED, varied
from shapely import affinity, unary_union
from shapely.geometry import Polygon

from simharness.geometry import antenna_scene
from simharness.geometry.solids import COVERS, TAPE_PART
from simharness.sheets import write_sheets
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.build.section import as_text
from simharness.sheets.drawing.layers import caption, part_drawing
from simharness.sheets.flat.fabrication import Fabrication

TUBE = Fabrication(make="tube")
NANO2 = 1e-18
CHORDS = 2e-3
"""Share of a round end's area that polygons of 64 chords may lack."""
BARE, TWO = SHIPPED["eight-slot-5g8"], SHIPPED["two-faced-5g8"]
LID = {"material": "PVC", "thickness_mm": 2.0, "gap_mm": 3.0}
COVERED = {
    "on the wall": varied(BARE, cover={"permittivity": 2.9, "loss_tangent": 0.01, "thickness_mm": 0.5}),
    "shipped": SHIPPED["covered-slot-5g8"],
    "both": varied(TWO, cover=LID | {"face": "both", "overhang_mm": 10.0}),
}
TAPED = {
    "shipped": SHIPPED["taped-four-slot-5g8"],
    "both faces and ends": varied(
        TWO,
        tape=[
            {"slot": 1, "end": "near", "covers_mm": 1.2},
            {"slot": 1, "end": "far", "covers_mm": 3.0},
            {"slot": 2, "end": "near", "covers_mm": 0.7},
        ],
    ),
}


def made(record, place):
    return [part for part in build_of(record, TUBE).parts if part.place == place]


def of_scene(prism, mirror: bool) -> Polygon:
    """An outline as a part shows it from outside: along the guide and across."""
    return Polygon([(z, -x if mirror else x) for x, z in prism.outline.exterior])


@pytest.mark.parametrize("name", COVERED)
def test_a_cover_is_the_sheet_of_the_solver(name):
    record = COVERED[name]
    scene, found = antenna_scene(record), made(record, "cover")
    assert [part.name for part in found] == [f"{face}-cover" for face in record.cover.faces]
    for part, face in zip(found, record.cover.faces):
        prism = next(p for p in scene.prisms if p.part == COVERS[face])
        assert part.outline.polygon().symmetric_difference(of_scene(prism, face == "back")).area < NANO2
        assert part.thickness == pytest.approx(record.cover.thickness, abs=1e-12)
        assert part.thickness == pytest.approx(prism.high - prism.low, abs=1e-9)
        assert part.openings == () and part.outline.layer == "cut"
        said = " ".join(caption(part, "aluminium"))
        assert "Plastic, not metal" in said and "luminium" not in said
        assert (f"{record.cover.gap_mm:g} mm off the wall" in said) == bool(record.cover.gap_mm)


@pytest.mark.parametrize("name", COVERED)
def test_slots_are_shown_under_their_cover(name):
    """Where the wall has them, as seen from outside, and with an overhang the outline of the wall too."""
    record = COVERED[name]
    scene = antenna_scene(record)
    for part, face in zip(made(record, "cover"), record.cover.faces):
        metal = next(p for p in scene.prisms if p.part == f"{face} wall")
        sign = -1 if face == "back" else 1
        holes = unary_union([Polygon([(z, sign * x) for x, z in ring]) for ring in metal.outline.holes])
        whole = of_scene(metal, face == "back")
        rings = [path.polygon() for path in part.beneath]
        walls = [ring for ring in rings if ring.area > 0.5 * whole.area]
        slots = unary_union([ring for ring in rings if ring not in walls])
        assert slots.symmetric_difference(holes).area < CHORDS * holes.area
        assert len(walls) == bool(record.cover.overhang_mm)
        assert all(path.dashed and path.layer == "note" for path in part.beneath)
        for wall in walls:
            assert wall.symmetric_difference(whole).area < NANO2


@pytest.mark.parametrize("name", TAPED)
def test_the_window_of_a_template_is_tape_and_slot_of_the_solver(name):
    """Put back to the place of its slot, it is their union; its zero is the edge of the tape."""
    record = TAPED[name]
    scene = antenna_scene(record)
    found = made(record, "template")
    pieces = [prism for prism in scene.prisms if prism.part == TAPE_PART]
    assert len(found) == len(record.tape) == len(pieces)
    assert len({part.name for part in found}) == len(found)
    for part, tape, prism in zip(found, record.tape, pieces):
        slot = record.slots[tape.slot - 1]
        mirror = slot.face == "back"
        metal = next(p for p in scene.prisms if p.part == f"{slot.face} wall")
        piece = of_scene(prism, mirror)
        holes = [Polygon([(z, -x if mirror else x) for x, z in ring]) for ring in metal.outline.holes]
        hole = next(ring for ring in holes if ring.intersects(piece))
        tip = slot.position_mm + (1 if tape.end == "far" else -1) * slot.length_mm / 2
        edge = tip - (1 if tape.end == "far" else -1) * tape.covers_mm
        across = (-1 if mirror else 1) * slot.offset_mm
        window = affinity.translate(part.openings[0].path.polygon(), edge * 1e-3, across * 1e-3)
        wanted = unary_union([piece, hole])
        assert window.symmetric_difference(wanted).area < CHORDS * hole.area
        assert part.outline.polygon().contains(part.openings[0].path.polygon())


def test_files_of_a_cover_and_of_templates(tmp_path):
    """DXF read back, in mm: one contour to cut of a cover, two of a template; what lies under is not cut."""
    for record, names, count in (
        (COVERED["both"], ("front-cover", "back-cover"), 1),
        (TAPED["both faces and ends"], ("tape-slot-1-near", "tape-slot-1-far", "tape-slot-2-near"), 2),
    ):
        folder = tmp_path / record.name / names[0]
        files = {path.name for path in write_sheets(record, folder, TUBE, cutter=1.0e-3).files}
        for name in names:
            assert {f"{name}.svg", f"{name}.dxf"} <= files
            space = ezdxf.readfile(folder / f"{name}.dxf").modelspace()
            assert len(space.query('LWPOLYLINE[layer=="CUT"]')) == count
            assert not space.query('CIRCLE[layer=="CUT"]') and not space.query('POINT[layer=="DRILL"]')
            assert len(space.query('LWPOLYLINE[layer=="NOTE"]')) >= 1
    cover = made(COVERED["both"], "cover")[0]
    outline = ezdxf.readfile(tmp_path / COVERED["both"].name / "front-cover" / "front-cover.dxf").modelspace()
    ring = Polygon([p[:2] for p in outline.query('LWPOLYLINE[layer=="CUT"]').first.get_points()])
    # the path of a cutter of 1 mm: half of it outside on all sides
    assert ring.bounds == pytest.approx(
        [1e3 * edge + by for edge, by in zip(cover.outline.polygon().bounds, (-0.5, -0.5, 0.5, 0.5))],
        abs=0.01,
    )


def test_a_template_is_no_path_of_a_cutter():
    part = made(TAPED["shipped"], "template")[0]
    assert not any("cutter" in line for line in part_drawing(part, "brass", 1e-3).caption)
    assert any(
        "cutter" in line for line in part_drawing(made(COVERED["both"], "cover")[0], "x", 1e-3).caption
    )


def test_what_is_bought_and_glued():
    """A cover is bought, a template is not; drawings are glued to the stuff that they are of."""
    covered = as_text("list", build_list(build_of(COVERED["both"], Fabrication())))
    taped = as_text(
        "list",
        build_list(
            build_of(
                varied(SHIPPED["five-slot-2g45"], tape=[{"slot": 1, "end": "near", "covers_mm": 2.0}]),
                Fabrication(),
            )
        ),
    )
    rows = [line for line in covered.splitlines() if line.startswith(("Front cover", "Back cover"))]
    assert len(rows) == 2
    assert "that of the cover to its plastic" in " ".join(covered.split())
    materials = taped.split("Materials")[1].split("Slots")[0]
    assert "slot 1 near" not in materials
    assert "templates for tape stay loose" in " ".join(taped.split())
    assert "in the window of its paper template" in " ".join(taped.split())
