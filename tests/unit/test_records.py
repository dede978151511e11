"""Design records: every contradiction is named with field, value and what would be allowed.

The record is that of an invented antenna in WR-90. Expected limits are computed here from the geometry or
from `em.guide`, never from the code that states them.
"""

from __future__ import annotations

import copy
import math
import tomllib
from dataclasses import astuple

import numpy as np
import pytest
from click.testing import CliRunner
from each_case import each_case

from simharness.cli.main import cli
from simharness.em.guide.rectangular import cutoff_frequency, next_mode
from simharness.errors import InputError
from simharness.geometry import antenna_scene
from simharness.records import Record, Slot, parse_record, read_record, slot_clearance

TEXT = """
schema = 1
name = "invented-wr90"
band = {low_ghz = 10.3, centre_ghz = 10.37, high_ghz = 10.44}
mounting = {axis = "vertical"}
guide = {a_mm = 22.86, b_mm = 10.16, length_mm = 165.5, front_wall_mm = 1.27, other_walls_mm = 1.27}

[slot_rule]
count = 8
first_mm = 25.4
spacing_mm = 18.66
offset_mm = 3.1
length_mm = 14.2
width_mm = 1.6

[feed]
kind = "probe"
position_mm = 6.7
height_mm = 6.1
wire_diameter_mm = 1.27
coax_inner_mm = 1.27
coax_outer_mm = 4.1
"""
GOOD = tomllib.loads(TEXT)
SLOT = {"position_mm": 60.0, "offset_mm": 3.0, "length_mm": 14.0, "width_mm": 1.6}
GONE = object()


def changed(changes: dict) -> dict:
    """The good record with values put at dotted places; GONE takes one out."""
    data = copy.deepcopy(GOOD)
    for place, value in changes.items():
        *tables, key = place.split(".")
        table = data
        for name in tables:
            table = table[name]
        if value is GONE:
            del table[key]
        else:
            table[key] = value
    return data


def lines_for(changes: dict) -> list[str]:
    """What is said about a changed record, a line for each problem."""
    with pytest.raises(InputError) as found:
        parse_record(changed(changes), "my.toml")
    assert found.value.exit_code == 3
    lines = str(found.value).split("\n")
    assert all(line.startswith("my.toml: ") for line in lines)
    return [line.removeprefix("my.toml: ") for line in lines]


def slots(*changes: dict) -> dict:
    """Changes that replace the rule by slots of their own."""
    return {"slot_rule": GONE, "slot": [SLOT | change for change in changes]}


def test_the_good_record_is_good():
    assert parse_record(GOOD).name == "invented-wr90"


# --- geometry: field, value, what would be allowed ----------------------------------------------

