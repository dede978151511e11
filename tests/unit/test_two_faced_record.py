"""Records with slots in both broad walls: what they mean, what is refused, what is said of the pattern.

Expected values follow from the record itself, or from symmetry; each test says which.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shaped_records import SHIPPED, varied, with_slots

from simharness.advice.warnings import warnings
from simharness.design.messages import choices
from simharness.design.proposal import designed
from simharness.design.requirements import Requirements
from simharness.design.stock import standard_guide
from simharness.em.pattern.around import nulls, ripple_db
from simharness.em.row.standing_wave import StandingDemand, designed_row
from simharness.em.slot.basis import MomentBasis
from simharness.errors import InputError
from simharness.estimate.antenna import estimate
from simharness.estimate.around import around_figures, around_sentences
from simharness.geometry import antenna_scene
from simharness.mesh.grid import grid
from simharness.mesh.settings import QUALITIES
from simharness.records import slot_clearance
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.shapes import parts

BOTH = SHIPPED["two-faced-5g8"]
ANGLE = np.radians(np.arange(-180, 181, 1.0))


@pytest.fixture(scope="module")
def guess():
    return estimate(BOTH, 21)


def ruled(**changes):
    return varied(BOTH, slot_rule=changes)


def test_the_rule_gives_each_wall_its_row():
    """By the meaning of the fields: first place, offset and its alternation, for either wall."""
    slots = ruled(back_first_mm=40.0, back_offset_mm=-4.0).slots
    front, back = ([s for s in slots if s.face == face] for face in ("front", "back"))
    assert [s.offset_mm for s in front] == [5.5, -5.5, 5.5, -5.5] and [s.offset_mm for s in back] == [
        -4.0,
        4.0,
        -4.0,
        4.0,
    ]
    assert front[0].position_mm == 43.7 and back[0].position_mm == 40.0
    assert [s.position_mm for s in slots] == sorted(s.position_mm for s in slots)


def test_left_out_the_back_is_sawn_straight_through():
    slots = ruled(back_offset_mm=None).slots
    assert len(slots) == 8 and all(
        p.model_copy(update={"face": "back"}) == q for p, q in zip(slots[::2], slots[1::2])
    )


def test_slots_in_different_walls_do_not_meet():
    """The metal between slots of one wall: spacing less length (from the record)."""
    assert slot_clearance(BOTH.slots) == pytest.approx(np.hypot(33.87 - 24.3, 11.0 - 3.0), abs=1e-9)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"slot_rule": {"back_first_mm": 14.0}}, "the feed hole cuts into slot"),
        ({"slot_rule": {"faces": "front"}}, "slot_rule.back_offset_mm = -5.5: only with faces = 'both'"),
        ({"slot_rule": {"faces": "back"}}, "slot_rule.faces"),
        ({"feed": {"wall": "front", "position_mm": 40.0, "offset_mm": 4.0}}, "move it or use wall = 'back'"),
    ],
)
def test_what_is_refused(changes, words):
    changes = {k: v | ({"back_offset_mm": 0.0} if "back_first_mm" in v else {}) for k, v in changes.items()}
    with pytest.raises(InputError, match=words):
        varied(BOTH, **changes)


def test_two_slots_of_one_wall_still_collide():
    slot = {"position_mm": 60.0, "offset_mm": 3.0, "length_mm": 14.0, "width_mm": 1.6, "face": "back"}
    with pytest.raises(InputError, match="overlaps slot 1"):
        with_slots([slot, slot | {"position_mm": 62.0}])
    assert with_slots([slot, slot | {"face": "front"}]).two_faced


def test_both_walls_are_cut_and_marked_where_the_record_says():
    """Openings of the scene, and marks on the outer faces: from the record, 1 nm of rounding."""
    scene = antenna_scene(BOTH)
    for part, face, y in (("front wall", "front", 2e-3), ("back wall", "back", -22e-3)):
        prism = next(p for p in scene.prisms if p.part == part)
        holes = {
            (round((min(z) + max(z)) / 2, 6), round((min(x) + max(x)) / 2, 6))
            for x, z in (zip(*h) for h in prism.outline.holes)
        }
        marks = {(round(s.z, 6), round(s.x, 6)) for s in scene.slots if s.face == face}
        assert marks <= holes and len(marks) == 4 and len(prism.meshed.holes) == len(prism.outline.holes)
        assert all(s.y == pytest.approx(y, abs=1e-9) for s in scene.slots if s.face == face)


@pytest.mark.parametrize("quality", QUALITIES)
def test_both_slotted_walls_have_as_many_cells(quality):
    """Though the coax in the back asks for finer ones: front and back of equal slots should shine alike."""
    y = grid(antenna_scene(BOTH), QUALITIES[quality]).y
    front, back = (np.count_nonzero((y > low + 1e-9) & (y <= low + 2e-3 + 1e-9)) for low in (0.0, -22e-3))
    assert front == back > 0


def test_mates_share_their_mesh_lines():
    """Opposite slots ask for the same lines: the mesh across and along is that of the front alone,
    to the rounding of doubles."""
    both = grid(antenna_scene(ruled(back_offset_mm=None)), QUALITIES["draft"])
    front = grid(antenna_scene(ruled(back_offset_mm=None, faces="front")), QUALITIES["draft"])
    np.testing.assert_allclose(both.x, front.x, rtol=0, atol=1e-15)
    np.testing.assert_allclose(both.z, front.z, rtol=0, atol=1e-15)


def test_estimate_of_mirrored_offsets_is_even_with_a_null_to_either_side(guess):
    """Half a turn about the axis takes the antenna into itself, but for the signs of its sources: front and
    back are alike (1e-3 dB: the boundary elements), and the nulls of an even row lie across. One degree: the
    ends of the row differ.
    """
    figures = guess.figures
    assert figures["front_to_back"].value == pytest.approx(0, abs=1e-2)
    assert figures["null_plus_x"].value == pytest.approx(90, abs=1)
    assert figures["null_minus_x"].value == pytest.approx(-90, abs=1)
    assert figures["null_depth"].value < -25 and 1 < figures["ripple_across"].value < 4


def test_one_wall_alone_has_no_such_figures():
    assert around_figures(SHIPPED["eight-slot-5g8"], ANGLE, 1 + np.cos(ANGLE), "") == {}
    assert around_sentences(SHIPPED["eight-slot-5g8"], {}) == []


def test_ripple_and_nulls_of_known_patterns():
    """cos^2 turned by 20 deg: nulls at 90 - 20 and -90 - 20 (exact); within 60 deg of the front the least is
    cos^2(80) over a peak of 1: 15.21 dB. A circle has neither."""
    power = np.cos(ANGLE + np.radians(20)) ** 2
    assert [np.degrees(n.angle) for n in nulls(ANGLE, power)] == pytest.approx([-110, 70], abs=1e-6)
    assert ripple_db(ANGLE, power) == pytest.approx(-20 * np.log10(np.cos(np.radians(80))), abs=1e-9)
    even = np.ones(ANGLE.size)
    assert nulls(ANGLE, even) == () and ripple_db(ANGLE, even) == 0


@pytest.mark.parametrize(
    ("axis", "words"),
    [
        ("vertical", "70 deg to the right of where the front looks (bearing 70 deg"),
        ("horizontal", "110 deg below where the front looks"),
    ],
)
def test_nulls_are_told_as_the_antenna_hangs(axis, words):
    """+x is to the right of who looks along +y with z up, and up with the near end on the left of who faces
    the front.
    """
    record = varied(BOTH, mounting={"axis": axis})
    figures = around_figures(record, ANGLE, np.cos(ANGLE + np.radians(20)) ** 2, "")
    ripple, told = around_sentences(record, figures)
    assert words in told and "15.2 dB" in ripple


def test_the_shipped_record_has_no_warnings_and_a_lone_wall_keeps_its_own():
    assert warnings(BOTH) == []
    assert any("beam leaves broadside" in text for text in warnings(ruled(spacing_mm=31.0)))


def test_sheets_show_each_wall_from_outside_alike():
    """The template of the front is that of the back, both seen from outside: same places across and along
    (record).
    """
    made = {part.name: part for part in parts(antenna_scene(BOTH), Fabrication(make="tube"))}
    front, back = (
        sorted(o.centre for o in made[f"tube-{face}"].openings if o.kind == "slot")
        for face in ("front", "back")
    )
    np.testing.assert_allclose(front, back, atol=1e-9)
    table = next(s for s in build_list(build_of(BOTH, Fabrication(make="tube"))) if s.title == "Slots").table
    assert table[0][-1] == "part" and {row[-1] for row in table[1:]} == {
        "Front face of the tube",
        "Back face of the tube",
    }


@pytest.mark.parametrize("mate", [1, -1])
def test_row_of_both_walls_does_what_was_asked(mate):
    """Wanted voltages and load, seen by the whole row (tolerance of the design, ten times tighter than a hand
    can cut); each slot loads the guide half as much as alone, so it lies nearer to the centre line."""
    quick = MomentBasis(orders=(1, 2, 3, 5), modes=(30, 20))
    demand = StandingDemand(40.386e-3, 20.193e-3, 1.63e-3, 2.5e-3, 5.8e9, (1.0, 0.7), 0.8, opposite=mate)
    both, alone = designed_row(demand, quick, 1e-3), designed_row(replace(demand, opposite=0), quick, 1e-3)
    assert both.misfit(np.array(demand.weights)) < 1e-3 and both.admittance == pytest.approx(0.8, abs=1e-3)
    assert [s.face for s in both.guide.slots] == ["front", "back"] * 2
    assert all(q.offset == mate * p.offset for p, q in zip(both.guide.slots[::2], both.guide.slots[1::2]))
    assert abs(both.guide.slots[0].offset) < 0.85 * abs(alone.guide.slots[0].offset)


def test_design_writes_both_walls():
    """What the rounded design promises at the centre, the estimate sees in its record: 0.02 of S11, since its
    near end is a short and the design's a matched guide."""
    found = designed(
        Requirements(5.8e9, standard_guide("WR-159"), slots=1, slot_width=2.5e-3, load=0.5, opposite=-1)
    )
    front, back = found.record.slots
    assert (front.face, back.face) == ("front", "back") and back.offset_mm == -front.offset_mm
    assert found.record.title.startswith("2 x 1 slot in WR-159") and "cancel to either side" in " ".join(
        choices(found)
    )
    seen = estimate(found.record, 11).figures["s11_at_centre"].value
    assert abs(10 ** (seen / 20) - 10 ** (found.after.s11_db[1] / 20)) < 0.02


def test_slots_that_shift_each_other_alike_are_no_slip():
    """A pair sawn straight through both walls: alone each slot resonates 6 % low, together they resonate at
    5.8 GHz, as designed.
    """
    pair = Requirements(5.8e9, standard_guide("WR-159"), slots=1, slot_width=2.5e-3, opposite=1)
    found = designed(pair).record
    assert not [text for text in warnings(found) if "it will take little power" in text]
    slots = [
        slot if i else slot.model_copy(update={"length_mm": slot.length_mm + 3})
        for i, slot in enumerate(found.slot)
    ]
    detuned = found.model_copy(update={"slot": tuple(slots)})
    assert [text for text in warnings(detuned) if "it will take little power" in text]
