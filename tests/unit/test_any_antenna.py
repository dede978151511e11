"""Any antenna that a record may describe: scene, mesh, parts and build list, and what they say of each other.

What is cut must be what is solved. The sizes of the parts are held against the numbers of the record, which
nobody has computed, and the metal of each wall against the solid of the solver. Round holes stand in the
scene as polygons of 64 chords, which lack 1 - sin(x)/x of the circle's area, x = 2 pi/64: 1.6e-3 (geometry).
"""

from __future__ import annotations

import math

import numpy as np
from any_input import likely_records, of_any
from hypothesis import assume
from shapely import unary_union
from shapely.geometry import Polygon, box

from simharness.errors import HarnessError
from simharness.geometry.scene import Scene
from simharness.printable import is_printable
from simharness.records import Record, parse_record
from simharness.runs.planning import record_plan
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.build.section import as_text
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.part import Part
from simharness.solver.machine import Machine

ON = Machine("openEMS 0.0.35", 2)
MM = 1e-3
NANOMETRE = 1e-9
CHORDS = 1.7e-3
"""Share of its area by which a round hole and its polygon may differ."""


def sentence(error: HarnessError) -> None:
    """What is refused is said in words that do not act."""
    assert str(error) and is_printable(str(error), keep="\n")


@of_any(12, most=1000, data=likely_records())
def test_any_antenna_is_meshed_and_listed_or_refused(data):
    try:
        record = parse_record(data)
    except HarnessError:
        assume(False)
    try:
        plan = record_plan(record, "draft", on=ON)
    except HarnessError as error:
        sentence(error)
    else:
        assert plan.cells > 0 and all((np.diff(line) > 0).all() for line in plan.request.grid.lines)
    for make in ("folded", "tube"):
        try:
            build = build_of(record, Fabrication(make=make, lip=8 * MM))
            text = as_text(record.title or record.name, build_list(build))
        except HarnessError as error:
            sentence(error)
        else:
            assert is_printable(text, keep="\n") and "nan" not in text.split()


@of_any(50, data=likely_records())
def test_what_is_cut_is_what_is_written_and_what_is_solved(data):
    try:
        record = parse_record(data)
        made = build_of(record, Fabrication(make=record.guide.make))
    except HarnessError:
        assume(False)
    parts = {part.place: part for part in made.parts}
    slots_as_written(record, parts)
    if record.guide.shape == "round":
        template_as_written(record, parts["around"])
    elif record.guide.laminate is None:
        walls_as_solved(record, parts, made.scene)
        outlines_as_written(record, parts)


def turned(record: Record, part: Part) -> int:
    """-1 where a part is seen from the other side: v runs against the offsets of the record."""
    return -1 if part.mirrored or (part.place == "back" and record.guide.make == "tube") else 1


def slots_as_written(record: Record, parts: dict[str, Part]) -> None:
    """Place, offset, length and width of every slot, as a ruler would find them on the sheet."""
    for face in ("front", "back"):
        wanted = {i: slot for i, slot in enumerate(record.slots, 1) if slot.face == face}
        part = parts.get("around" if record.guide.shape == "round" and face == "front" else face)
        seen = {} if part is None else {o.number: o for o in part.openings if o.kind == "slot"}
        assert seen.keys() == wanted.keys()
        for number, slot in wanted.items():
            if not slot.off_grid:
                found, (along, across) = seen[number], seen[number].centre
                assert math.isclose(along, slot.position_mm * MM, abs_tol=NANOMETRE)
                assert math.isclose(across, turned(record, part) * slot.offset_mm * MM, abs_tol=NANOMETRE)
                assert math.isclose(found.length, slot.length_mm * MM, abs_tol=NANOMETRE)
                assert math.isclose(found.width, slot.width_mm * MM, abs_tol=NANOMETRE)


def template_as_written(record: Record, part: Part) -> None:
    """As long as the tube and as wide as its circumference."""
    around = math.pi * (record.guide.diameter_mm + 2 * record.guide.wall_mm) * MM
    u0, v0, u1, v1 = part.outline.polygon().bounds
    assert math.isclose(v1 - v0, around, abs_tol=NANOMETRE)
    assert u1 - u0 >= record.guide.length_mm * MM - NANOMETRE


def walls_as_solved(record: Record, parts: dict[str, Part], scene: Scene) -> None:
    """Each broad wall between ends and sides: the metal and the holes of the solver, in its thickness.

    Where a wire is soldered to a wall there is a small hole for its tip, which the solver sees filled.
    """
    half, length = record.guide.a_mm / 2 * MM, record.guide.length_mm * MM
    inside = box(0, -half, length, half)
    for place in {"front", "back"} & parts.keys():
        part = parts[place]
        solid, sign = next(p for p in scene.prisms if p.part == f"{place} wall"), turned(record, part)
        holes = [Polygon([(z, sign * x) for x, z in ring]) for ring in solid.outline.holes]
        solved = Polygon(
            [(z, sign * x) for x, z in solid.outline.exterior], [hole.exterior.coords for hole in holes]
        )
        tips = unary_union([o.path.polygon() for o in part.openings if o.kind in ("tip", "screw")])
        cut = part.metal().union(tips).intersection(inside)
        differing = solved.intersection(inside).symmetric_difference(cut).area
        assert differing <= CHORDS * sum(hole.area for hole in holes) + NANOMETRE * length
        assert math.isclose(part.thickness, record.guide.thickness_mm(place) * MM, abs_tol=NANOMETRE)


def outlines_as_written(record: Record, parts: dict[str, Part]) -> None:
    """The inner length between the end plates, and plates at least as wide and high as the outside."""
    guide = record.guide
    width = guide.a_mm + 2 * guide.other_walls_mm
    height = guide.b_mm + guide.other_walls_mm + guide.front_wall_mm
    for place in {"front", "back"} & parts.keys() if guide.far_end == "short" else ():
        along, across = parts[place].size
        assert math.isclose(along, guide.length_mm * MM, abs_tol=NANOMETRE)
        if place == "front" and record.wings is not None and record.wings.join == "folded":
            assert across > width * MM  # by what test_wings.py holds to the scene
        else:
            assert place == "back" or math.isclose(across, width * MM, abs_tol=NANOMETRE)
    for end in {"near", "far"} & parts.keys():
        across, upward = parts[end].size
        assert across >= width * MM - NANOMETRE and upward >= height * MM - NANOMETRE