CUTOFF_GHZ = 299.792458 / 2 / 14.5
GEOMETRY = {
    # the lower edge must clear cutoff by 2 %: a > 1.02 c / (2 f) = 14.844 mm
    "below cutoff": (
        {"guide.a_mm": 14.5},
        "guide.a_mm = 14.5",
        f"cuts off at {CUTOFF_GHZ:.3f} GHz",
        "at least 14.9",
    ),
    "far below cutoff": (
        {"guide.a_mm": 10.0, "slot_rule.offset_mm": 1.0},
        "guide.a_mm = 10.0",
        "cuts off at 14.990 GHz",
        "at least 14.9",
    ),
    # TE20 from c / a: a <= c / 10.44 GHz = 28.716 mm
    "overmoded by TE20": (
        {"guide.a_mm": 30.0},
        "guide.a_mm = 30.0",
        "second mode runs from 9.993 GHz",
        "at most 28.7",
    ),
    # TE01 from c / 2b: b <= c / (2 x 10.44 GHz) = 14.358 mm
    "overmoded by TE01": (
        {"guide.b_mm": 16.0},
        "guide.b_mm = 16.0",
        "second mode runs from 9.369 GHz",
        "at most 14.3",
    ),
    "centre outside the band": (
        {"band.centre_ghz": 10.5},
        "band.centre_ghz = 10.5",
        "between low_ghz 10.3 and high_ghz 10.44",
    ),
    "band upside down": (
        {"band.low_ghz": 10.44, "band.high_ghz": 10.3},
        "band.centre_ghz = 10.37",
        "low_ghz 10.44",
    ),
    # 22.86 / 2 - 1.6 / 2 = 10.63
    "slot over the side wall": (
        slots({"offset_mm": 10.7}),
        "slot 1 offset_mm = 10.7",
        "over the side wall",
        "at most 10.63",
    ),
    "slot over the other side wall": (
        slots({"offset_mm": -10.7}),
        "slot 1 offset_mm = -10.7",
        "over the side wall",
        "at most 10.63",
    ),
    "slot wider than the guide": (
        slots({"width_mm": 23.0, "length_mm": 30.0}),
        "slot 1 width_mm = 23.0",
        "less than a_mm 22.86",
    ),
    "slot past the far short": (
        slots({"position_mm": 160.0}),
        "slot 1 position_mm = 160.0",
        "past an end",
        "7 to 158.5",
    ),
    "slot past the near short": (
        slots({"position_mm": 6.5}),
        "slot 1 position_mm = 6.5",
        "past an end",
        "7 to 158.5",
    ),
    "slot longer than the guide": (
        slots({"length_mm": 170.0}),
        "slot 1 length_mm = 170.0",
        "length_mm 165.5",
    ),
    "slot wider than long": (
        slots({"length_mm": 1.6}),
        "slot 1 length_mm = 1.6",
        "greater than width_mm 1.6",
    ),
    "slot over a neighbour": (
        slots({}, {"position_mm": 70.0, "offset_mm": 2.0}),
        "slot 2 position_mm = 70.0",
        "overlaps slot 1 at 60",
        "leave metal",
    ),
    "slot touching a neighbour": (
        slots({}, {"position_mm": 74.0}),
        "slot 2 position_mm = 74.0",
        "overlaps slot 1 at 60",
    ),
    "no slot": ({"slot_rule": GONE}, "slot = 0", "needs at least one slot", "[slot_rule] or [[slot]]"),
    "rule and slots": ({"slot": [SLOT]}, "slot = 1", "either [slot_rule] or [[slot]] entries, not both"),
    "probe through the far wall": (
        {"feed.height_mm": 12.0},
        "feed.height_mm = 12.0",
        "touch the far wall",
        "less than b_mm 10.16",
    ),
    "probe touching the far wall": (
        {"feed.height_mm": 10.16},
        "feed.height_mm = 10.16",
        "touch the far wall",
        "less than b_mm 10.16",
    ),
    "hole past the near end": (
        {"feed.position_mm": 2.0},
        "feed.position_mm = 2.0",
        "past an end",
        "2.05 to 163.45",
    ),
    "hole past the far end": (
        {"feed.position_mm": 164.0},
        "feed.position_mm = 164.0",
        "past an end",
        "2.05 to 163.45",
    ),
    # 22.86 / 2 - 4.1 / 2 = 9.38
    "hole over the side wall": (
        {"feed.offset_mm": -9.5},
        "feed.offset_mm = -9.5",
        "over the side wall",
        "less than 9.38",
    ),
    "hole into a slot": (
        {"feed.wall": "front", "feed.position_mm": 25.0, "feed.offset_mm": 1.0},
        "feed.position_mm = 25.0",
        "cuts into slot 1",
        "wall = 'back'",
    ),
    "wire thicker than its hole": (
        {"feed.wire_diameter_mm": 14.0},
        "feed.position_mm = 6.7",
        "past an end",
        "7 to 158.5",
    ),
    "coax inside out": (
        {"feed.coax_outer_mm": 1.2},
        "feed.coax_outer_mm = 1.2",
        "greater than coax_inner_mm 1.27",
    ),
    "probe beside a port": (
        {"guide.far_end": "port"},
        'guide.far_end = "port"',
        "a short or a load at its far end",
    ),
    "load without a length": (
        {"guide.far_end": "load"},
        "guide.load_mm = (missing)",
        "needs the length of its absorber",
    ),
    "length without a load": ({"guide.load_mm": 60.0}, "guide.load_mm = 60.0", "only with far_end = 'load'"),
    "guide port on a short": (
        {"feed": {"kind": "guide-port"}},
        'guide.near_end = "short"',
        "needs near_end = 'port'",
    ),
}


