"""Tape over the ends of slots and plates inside the ends: what is refused, the scene, the estimate."""

from __future__ import annotations

import numpy as np
import pytest
from shaped_records import SHIPPED, varied, with_slots

from simharness.errors import InputError
from simharness.estimate.antenna import exact_reflection
from simharness.estimate.deviation import slot_covered
from simharness.geometry import antenna_scene
from simharness.geometry.solids import TAPE_PART
from simharness.page import rows
from simharness.records import parse_record
from simharness.records.text import plain_data, record_text
from simharness.tuning.variables import tuning_variables

EIGHT, TAPED = SHIPPED["eight-slot-5g8"], SHIPPED["taped-four-slot-5g8"]
TUBE, BENT, TWO = SHIPPED["four-slot-tube-2g44"], SHIPPED["bent-probe-5g8"], SHIPPED["two-faced-5g8"]
CURVED, BOARD = SHIPPED["bent-slot-5g8"], SHIPPED["five-slot-2g45-laminate"]
LOADED = SHIPPED["sixteen-slot-5g8-travelling"]


def tape(slot=1, end="far", covers_mm=2.0):
    return {"slot": slot, "end": end, "covers_mm": covers_mm}


@pytest.mark.parametrize(
    ("record", "changes", "what"),
    [
        (EIGHT, {"tape": [tape(9)]}, "tape 1 slot = 9: there is no such slot; must be 1 to 8"),
        (EIGHT, {"tape": [tape(0)]}, "tape.1.slot = 0"),
        (EIGHT, {"tape": [tape(end="left")]}, "tape.1.end"),
        (EIGHT, {"tape": [tape(covers_mm=0.0)]}, "tape.1.covers_mm = 0.0"),
        (EIGHT, {"tape": [tape(covers_mm=float("nan"))]}, "tape.1.covers_mm"),
        (EIGHT, {"tape": [tape(), tape(covers_mm=1.0)]}, "tape 1 covers that end of slot 1 already"),
        (EIGHT, {"tape": [tape(covers_mm=24.0)]}, "must stay open over more than its width"),
        (EIGHT, {"tape": [tape(), tape(end="near", covers_mm=20.5)]}, "besides 2 at its other end"),
        (EIGHT, {"tape": [tape() | {"glue": 1.0}]}, "tape.1.glue = 1.0: unknown key"),
        (TUBE, {"tape": [tape()]}, "tape on a round tube is not modelled; leave it out"),
        (CURVED, {"tape": [tape()]}, "tape on a curved or tapered slot is not modelled"),
        (BOARD, {"tape": [tape()]}, "the copper lies under the laminate, out of reach"),
        (TAPED, {"cover": {"material": "PVC", "thickness_mm": 1.0}}, "tape under a cover is not modelled"),
        (TUBE, {"guide": {"far_plate_mm": 5.0}}, "guide.far_plate_mm"),
        (BENT, {"guide": {"near_plate_mm": 1.0}}, "the coax comes through the near end; leave the plate out"),
        (LOADED, {"guide": {"far_plate_mm": 5.0}}, "only with far_end = 'short'; here it is 'load'"),
        (TAPED, {"guide": {"near_plate_mm": 7.0}}, "the plate lies beyond the feed hole; at most 6.9"),
        (TAPED, {"guide": {"far_plate_mm": 12.0}}, "the plate lies beyond slot 4; at most 11"),
        (TAPED, {"guide": {"far_plate_mm": 0.0}}, "guide.far_plate_mm = 0.0"),
        (TAPED, {"guide": {"near_plate_mm": 6.0, "far_plate_mm": 170.0}}, "must stay within length_mm 172"),
    ],
)
def test_what_is_refused(record, changes, what):
    with pytest.raises(InputError) as error:
        varied(record, **changes)
    assert what in str(error.value)


def test_a_slot_that_cannot_be_cut_is_refused_itself():
    """Beside a plate too: half a circle is the most that a slot may turn."""
    slot = {"position_mm": 60.0, "offset_mm": 0.0, "length_mm": 14.0, "width_mm": 1.0}
    with pytest.raises(InputError, match="half a circle"):
        with_slots([slot | {"shape": "s", "aside_mm": 2.3}], EIGHT, guide={"far_plate_mm": 1.0})


def test_a_single_table_is_told_apart():
    with pytest.raises(InputError, match=r"must be written as \[\[tape\]\]"):
        parse_record(plain_data(EIGHT) | {"tape": tape()})


def test_tape_and_plates_are_written_and_read():
    record = varied(TAPED, guide={"near_plate_mm": 1.5}, tape=[tape(), tape(end="near")])
    assert parse_record(plain_data(record)) == record
    text = record_text(record)
    assert text.count("[[tape]]") == 2 and "near_plate_mm = 1.5" in text


