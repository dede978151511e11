"""A front wall of laminate on its way from record to build list. Expectations from first principles and the
rules of each module.
"""

from __future__ import annotations

import numpy as np
import pytest
from shaped_records import SHIPPED, varied

from simharness.advice.derived import derived
from simharness.advice.warnings import warnings
from simharness.constants import EPS0, TWO_PI
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.estimate.antenna import estimate
from simharness.estimate.deviations import deviations
from simharness.geometry import antenna_scene
from simharness.geometry.solids import SUBSTRATE
from simharness.mesh.grid import grid
from simharness.mesh.raster import tiles
from simharness.mesh.settings import QUALITIES
from simharness.records import read_record
from simharness.records.text import record_text
from simharness.results.wall_fields import dielectric_loss
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.build.laminate import require_foldable
from simharness.sheets.build.section import as_text
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.part import compensated, drill_table
from simharness.sheets.flat.shapes import parts
from simharness.solver.settings import SolverRequest, SolverSettings

RECORD = SHIPPED["five-slot-2g45-laminate"]


def board(**changes):
    """The shipped record with another laminate."""
    return varied(
        RECORD,
        guide={
            **RECORD.guide.model_dump(exclude_none=True),
            "laminate": {"permittivity": 4.4, "loss_tangent": 0.02, **changes},
        },
    )


ROUTED, LINED = board(slots="routed"), board(copper="both", slots="routed")


@pytest.mark.parametrize(
    "changes, what",
    [
        (
            {"copper": "outside"},
            'guide.laminate.copper = "outside": the substrate would lie inside the guide',
        ),
        ({"copper": "outside", "slots": "routed"}, "guide.laminate.copper"),
        ({"copper": "both"}, 'guide.laminate.slots = "etched": between two sheets of copper'),
        ({"permittivity": 0.9}, "guide.laminate.permittivity = 0.9"),
        ({"copper": "inner"}, "guide.laminate.copper = \"inner\": must be 'inside', 'outside' or 'both'"),
        (
            {"er": 2.0},
            (
                "guide.laminate.er = 2.0: unknown key; allowed here: permittivity, loss_tangent, copper,"
                " slots, copper_um"
            ),
        ),
    ],
)
def test_refused(changes, what):
    with pytest.raises(InputError) as refused:
        board(**changes)
    assert what in str(refused.value)


@pytest.mark.parametrize("record", [RECORD, LINED], ids=["etched", "lined"])
def test_text_reads_back(tmp_path, record):
    path = tmp_path / f"{record.name}.toml"
    path.write_text(record_text(record), encoding="utf-8")
    assert read_record(path) == record


def test_copper_round_the_slots_is_a_metal_wall():
    """The same geometry and the same estimate as sheet of that thickness."""
    sheet = varied(
        RECORD, guide={k: v for k, v in RECORD.guide.model_dump(exclude_none=True).items() if k != "laminate"}
    )
    metal = sheet.model_copy(update={"guide": sheet.guide.model_copy(update={"laminate": None})})
    assert antenna_scene(LINED) == antenna_scene(metal)
    assert model_inputs.slotted_guide(LINED) == model_inputs.slotted_guide(metal)


def area(mesh, boxes):
    """Of tiles that lie side by side, seen along y, m2."""
    return sum(np.prod([mesh.lines[i][t.high[i]] - mesh.lines[i][t.low[i]] for i in (0, 2)]) for t in boxes)


def test_foil_and_substrate_on_the_mesh():
    """Foil is a sheet on the line y = 0, open at the slots; the substrate lies on it in two cells or more."""
    scene = antenna_scene(RECORD)
    mesh = grid(scene, QUALITIES["draft"])
    boxes = tiles(scene, mesh)
    line, top = mesh.index(1, 0.0), mesh.index(1, 0.8e-3)
    assert mesh.y[line] == 0.0 and mesh.y[top] == pytest.approx(0.8e-3, abs=1e-12) and top - line >= 2
    substrate = [t for t in boxes if t.material.name == "substrate"]
    assert all((t.low[1], t.high[1]) == (line, top) for t in substrate)
    cut = area(mesh, substrate) - area(
        mesh, [t for t in boxes if t.material.metal and t.low[1] == t.high[1] == line]
    )
    slots = sum(s.length_mm * s.width_mm for s in RECORD.slots) * 1e-6
    # slots are drawn out by a fifth of a cell on each side: a fifth of the width at two cells, and less of
    # the length
    assert 1.15 * slots < cut < 1.3 * slots
    assert substrate[0].material.loss == pytest.approx(TWO_PI * 2.45e9 * EPS0 * 4.4 * 0.02, rel=1e-12)


def test_routed_slots_are_open_in_the_substrate_too():
    scene = antenna_scene(ROUTED)
    mesh = grid(scene, QUALITIES["draft"])
    boxes = tiles(scene, mesh)
    foil = [t for t in boxes if t.material.metal and t.low[1] == t.high[1] == mesh.index(1, 0.0)]
    assert area(mesh, foil) == pytest.approx(
        area(mesh, [t for t in boxes if t.material.name == "substrate"]), rel=1e-9
    )