@each_case("case", GEOMETRY)
def test_contradiction(case):
    changes, what, *words = GEOMETRY[case]
    (line,) = lines_for(changes)
    assert line.startswith(what + ": ")
    assert all(word in line for word in words), line


def test_a_hole_in_the_front_wall_beside_the_slots_is_allowed():
    assert parse_record(changed({"feed.wall": "front"})).feed.wall == "front"


# --- single values ------------------------------------------------------------------------------

VALUES = {
    "negative": ({"guide.a_mm": -22.86}, "guide.a_mm = -22.86: must be greater than 1"),
    "negative slot": (slots({"width_mm": -1.6}), "slot.1.width_mm = -1.6: must be greater than 0.05"),
    "zero": ({"feed.height_mm": 0}, "feed.height_mm = 0: must be greater than 0.1"),
    "no wall": (
        {"guide.front_wall_mm": 0.0},
        "guide.front_wall_mm = 0.0: must be greater than or equal to 0.05",
    ),
    "no slots": ({"slot_rule.count": 0}, "slot_rule.count = 0: must be greater than or equal to 1"),
    "too many slots": ({"slot_rule.count": 41}, "slot_rule.count = 41: must be less than or equal to 40"),
    "NaN": ({"guide.a_mm": math.nan}, "guide.a_mm = nan: must be a finite number"),
    "NaN offset": ({"slot_rule.offset_mm": math.nan}, "slot_rule.offset_mm = nan: must be a finite number"),
    "infinite": ({"guide.length_mm": math.inf}, "guide.length_mm = inf: must be a finite number"),
    "minus infinity": ({"feed.offset_mm": -math.inf}, "feed.offset_mm = -inf: must be a finite number"),
    "NaN frequency": ({"band.low_ghz": math.nan}, "band.low_ghz = nan: must be a finite number"),
    "text": ({"guide.a_mm": "wide"}, 'guide.a_mm = "wide": must be a number, written without quotes'),
    "number in quotes": (
        {"guide.a_mm": "22.86"},
        'guide.a_mm = "22.86": must be a number, written without quotes',
    ),
    "frequency in quotes": (
        {"band.low_ghz": "10.3"},
        'band.low_ghz = "10.3": must be a number, written without quotes',
    ),
    "count in quotes": (
        {"slot_rule.count": "8"},
        'slot_rule.count = "8": must be a whole number, written without quotes',
    ),
    "half a slot": (
        {"slot_rule.count": 7.5},
        "slot_rule.count = 7.5: must be a whole number, written without quotes",
    ),
    "true for a number": (
        {"slot_rule.first_mm": True},
        "slot_rule.first_mm = true: must be a number, written without quotes",
    ),
    "text for true": (
        {"slot_rule.alternate": "yes"},
        'slot_rule.alternate = "yes": must be true or false, written without quotes',
    ),
    "number for text": ({"title": 5}, "title = 5: must be a valid string"),
    "wrong word": ({"mounting.axis": "up"}, "mounting.axis = \"up\": must be 'vertical' or 'horizontal'"),
    "name": (
        {"name": "My Antenna"},
        'name = "My Antenna": must be a-z, 0-9 and hyphens, at most 48 of them, no hyphen first',
    ),
    "newline in the name": (
        {"name": "abc\n"},
        'name = "abc\\n": must be a-z, 0-9 and hyphens, at most 48 of them, no hyphen first',
    ),
    "long title": ({"title": "x" * 121}, f'title = "{"x" * 56}...: must have at most 120 characters'),
    "newer format": ({"schema": 2}, "schema = 2: must be 1"),
    "no feed": ({"feed": GONE}, "feed = (missing): this field must be given"),
    "feed without a kind": (
        {"feed.kind": GONE},
        "feed.kind = (missing): must be 'probe', 'bent-probe' or 'guide-port'",
    ),
    "unknown feed": (
        {"feed.kind": "loop"},
        "feed.kind = \"loop\": must be 'probe', 'bent-probe' or 'guide-port'",
    ),
    "feed that is no table": ({"feed": "probe"}, 'feed = "probe": must be a table with fields of its own'),
    "table that is a number": ({"band": 5}, "band = 5: must be a table with fields of its own"),
    "[slot] for [[slot]]": (
        {"slot_rule": GONE, "slot": {"length_mm": 14}},
        "slot = {'length_mm': 14}: must be written as [[slot]], one table for each slot",
    ),
    "missing in a table": (
        {"guide.length_mm": GONE},
        "guide.length_mm = (missing): this field must be given",
    ),
    "missing in the rule": (
        {"slot_rule.width_mm": GONE},
        "slot_rule.width_mm = (missing): this field must be given",
    ),
    "missing in the feed": ({"feed.height_mm": GONE}, "feed.height_mm = (missing): this field must be given"),
}