def test_square_slots_under_tape_are_what_is_left_open():
    one = {"position_mm": 60.0, "offset_mm": 7.0, "length_mm": 26.0, "width_mm": 3.0, "ends": "square"}
    record = with_slots([one], EIGHT, tape=[tape(covers_mm=3.0), tape(end="near", covers_mm=1.0)])
    left = record.open_slots[0]
    assert (left.length_mm, left.position_mm) == pytest.approx((22.0, 59.0))
    pieces = [prism.bounds() for prism in antenna_scene(record).prisms if prism.part == TAPE_PART]
    edges = sorted(pieces, key=lambda bounds: bounds[4])
    assert (edges[0][5], edges[1][4]) == pytest.approx((48e-3, 70e-3))
    # from outside on the wall, over the slot on both sides of it
    for x0, x1, y0, _, _, _ in pieces:
        assert y0 == pytest.approx(record.guide.front_wall) and x0 < 5.5e-3 and x1 > 8.5e-3


def test_tape_is_drawn_last():
    """The last solid wins: a wall, a slot or a board after it would clear it."""
    names = [prism.part for prism in antenna_scene(TAPED).prisms]
    walls = [i for i, name in enumerate(names) if "wall" in name or "end" in name or "plate" in name]
    assert names.count(TAPE_PART) == 4 and min(i for i, n in enumerate(names) if n == TAPE_PART) > max(walls)


@pytest.mark.parametrize(("field", "other"), [("near_plate_mm", "near"), ("far_plate_mm", "far")])
def test_a_plate_is_a_guide_that_begins_or_ends_there(field, other):
    """Nothing lies behind a short for the wave: the estimate is that of the guide cut off at the plate, to
    rounding.
    """
    plated = varied(EIGHT, guide={field: 1.5})
    shorter = plain_data(EIGHT, rule=False)
    shorter["guide"]["length_mm"] -= 1.5
    if other == "near":
        shorter["feed"]["position_mm"] -= 1.5
        for slot in shorter["slot"]:
            slot["position_mm"] -= 1.5
    frequency = np.linspace(5.7e9, 5.9e9, 5)
    found, expected = (exact_reflection(one, frequency) for one in (plated, parse_record(shorter)))
    np.testing.assert_allclose(found, expected, atol=1e-9)
    assert np.abs(found - exact_reflection(EIGHT, frequency)).max() > 1e-3


def test_a_plate_stands_in_the_scene_with_its_face_inside():
    scene = antenna_scene(varied(EIGHT, guide={"near_plate_mm": 2.5, "far_plate_mm": 1.0}))
    near, far = (
        next(p for p in scene.prisms if p.part == f"{end} plate").bounds() for end in ("near", "far")
    )
    length = EIGHT.guide.length
    assert near[4:] == pytest.approx((0.5e-3, 2.5e-3))  # as thick as the walls
    assert far[4:] == pytest.approx((length - 1e-3, length))  # as there is room
    assert scene.inside[4:] == pytest.approx((2.5e-3, length - 1e-3))


def test_plates_that_are_there_may_be_tuned():
    names = [variable.name for variable in tuning_variables(TAPED, ["far-plate"])]
    assert "far-plate" in names
    with pytest.raises(InputError, match="near-plate"):
        tuning_variables(TAPED, ["near-plate"])


def test_tape_follows_its_slot():
    """In a file slots stand in any order, and are numbered along the guide."""
    data = plain_data(TAPED, rule=False)
    data["slot"].reverse()
    data["tape"] = [tape(1, covers_mm=1.0), tape(2, covers_mm=2.0), tape(4, covers_mm=3.0)]
    record = parse_record(data)
    left = rows.without_slot(data, 3, record)["tape"]  # the second along the guide
    assert left == [tape(1, covers_mm=1.0), tape(3, covers_mm=3.0)]
    added = rows.with_slot(data, record)
    assert added["tape"] == data["tape"] and parse_record(added)
    gone = plain_data(record)
    slot_covered(3)(gone, 1.0)  # the first along the guide
    assert gone["tape"] == [tape(1, covers_mm=2.0), tape(3, covers_mm=3.0)] and parse_record(gone)


def test_tape_keeps_its_slot_where_another_comes_before_it():
    """A slot more in the front wall before the last of the back wall."""
    back = {"position_mm": 220.0, "offset_mm": 7.0, "length_mm": 25.0, "width_mm": 3.0, "face": "back"}
    data = plain_data(TAPED, rule=False)
    data["guide"]["length_mm"] = 300.0
    data["slot"].append(back)
    data["tape"] = [tape(5)]
    added = rows.with_slot(data, parse_record(data))
    assert parse_record(added).slots[5].face == "back" and added["tape"] == [tape(6)]


def test_tape_on_a_rule_in_both_walls_survives_a_slot_more():
    data = plain_data(varied(TWO, tape=[tape(8)]))
    on = parse_record(data).slots[7]
    added = rows.with_slot(data, parse_record(data))
    made = parse_record(added)
    kept = made.slots[made.tape[0].slot - 1]
    assert (kept.position_mm, kept.face) == (on.position_mm, on.face)