def test_substrate_loss_of_an_even_field():
    """loss / 2 |E|^2 volume, with all three components of one size everywhere."""
    scene = antenna_scene(RECORD)
    mesh = grid(scene, QUALITIES["draft"])
    request = SolverRequest(scene, mesh, SolverSettings(QUALITIES["draft"]))
    sheet = next(p for p in scene.prisms if p.part == "substrate")
    bounds = sheet.bounds()
    lines = [
        line[mesh.index(i, bounds[2 * i]) : mesh.index(i, bounds[2 * i + 1]) + 1]
        for i, line in enumerate(mesh.lines)
    ]
    volume = np.prod([line[-1] - line[0] for line in lines])
    field = np.full((1, 3, *(len(line) for line in lines)), 2.0 + 0j)
    found = dielectric_loss(request, SUBSTRATE, (lines, field), np.array([0.5]))
    assert found == pytest.approx([0.5 * sheet.material.loss * 3.0 * volume], rel=1e-9)


def test_estimate_has_the_loss_of_the_substrate():
    lossless = board(loss_tangent=0.0)
    heat = {
        name: 1 - estimate(r, 21).figures["efficiency"].value
        for name, r in (("glass", RECORD), ("none", lossless))
    }
    # the lossless one keeps its brass walls; tan d 0.02 in a sheet of a third of the slot's near field costs
    # a few per cent
    assert heat["none"] < 0.012 and 0.02 < heat["glass"] < 0.15


def test_check_resonance_is_that_of_the_laminate():
    found, bare = (
        derived(RECORD)["slot_resonance_most"],
        derived(board(permittivity=1.0, loss_tangent=0.0))["slot_resonance_most"],
    )
    assert "laminate" in found.basis
    # between the bare slot and one with dielectric on its whole outer side, sqrt((1 + 4.4) / 2)
    assert bare.value / np.sqrt(2.7) < found.value < 0.95 * bare.value


@pytest.mark.parametrize(
    "record, words",
    [
        (RECORD, "loss tangent of 0.02 takes part of the power"),
        (LINED, "line the edges of every slot"),
        (ROUTED, "resonates high: by 3 %"),
        (varied(RECORD, guide={"front_wall_mm": 8.0}), "the substrate is thick"),
    ],
)
def test_warnings(record, words):
    assert any(words in sentence for sentence in warnings(record))


def test_permittivity_is_a_deviation_of_laminates_only():
    assert "permittivity" in [s.name for s in deviations(RECORD)]
    assert "permittivity" not in [s.name for s in deviations(SHIPPED["five-slot-2g45"])]
    deviation = next(s for s in deviations(RECORD) if s.name == "permittivity")
    assert deviation.applied(RECORD, 5.0).guide.laminate.permittivity == pytest.approx(4.62, rel=1e-12)


def front_and_list(record):
    """The front wall as it is drawn, and the build list."""
    build = build_of(record, Fabrication())
    return build.parts[0], as_text("list", build_list(build))


def test_etched_front_is_artwork_seen_from_the_copper():
    front, words = front_and_list(RECORD)
    assert front.thickness == pytest.approx(0.8e-3) and front.mirrored and "copper" in front.view
    assert {o.path.layer for o in front.openings} == {"etch"} and not drill_table(front)
    # mirrored on paper, as in the record in the list
    assert [o.centre[1] for o in front.openings] == pytest.approx([-1e-3 * s.offset_mm for s in RECORD.slots])
    assert [line.split()[4] for line in words.splitlines() if line.split()[-1:] == ["round"]] == [
        "+13.70",
        "-13.70",
    ] * 2 + ["+13.70"]
    assert [o.path for o in compensated(front, 2e-3).openings] == [o.path for o in front.openings]
    assert any("mirror image" in note for note in front.notes)
    assert (
        "hazardous waste" in words
        and "Dust of glass-fibre" in words
        and "0.8 mm with 35 um of copper on one face" in words
    )


@pytest.mark.parametrize("record, words", [(ROUTED, "Rout the slots"), (LINED, "Line the edges")])
def test_routed_front_is_cut(record, words):
    front, text = front_and_list(record)
    assert {o.path.layer for o in front.openings} == {"cut"} and len(drill_table(front)) == 10
    assert words in text and "Etch" not in text
    assert "laminate" in front.material


def test_board_covers_sides_and_end_caps():
    """A board on folded sides reaches over the caps, whose tabs on that side would be in its way."""
    front, _, near, _ = parts(antenna_scene(RECORD))
    assert front.size == pytest.approx((490e-3, 91e-3))
    assert near.size[1] == pytest.approx(
        parts(antenna_scene(replace_front(RECORD)))[2].size[1] - front.thickness, abs=20e-3
    )
    assert len(near.bends) == 3


def replace_front(record):
    """The same with a front of metal."""
    return record.model_copy(update={"guide": record.guide.model_copy(update={"laminate": None})})


@pytest.mark.parametrize(
    "fabrication, what", [(Fabrication("tube"), "stock tube"), (Fabrication(lip=5e-3), "cannot be folded")]
)
def test_ways_of_fabrication_that_a_board_does_not_stand(fabrication, what):
    with pytest.raises(InputError, match=what):
        require_foldable(RECORD, fabrication)
    require_foldable(SHIPPED["five-slot-2g45"], fabrication)