@each_case("case", VALUES)
def test_value(case):
    changes, line = VALUES[case]
    assert lines_for(changes) == [line]


@each_case("field", ["schema", "name", "band", "mounting", "guide", "feed"])
def test_what_is_required_at_the_top(field):
    assert lines_for({field: GONE}) == [f"{field} = (missing): this field must be given"]


@each_case(
    ("place", "some", "none"),
    [
        (
            "colour",
            {"schema", "name", "band", "feed", "slot", "slot_rule"},
            {"schema_version", "slots", "a_mm"},
        ),
        ("probe", {"feed"}, {"height_mm"}),  # a table named like a kind of feed
        ("guide-port", {"feed"}, {"kind"}),
        ("band.colour", {"low_ghz", "target_s11_db"}, {"name"}),
        ("mounting.colour", {"axis"}, {"name"}),
        ("guide.colour", {"a_mm", "material", "far_end"}, {"name"}),
        ("slot_rule.colour", {"count", "spacing_mm", "alternate"}, {"position_mm"}),
        ("feed.colour", {"kind", "wall", "coax_permittivity"}, {"a_mm"}),
        ("feed.probe", {"height_mm"}, {"slot_rule"}),
    ],
)
def test_unknown_key(place, some, none):
    (line,) = lines_for({place: 1})
    head, allowed = line.split("; allowed here: ")
    assert head == f"{place} = 1: unknown key"
    assert some <= set(allowed.split(", ")) and not none & set(allowed.split(", "))


def test_unknown_key_of_a_slot_and_of_a_guide_port():
    (line,) = lines_for(slots({}, {"position_mm": 90.0, "colour": 1}))
    assert line.startswith("slot.2.colour = 1: unknown key")
    assert set(line.split(": ")[-1].split(", ")) == set(Slot.model_fields)
    (line,) = lines_for({"feed": {"kind": "guide-port", "height_mm": 3}, "guide.near_end": "port"})
    assert line == "feed.height_mm = 3: unknown key; allowed here: kind"


def test_a_misspelt_key_is_named_beside_the_missing_one():
    assert lines_for({"guide.a_mm": GONE, "guide.a": 22.86}) == [
        "guide.a_mm = (missing): this field must be given",
        (
            "guide.a = 22.86: unknown key (do you mean a_mm?); allowed here: shape, a_mm, b_mm, length_mm,"
            " front_wall_mm, other_walls_mm, material, conductivity_s_per_m, laminate, near_end, far_end,"
            " load_mm, near_plate_mm, far_plate_mm, make"
        ),
    ]


def test_several_problems_give_a_line_each():
    found = lines_for(
        {"guide.a_mm": 14.5, "feed.height_mm": 12.0, "feed.position_mm": 1.0, "slot_rule.count": 9}
    )
    assert [line.split(" = ")[0] for line in found] == [
        "guide.a_mm",
        "slot 9 position_mm",
        "feed.height_mm",
        "feed.position_mm",
    ]
    found = lines_for({"band.low_ghz": -1.0, "mounting.axis": "up", "feed.colour": 1})
    assert [line.split(" = ")[0] for line in found] == ["band.low_ghz", "mounting.axis", "feed.colour"]


def test_long_values_and_line_ends_do_not_break_the_lines():
    (line,) = lines_for({"note": "a\nb" * 1000})
    assert len(line) < 150 and "\\n" in line
    (line,) = lines_for({"guide.a_mm": 10**400})
    assert len(line) < 150


