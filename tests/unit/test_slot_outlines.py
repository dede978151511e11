"""Outlines of curved and tapered slots against geometry: areas, tips, mirror images, limits; and what a
record refuses.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from each_case import each_case
from shaped_records import SHIPPED, WR90, mirrored, varied, with_slots
from shapely import affinity
from shapely.geometry import Point

from simharness.em.slot.shape import MAX_ASIDE, arc_half_angle, bend_radius, centre_line
from simharness.errors import InputError
from simharness.geometry import antenna_scene
from simharness.records import Slot, slot_clearance
from simharness.records.outlines import slot_outline

MM = 1e-3
SHAPES = {"straight": 0.0, "bent": 3.0, "s": -1.5}


def slot(shape: str, ends: str, **changes) -> Slot:
    return Slot(
        **{
            "position_mm": 50.0,
            "offset_mm": 2.0,
            "length_mm": 15.0,
            "width_mm": 1.6,
            "ends": ends,
            "shape": shape,
            "aside_mm": SHAPES[shape],
            **changes,
        }
    )


@pytest.mark.parametrize("shape", SHAPES)
def test_area_is_width_times_length(shape):
    """Pappus: exact for square ends; 64 chords and a circle of 128 sides are good for 1e-3."""
    width, length = 1.6 * MM, 15.0 * MM
    area = {
        "square": width * length,
        "round": width * length - (1 - math.pi / 4) * width**2,
        "tapered": width * (length - 4 * MM),
    }
    for ends, expected in area.items():
        found = slot_outline(slot(shape, ends, **({"taper_mm": 4.0} if ends == "tapered" else {})))
        assert found.is_valid and found.geom_type == "Polygon"
        assert found.area == pytest.approx(expected, rel=1e-3), ends


@pytest.mark.parametrize("shape", ["bent", "s"])
def test_line_has_its_length_and_stands_aside_as_told(shape):
    """Chords of 1/1000 of the arc are shorter than it by less than 1e-6."""
    along = np.linspace(-0.5, 0.5, 1001) * 15.0
    points, tangents = centre_line(shape, 15.0, SHAPES[shape], along)
    steps = np.diff(points, axis=0)
    assert np.sum(np.hypot(*steps.T)) == pytest.approx(15.0, rel=1e-6)
    assert np.allclose(np.hypot(*tangents.T), 1.0, rtol=0, atol=1e-12)
    assert points[[0, -1], 0] == pytest.approx([0, 0], abs=1e-9)
    assert points[0, 1] == pytest.approx(-points[-1, 1], rel=1e-12)
    extremes = {"bent": (0.0, 3.0), "s": (-1.5, 1.5)}[shape]
    assert (points[:, 0].min(), points[:, 0].max()) == pytest.approx(
        extremes, abs=1e-4
    )  # of the sampled line


def test_an_s_is_its_own_image_turned_by_half_a_turn_and_starts_to_its_side():
    along = np.linspace(-7.5, 7.5, 51)
    points, _ = centre_line("s", 15.0, 1.5, along)
    assert np.allclose(points, -points[::-1], rtol=0, atol=1e-12)
    assert points[12, 0] > 1.4


def test_half_a_circle_is_the_most():
    assert arc_half_angle("bent", math.pi, 1.0) == pytest.approx(math.pi / 2, rel=1e-9)
    assert bend_radius("s", 2 * math.pi, 1.0) == pytest.approx(1.0, rel=1e-9)
    assert bend_radius("straight", 15.0, 0.0) == math.inf
    with pytest.raises(InputError, match="aside"):
        arc_half_angle("s", 1.0, 1.01 * MAX_ASIDE["s"])


def test_a_hardly_bent_slot_is_the_straight_one():
    """An aside of a micrometre moves no edge by more: the symmetric difference is below 2 edges of 15 mm
    times 1 um.
    """
    bent, straight = (
        slot_outline(slot("bent", "square", aside_mm=1e-3)),
        slot_outline(slot("straight", "square")),
    )
    assert bent.symmetric_difference(straight).area < 30e-3 * 1e-6


def test_tapered_tips_end_in_points_at_the_tips():
    outline = slot_outline(slot("straight", "tapered"))
    assert outline.bounds == pytest.approx((1.2 * MM, 42.5 * MM, 2.8 * MM, 57.5 * MM), abs=1e-12)
    # half the width half-way along a tip of two widths
    assert outline.intersection(Point(2 * MM, 44.1 * MM).buffer(1e-9)).area > 0
    assert not outline.contains(Point(2.41 * MM, 44.1 * MM)) and outline.contains(Point(2.39 * MM, 44.1 * MM))


@pytest.mark.parametrize("shape", ["bent", "s"])
def test_a_rule_mirrors_its_shapes(shape):
    record = varied(slot_rule={"shape": shape, "aside_mm": 1.2})
    first, second = (slot_outline(s) for s in record.slots[:2])
    image = affinity.scale(
        affinity.translate(first, 0, record.slot_rule.spacing_mm * MM), -1, 1, origin=(0, 0)
    )
    assert image.symmetric_difference(second).area < 1e-9 * second.area  # rounding


@pytest.mark.parametrize("offset, side", [(2.0, 1), (-2.0, -1)])
def test_a_row_of_the_back_wall_that_begins_on_the_other_side_is_mirrored(offset, side):
    record = varied(
        slot_rule={"shape": "s", "aside_mm": 1.2, "offset_mm": 2.0, "faces": "both", "back_offset_mm": offset}
    )
    front, back = ([s for s in record.slots if s.face == face] for face in ("front", "back"))
    assert [s.aside_mm for s in back] == [side * s.aside_mm for s in front]
    assert [s.offset_mm for s in back] == [side * s.offset_mm for s in front]


def test_slots_of_two_walls_have_nothing_to_keep_from_each_other():
    bent = {**BASE, "shape": "bent", "aside_mm": 3.0}
    record = with_slots([bent, {**bent, "face": "back"}])
    assert slot_clearance(record.slots) == math.inf


def test_a_feed_hole_keeps_from_curved_slots_of_its_own_wall():
    """The hole of 4.1 mm about x = 0 meets the bulge of an arc whose tips lie 4 mm aside, not that of one
    bent away.
    """
    feed = {"kind": "probe", "position_mm": 30.0, "offset_mm": 0.0, "wall": "front"}
    bent = {**BASE, "shape": "bent", "offset_mm": 4.0, "aside_mm": -2.5}
    with pytest.raises(InputError, match="feed hole cuts into slot 1"):
        with_slots([bent], feed=feed)
    with_slots([{**bent, "aside_mm": 2.5}], feed=feed)
    with_slots([bent], feed={**feed, "wall": "back"})


def test_straight_records_carry_no_trace_of_shapes():
    """Scenes of the shipped records are those of before: no prism askew, the rectangles and stadia of `ends`
    alone.
    """
    for record in (SHIPPED[WR90], mirrored(SHIPPED[WR90])):
        scene = antenna_scene(record)
        assert not any(prism.off_grid for prism in scene.prisms)
        assert {f.kind for f in scene.features if f.kind.startswith("slot")} == {"slot width", "slot length"}
        assert all(
            mark.width == s.width_mm * MM and mark.x == s.offset_mm * MM
            for mark, s in zip(scene.slots, record.slots)
        )


BASE = {"position_mm": 30.0, "offset_mm": 3.0, "length_mm": 14.0, "width_mm": 1.6, "ends": "round"}
REFUSED = {
    "taper without tapered": ({"taper_mm": 2.0}, "slot 1 taper_mm = 2.0: belongs to ends = 'tapered'"),
    "taper too long": ({"ends": "tapered", "taper_mm": 7.1}, "half the length, 7, at most"),
    "aside of a straight slot": ({"aside_mm": 1.0}, "must be 0 for a straight slot"),
    "bent by nothing": ({"shape": "bent"}, "must not be 0 with shape = 'bent'"),
    "more than half a circle": ({"shape": "s", "aside_mm": 2.3}, "2.2 at most: half a circle"),
    "radius below half the width": (
        {"shape": "s", "aside_mm": 2.0, "width_mm": 5.6, "ends": "square"},
        "radius of 2.64 mm",
    ),
    "over the side wall": ({"shape": "bent", "aside_mm": 4.0, "offset_mm": 7.0}, "runs over the side wall"),
    "past the end": ({"shape": "s", "aside_mm": 1.0, "position_mm": 5.0}, "runs past an end of the guide"),
}


@each_case("name", REFUSED)
def test_what_a_record_refuses(name):
    changes, words = REFUSED[name]
    with pytest.raises(InputError) as refused:
        with_slots([{**BASE, **changes}])
    assert words in str(refused.value)


def test_neighbours_may_nest_but_not_overlap():
    """Two arcs one in the other leave metal where their bounding boxes overlap."""
    bent = {**BASE, "shape": "bent", "aside_mm": 3.0}
    with_slots([bent, {**bent, "offset_mm": 6.0}])
    with pytest.raises(InputError, match="overlaps slot 1"):
        with_slots([bent, {**bent, "offset_mm": 4.0}])


def test_a_tapered_outline_is_one_piece_without_holes():
    """By definition, however the corners of tips and middle are rounded; with a length of its own for the
    straight part or none.
    """
    lengths = np.linspace(49.0, 61.0, 41)
    for shape, side in (("straight", 0.0), ("bent", 6.0), ("s", 3.0), ("s", -3.0), ("s", 6.0)):
        for taper in (None, 12.3, 24.5):
            cases = [
                slot(shape, "tapered", length_mm=float(length), width_mm=6.0, aside_mm=side, taper_mm=taper)
                for length in lengths
            ]
            outlines = [slot_outline(case) for case in cases]
            assert all(outline.is_valid and not outline.interiors for outline in outlines)
            # Width times length of the middle and half of that of the tips; chords and the bent tips are good
            # for 1 %.
            areas = [6.0 * (case.length_mm - case.tip_mm) for case in cases]
            assert [outline.area / MM**2 for outline in outlines] == pytest.approx(areas, rel=0.01)
