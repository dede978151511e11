"""A record of a round tube: what it may be, its scene, its flat parts."""

import math
from pathlib import Path

import numpy as np
import pytest
from each_case import each_case

from simharness.advice.warnings import warnings
from simharness.errors import InputError
from simharness.geometry import antenna_scene
from simharness.geometry.scene import RoundModePort
from simharness.geometry.solids import TubePart
from simharness.records import RoundGuide, parse_record, read_record
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.shapes import parts

RECORD = read_record(Path(__file__).parents[2] / "models" / "four-slot-tube-2g44.toml")
OUTER = 45.0


def _changed(**changes):
    """The record with fields of its tables replaced: guide__wall_mm=2.0."""
    data = RECORD.model_dump(by_alias=True, exclude_none=True)
    data.pop("slot")
    for name, value in changes.items():
        table, field = name.split("__")
        data[table][field] = value
    return parse_record(data)


def test_modes_of_the_tube():
    """First zeros of J1' and J0 (Abramowitz and Stegun): 87.85 and 114.74 over the radius in mm, GHz; to the
    digits given.
    """
    guide = RECORD.guide
    assert isinstance(guide, RoundGuide)
    assert guide.cutoff == pytest.approx(87.849e9 / 44, rel=1e-4)
    assert guide.next_mode == ("TM01", pytest.approx(114.743e9 / 44, rel=1e-4))


@each_case(
    "change, message",
    [
        ({"guide__diameter_mm": 70.0}, "guide.diameter_mm = 70.0: the tube cuts off at 2.510 GHz"),
        ({"guide__diameter_mm": 95.0}, "guide.diameter_mm = 95.0: a second mode, TM01, runs from 2.416 GHz"),
        (
            {"guide__a_mm": 90.0},
            "guide.a_mm = 90.0: unknown key; allowed here: shape, diameter_mm, length_mm, wall_mm",
        ),
        ({"guide__shape": "oval"}, "guide.shape = \"oval\": must be 'rectangular' or 'round'"),
        ({"guide__shape": ["round"]}, "guide.shape = ['round']: must be 'rectangular' or 'round'"),
        (
            {"slot_rule__offset_mm": 46.0},
            "slot 1 offset_mm = 46.0: the slot leaves the front of the tube, 60 degrees",
        ),
        (
            {"feed__offset_mm": 2.0},
            "feed.offset_mm = 2.0: in a round tube the probe must point at the axis; must be 0",
        ),
        (
            {"feed__height_mm": 89.0},
            "feed.height_mm = 89.0: the probe would touch the far wall; must be less than diameter_mm 88",
        ),
    ],
)
def test_what_contradicts_itself_is_refused(change, message):
    with pytest.raises(InputError) as refused:
        _changed(**change)
    assert message in str(refused.value)


def test_warnings_tell_of_the_turning_mode():
    said = " ".join(warnings(RECORD))
    assert "drilled 1 mm beside the back line it turns the mode by 1.3 degrees" in said  # 1/45 rad
    assert "0.6 mm of each other" in said
    one_side = " ".join(warnings(_changed(slot_rule__alternate=False)))
    assert "all slots lie on one side of the front line" in one_side


def test_the_wall_is_open_where_the_slots_are():
    """Angle of each slot: arc over outer radius; its parallel edges 4 mm apart in the middle of the wall."""
    scene = antenna_scene(RECORD)
    walls = [p for p in scene.prisms if isinstance(p, TubePart) and p.kind == "wall"]
    for slot in RECORD.slots:
        z = slot.position_mm * 1e-3
        (piece,) = [p for p in walls if p.low < z < p.high]
        low, high = piece.stop - 2 * math.pi, piece.start
        assert (low + high) / 2 == pytest.approx(slot.offset_mm / OUTER, abs=1e-12)
        assert (high - low) * 44.5 == pytest.approx(4.0, rel=1e-12)
    closed = sum(p.high - p.low for p in walls if p.stop - p.start > 6.28)
    squared = RECORD.slot_rule.length_mm - (1 - math.pi / 4) * 4
    assert closed == pytest.approx(0.478 - 4e-3 * squared, rel=1e-9)


def test_a_port_is_the_mode_of_the_tube():
    data = RECORD.model_dump(by_alias=True, exclude_none=True)
    data.pop("slot")
    data["guide"]["near_end"], data["feed"] = "port", {"kind": "guide-port"}
    (port,) = antenna_scene(parse_record(data)).ports
    assert isinstance(port, RoundModePort)
    axis = port.field(0.0, -0.044)
    assert port.field(0.0, 0.0) == pytest.approx(0.6321 * axis, rel=1e-3)  # 2 J1(1.8412)/1.8412
    assert port.field(0.044, -0.044) == pytest.approx(0, abs=1e-9 * axis)  # E stands square on the wall


def test_template_has_true_arc_lengths():
    """Rolled back onto the tube, every opening lies where the solver's wall is open: within 0.1 mm, which is
    a scriber's line.
    """
    wrap, *plates = parts(antenna_scene(RECORD), Fabrication())
    _, v0, _, v1 = wrap.outline.polygon().bounds
    assert 1e3 * (v1 - v0) == pytest.approx(math.pi * 90, abs=1e-6)
    assert [o.kind for o in wrap.openings] == ["slot"] * 4 + ["hole"]
    for slot, hole in zip(RECORD.slots, wrap.openings):
        assert np.allclose(1e3 * np.array(hole.centre), (slot.position_mm, slot.offset_mm), atol=0.1)
        assert (1e3 * hole.length, 1e3 * hole.width, hole.ends) == (
            pytest.approx(RECORD.slot_rule.length_mm),
            pytest.approx(4.0),
            "round",
        )
    feed = wrap.openings[-1]
    angle = 1e3 * feed.centre[1] / OUTER
    assert 1e3 * feed.centre[0] == pytest.approx(50.0) and math.degrees(angle) == pytest.approx(180)
    assert v0 < feed.centre[1] - feed.width and feed.centre[1] + feed.width < v1
    assert [p.name for p in plates] == ["near-end", "far-end"]
    assert all(1e3 * size == pytest.approx(90.0, abs=1e-6) for p in plates for size in p.size)


def test_build_list_is_that_of_a_round_tube():
    words = " ".join(s for section in build_list(build_of(RECORD, Fabrication())) for s in section.sentences)
    assert (
        "Round tube, copper: inside 88.00 mm, outside 90.00 mm, wall 1 mm, sawn square to 478.00 mm" in words
    )
    assert "Scribe the front line" in words and "fold" not in words.lower()