def test_slots_are_numbered_as_they_stand_in_the_file():
    (line,) = lines_for(slots({"position_mm": 100.0}, {"offset_mm": 11.0}))
    assert line.startswith("slot 2 offset_mm = 11.0: ")


# --- the limits themselves ----------------------------------------------------------------------


@pytest.mark.parametrize(("share", "good"), [(1.0201, True), (1.0199, False), (0.9, False)])
def test_the_lower_edge_clears_cutoff_by_two_percent(share, good):
    low = share * cutoff_frequency(22.86e-3) / 1e9
    changes = {"band.low_ghz": low, "band.centre_ghz": 10.0}
    if good:
        parse_record(changed(changes))
    else:
        assert lines_for(changes)[0].startswith("guide.a_mm = 22.86: the guide cuts off at 6.557 GHz")


@each_case(("a", "b", "field"), [(22.86, 10.16, "a_mm"), (22.86, 12.0, "b_mm"), (22.86, 11.43, "a_mm")])
@each_case(("factor", "good"), [(1 - 1e-6, True), (1 + 1e-6, False)])
def test_the_upper_edge_stays_below_the_next_mode(a, b, field, factor, good):
    """By the independent route of `em.guide.next_mode`."""
    name, cutoff = next_mode(a * 1e-3, b * 1e-3)
    changes = {"guide.a_mm": a, "guide.b_mm": b, "band.high_ghz": factor * cutoff / 1e9}
    if good:
        parse_record(changed(changes))
        return
    (line,) = lines_for(changes)
    assert line.startswith(f"guide.{field} = ") and f"a second mode runs from {cutoff / 1e9:.3f} GHz" in line
    assert field == {"TE20": "a_mm", "TE01": "b_mm"}[name] or a == 2 * b


FOLLOW = [
    ({"guide.a_mm": 14.5}, "guide.a_mm"),
    ({"guide.a_mm": 30.0}, "guide.a_mm"),
    ({"guide.b_mm": 16.0}, "guide.b_mm"),
    *(
        (
            {"guide.a_mm": 5.0, "slot_rule.offset_mm": 1.0, "feed.coax_outer_mm": 2.0, "band.low_ghz": low},
            "guide.a_mm",
        )
        for low in np.linspace(9.9, 10.36, 24).tolist()
    ),
]


@each_case(("changes", "field"), FOLLOW)
def test_following_the_advice_about_the_guide_helps(changes, field):
    """Printed limits are rounded to the side that is allowed."""
    (line,) = lines_for(changes)
    parse_record(changed(changes | {field: float(line.split()[-1])}))


@each_case(("a", "width"), [(22.86, 1.6), (22.9, 1.3), (23.1, 0.7), (24.7, 2.1)])
@each_case("side", [-1, 1])
def test_a_slot_may_reach_the_side_wall_and_the_ends_as_the_message_says(a, width, side):
    base = {"guide.a_mm": a}
    (line,) = lines_for(base | slots({"offset_mm": 12.0, "width_mm": width}))
    most = float(line.split("at most ")[1])
    parse_record(changed(base | slots({"offset_mm": side * most, "width_mm": width})))
    (line,) = lines_for(base | slots({"position_mm": 165.0, "width_mm": width}))
    for end in line.split("allowed ")[1].split(" to "):
        parse_record(changed(base | slots({"position_mm": float(end), "width_mm": width})))


# --- files --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"name = [unclosed", ["must be valid TOML", "(at "]),
        (TEXT.replace("count = 8", "count = 8\ncount = 9").encode(), ["must be valid TOML", "(at line "]),
        (b"\x89HDF\r\n\x1a\n\x00\xff\xfe", ["must be a readable TOML file", "not UTF-8"]),
        (None, ["must be a readable TOML file", "No such file"]),
        ("folder", ["must be a readable TOML file", "it is a folder"]),
        (b"", ["the file is empty", "simharness design"]),
        (b"schema = 1\n", ["name = (missing)", "feed = (missing)"]),
        (TEXT.replace("22.86", "nan").encode(), ["guide.a_mm = nan"]),
        (TEXT.replace("22.86", "-inf").encode(), ["guide.a_mm = -inf"]),
        (TEXT.replace("22.86", "14.5").encode(), ["guide.a_mm = 14.5", "at least 14.9"]),
    ],
    ids=["syntax", "key twice", "binary", "missing", "folder", "empty", "bare", "nan", "inf", "geometry"],
)
def test_a_bad_file_ends_check_with_code_3(content, words, tmp_path):
    path = tmp_path / "antenna.toml"
    if content == "folder":
        path.mkdir()
    elif content is not None:
        path.write_bytes(content)
    found = CliRunner().invoke(cli, ["check", str(path)])
    assert isinstance(found.exception, InputError) and found.exception.exit_code == 3
    assert str(path) in str(found.exception) and all(word in str(found.exception) for word in words)
    assert found.stdout == ""


