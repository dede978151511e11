"""Sheets of bent probes and panel connectors: lengths by hand from the record, holes where the scene has
them.
"""

from __future__ import annotations

import math

import pytest
from shaped_records import SHIPPED, varied

from simharness.records import record_schema
from simharness.report import feeds as report_feeds
from simharness.report import shapes as report_shapes
from simharness.sheets.build import feeds as build_feeds
from simharness.sheets.build import shapes as build_shapes
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.build.section import as_text
from simharness.sheets.drawing.feeds import DRAWINGS, feed_drawing
from simharness.sheets.flat import feeds as flat_feeds
from simharness.sheets.flat import shapes as flat_shapes
from simharness.sheets.flat.coax import has_screws, screw_pattern
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.feeds import feed_part
from simharness.sheets.flat.part import drill_table

MM = 1e-3
NANOMETRE = 1e-9
LOOP = SHIPPED["bent-probe-2g45"]
TUBE = SHIPPED["bent-probe-5g8"]
PANEL = SHIPPED["panel-probe-5g8"]


def made(record, make="tube"):
    return build_of(record, Fabrication(make=make)).parts


def listed(record, make="tube"):
    return " ".join(as_text("list", build_list(build_of(record, Fabrication(make=make)))).split())


def holes(record, part, make="tube"):
    flat = made(record, make)
    return {
        name: (at, diameter)
        for name, at, diameter in drill_table(next(p for p in flat if p.name == part))
        if "slot" not in name
    }


def test_cut_length_of_a_bent_wire():
    """Legs along the axis, through the wall it is soldered to, less what a bend of one diameter inside saves:
    (2 - pi/2) 1.5 d.
    """
    part = feed_part(LOOP)
    saved = (2 - math.pi / 2) * 1.5 * 1.27
    assert part.saved == pytest.approx(saved * MM, abs=NANOMETRE)
    assert part.inside == pytest.approx(
        (LOOP.feed.run_mm + 45.0 - LOOP.feed.hole_height_mm + 0.5 - saved) * MM, abs=NANOMETRE
    )
    assert (part.pin_length, part.wire_length) == pytest.approx((part.inside + 0.5 * MM, 0.0), abs=NANOMETRE)
    thick = feed_part(varied(LOOP, feed={"wire_diameter_mm": 2.0, "tip": "open", "rise_mm": 20.0}))
    saved = (2 - math.pi / 2) * 3.0
    assert thick.wire_length == pytest.approx((LOOP.feed.run_mm + 20.0 - saved) * MM, abs=NANOMETRE)
    assert thick.pin_length == pytest.approx((0.5 + 2 * 1.27) * MM, abs=NANOMETRE)


def test_drawn_wire_has_the_area_of_its_length():
    """Of a bent strip: its width times the length of its middle line (Pappus, exact)."""
    part = feed_part(LOOP)
    # The arcs become chords when the area is taken: a thousandth of the bend.
    assert feed_drawing(LOOP).paths[0].polygon().area == pytest.approx(part.wire * part.inside, rel=1e-3)


@pytest.mark.parametrize("make", ["folded", "tube"])
def test_hole_in_the_near_end_and_for_the_tip(make):
    found = holes(TUBE, "near-end", make)
    assert found["feed hole"] == (
        pytest.approx((0.0, (TUBE.feed.hole_height_mm - 20.0) * MM), abs=NANOMETRE),
        pytest.approx(4.1 * MM),
    )
    front = holes(TUBE, "front-wall" if make == "folded" else "tube-front", make)
    assert front == {
        "hole for the tip": (pytest.approx((TUBE.feed.run_mm * MM, 0.0)), pytest.approx(1.27 * MM))
    }


def test_tip_in_the_back_wall():
    record = varied(TUBE, feed={"towards": "back", "offset_mm": 3.0})
    found = holes(record, "back-and-sides", "folded")
    assert found["hole for the tip"][0] == pytest.approx((TUBE.feed.run_mm * MM, 3.0 * MM))


def test_flange_pattern():
    """Common practice (memory): 12.7 mm flanges have holes 8.64 mm apart; four about the feed hole, on the
    part that has it.
    """
    assert (screw_pattern(12.7).spacing, screw_pattern(25.4).spacing) == (8.64e-3, 18.26e-3)
    assert not screw_pattern(15.0).known and 0 < screw_pattern(15.0).spacing < 15e-3
    flat = made(PANEL)
    assert has_screws(flat)
    back = next(p for p in flat if p.name == "tube-back")
    (feed,) = (o for o in back.openings if o.kind == "hole")
    screws = [o for o in back.openings if o.kind == "screw"]
    assert len(screws) == 4
    for screw in screws:
        assert [abs(c - f) for c, f in zip(screw.centre, feed.centre)] == pytest.approx([4.32 * MM] * 2)
    assert "measure your connector before you drill" in listed(
        PANEL
    ) and "insulator stands 2 mm over the inner face" in listed(PANEL)


def test_flange_without_room_for_screws_is_soldered():
    small = varied(TUBE, feed={"hole_height_mm": 3.0})
    flat = made(small)
    assert not has_screws(flat)
    assert "find no metal here" in listed(small)


def test_stripped_coax_in_the_list():
    text = listed(LOOP, "folded")
    assert (
        "Coax cable, 50 ohm" in text and "fan out the braid" in text and "do not overheat the cable" in text
    )
    assert (
        "sharp corner there" in text
        and "solder the tip all round from outside" in text
        and "onnector" not in text
    )


def test_every_kind_of_feed_and_guide_is_answered_for():
    """The kinds are those of the record's schema; only the guide itself has no wire to be drawn."""
    definitions = record_schema()["$defs"]
    feeds = {
        definition["properties"]["kind"]["const"]
        for definition in definitions.values()
        if "kind" in definition.get("properties", {})
    }
    guides = {
        definition["properties"]["shape"]["const"]
        for name, definition in definitions.items()
        if name.endswith("Guide")
    }
    assert set(flat_feeds.FEEDS) == set(build_feeds.FEEDS) == set(report_feeds.FEEDS) == feeds
    assert set(DRAWINGS) == feeds - {"guide-port"}
    assert set(flat_shapes.SHAPES) == set(build_shapes.SHAPES) == set(report_shapes.SHAPES) == guides
