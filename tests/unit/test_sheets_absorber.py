"""The metal of a travelling-wave row goes on behind its slots, as far as its absorber does in what the solver
computes.
"""

from __future__ import annotations

import pytest
from shaped_records import SHIPPED

from simharness.geometry import antenna_scene
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.build.section import as_text
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.shapes import parts

RECORD = SHIPPED["sixteen-slot-5g8-travelling"]
SCENE = antenna_scene(RECORD)
HOW = pytest.mark.parametrize(
    "fabrication", [Fabrication("tube"), Fabrication("folded", tab=0.0)], ids=lambda m: m.make
)
END = (RECORD.guide.length_mm + RECORD.guide.load_mm) * 1e-3


@HOW
def test_guide_and_far_end_lie_where_the_solver_has_them(fabrication):
    made = {part.name: part for part in parts(SCENE, fabrication)}
    walls = [part for name, part in made.items() if not name.endswith("end")]
    assert len(walls) == 2
    for part in walls:
        low, _, high, _ = part.outline.polygon().bounds
        assert (low, high) == pytest.approx((0.0, END), abs=1e-9)
    plate = next(prism for prism in SCENE.prisms if prism.part == "far end")
    assert plate.low == pytest.approx(END, abs=1e-9) and "far-end" in made
    assert sum(o.kind == "slot" for o in walls[0].openings) == 16
    mark = walls[0].guides[0].points
    assert [point[0] for point in mark] == pytest.approx([RECORD.guide.length_mm * 1e-3] * 2, abs=1e-9)
    assert [text.words for text in walls[0].labels] == ["absorber inside"]


@HOW
def test_the_list_says_what_to_buy_and_when_to_put_it_in(fabrication):
    text = " ".join(as_text("list", build_list(build_of(RECORD, fabrication))).split())
    assert (
        "69 mm long and 40.39 x 20.19 mm at its thick end: its thin end 613.20 mm from the near end" in text
    )
    assert text.count("Fix the absorber") == 1 and "the absorber reflects nothing at all" in text
    assert ("sawn square to 682.20 mm" in text) == (fabrication.make == "tube")


def test_a_row_that_ends_in_a_short_has_none():
    record = SHIPPED["eight-slot-5g8"]
    build = build_of(record, Fabrication("tube"))
    assert not any(part.guides or part.labels for part in build.parts)
    assert "bsorber" not in as_text("list", build_list(build))