def test_a_mark_of_byte_order_is_no_mistake(tmp_path):
    """Some editors begin UTF-8 files with one."""
    path = tmp_path / "antenna.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.encode())
    assert read_record(path) == parse_record(GOOD)


# --- the record itself --------------------------------------------------------------------------


@pytest.mark.parametrize("alternate", [True, False])
def test_the_rule_equals_its_slots_one_by_one(alternate):
    rule = parse_record(changed({"slot_rule.alternate": alternate}))
    single = [
        {
            "position_mm": 25.4 + i * 18.66,
            "offset_mm": 3.1 * (-1) ** i if alternate else 3.1,
            "length_mm": 14.2,
            "width_mm": 1.6,
        }
        for i in range(8)
    ]
    listed = parse_record(changed({"slot_rule": GONE, "slot": single[::-1]}))
    assert rule.slots == listed.slots and len(rule.slots) == 8
    assert astuple(antenna_scene(rule, "coax")) == astuple(antenna_scene(listed, "coax"))


def test_clearance_is_the_smallest_bridge_of_metal():
    """Between neighbours: 18.66 - 14.2 mm along, 2 x 3.1 - 1.6 mm across."""
    # Differences of numbers with two decimals: rounding errors alone, 1e-12.
    assert slot_clearance(parse_record(GOOD).slots) == pytest.approx(math.hypot(4.46, 4.6), rel=1e-12)
    assert slot_clearance(parse_record(changed(slots({}))).slots) == math.inf


@pytest.mark.parametrize(
    "changes", [{}, slots({}, {"position_mm": 90, "ends": "square"})], ids=["rule", "slots"]
)
def test_round_trip(changes):
    record = parse_record(changed(changes))
    assert parse_record(record.model_dump(by_alias=True)) == record
    assert Record.model_validate_json(record.model_dump_json(by_alias=True)) == record


def test_whole_numbers_are_numbers():
    assert parse_record(changed({"guide.length_mm": 166})).guide.length_mm == 166.0


@pytest.mark.parametrize("place", ["guide", "band", "feed", "slot_rule", "mounting"])
def test_a_record_is_frozen(place):
    record = parse_record(GOOD)
    part = getattr(record, place)
    with pytest.raises(ValueError, match="frozen"):
        setattr(record, place, part)
    name = next(iter(type(part).model_fields))
    with pytest.raises(ValueError, match="frozen"):
        setattr(part, name, getattr(part, name))


def test_lengths_are_in_metres_below_the_record():
    scene = antenna_scene(parse_record(GOOD), "coax")
    # One multiplication by 1e-3: rounding errors alone.
    np.testing.assert_allclose([s.z for s in scene.slots], (25.4 + 18.66 * np.arange(8)) * 1e-3, rtol=1e-12)
    np.testing.assert_allclose([s.width for s in scene.slots], 1.6e-3, rtol=1e-12)
    np.testing.assert_allclose(scene.spectrum.centre, 10.37e9, rtol=1e-12)
    assert scene.spectrum.low <= 10.3e9 and scene.spectrum.high >= 10.44e9


def test_every_length_carries_its_unit():
    tables = Record.model_json_schema(by_alias=True)["$defs"].values()
    units = {field: content.get("unit") for table in tables for field, content in table["properties"].items()}
    assert len(units) > 20
    assert {field: unit for field, unit in units.items() if (unit == "mm") != field.endswith("_mm")} == {}
