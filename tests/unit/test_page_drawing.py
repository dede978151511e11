"""The views of the page against the scene that is solved, and what their handles change."""

from __future__ import annotations

import copy
import json
import math

import pytest
import svgelements
from shaped_records import SHIPPED, two_port, varied, with_slots
from shapely.affinity import translate
from shapely.geometry import Polygon

import simharness
from simharness.errors import InputError
from simharness.geometry import antenna_scene, front_outline
from simharness.geometry.mast import SECOND
from simharness.geometry.solids import COVERS, TAPE_PART
from simharness.page.drawing.changes import change_sent, movable_fields
from simharness.page.drawing.slots import slot_fields, tip_reach
from simharness.page.drawing.views import caption, difference, overall_size, views

TUBE = SHIPPED["four-slot-tube-2g44"]
OPEN_BENT = varied(SHIPPED["bent-probe-5g8"], feed={"tip": "open", "rise_mm": 9.0})
S_SLOTS = varied(
    SHIPPED["bent-slot-5g8"], slot_rule={"shape": "s", "aside_mm": 2.0, "offset_mm": 4.0, "ends": "square"}
)
TAPERED = varied(SHIPPED["eight-slot-5g8"], slot_rule={"ends": "tapered"})
ROUTED = varied(
    SHIPPED["five-slot-2g45-laminate"],
    guide={"laminate": {"permittivity": 4.4, "loss_tangent": 0.02, "slots": "routed"}},
)
FRONT_PROBE = varied(SHIPPED["eight-slot-wr90-10g37"], feed={"wall": "front", "offset_mm": 2.0})
BACK_ROW = varied(SHIPPED["two-faced-5g8"], slot_rule={"back_first_mm": 45.0})
LISTED = with_slots(
    [
        {"position_mm": z, "offset_mm": x, "length_mm": 14.0, "width_mm": 1.6}
        for z, x in ((80.0, -2.0), (40.0, 3.0))
    ]
)
RECORDS = {
    **SHIPPED,
    "guide ports": two_port(),
    "open bent probe": OPEN_BENT,
    "s slots": S_SLOTS,
    "tapered slots": TAPERED,
    "routed laminate": ROUTED,
    "probe in the front wall": FRONT_PROBE,
    "back row of its own": BACK_ROW,
    "slots listed backwards": LISTED,
}
each_record = pytest.mark.parametrize("record", RECORDS.values(), ids=list(RECORDS))


def _polygon(shape: dict) -> Polygon:
    """The corners of a drawn path, mm."""
    points = list(svgelements.Path(shape["d"]).as_points())
    corners = list(dict.fromkeys((p.x, p.y) for p in points))
    return translate(Polygon(corners), *shape["at"])


def _bounds(shape: dict) -> tuple[float, ...]:
    return _polygon(shape).bounds


@each_record
def test_slots_are_drawn_as_they_are_solved(record):
    drawn = views(record)["front"]["shapes"]
    for each in slot_fields(record):
        solved = Polygon(
            [(1e3 * z, -1e3 * x) for x, z in front_outline(record.guide, each.slot).exterior.coords]
        )
        found = _polygon(drawn[each.key])
        assert found.exterior.hausdorff_distance(solved.exterior) < 1e-6  # mm
        assert found.area == pytest.approx(solved.area, rel=1e-7)
        assert drawn[each.key]["kind"] == ("slot" if each.slot.face == "front" else "slot hidden")
    assert sum(key.split(".")[0] in ("slot", "front", "back") for key in drawn) == len(record.slots)


@each_record
def test_walls_are_where_the_scene_has_them(record):
    scene, drawn = antenna_scene(record), views(record)
    parts = {prism.part: [1e3 * each for each in prism.bounds()] for prism in scene.prisms}
    side, (u0, v0, u1, v1) = drawn["side"]["shapes"], drawn["side"]["body"]
    boxes = [
        prism.bounds()
        for prism in scene.prisms
        if (
            prism.part in ("tube", "near end", "far end", "substrate", *COVERS.values())
            or "wall" in prism.part
        )
        and not prism.part.startswith(SECOND)
    ]
    assert [-v1, -v0] == pytest.approx(
        [1e3 * min(b[2] for b in boxes), 1e3 * max(b[3] for b in boxes)], abs=1e-6
    )
    assert 1e3 * max(b[1] for b in boxes) == pytest.approx(drawn["front"]["body"][3], abs=1e-6)
    for end, inner, outer in (("near", 0, 4), ("far", 1, 5)):
        if getattr(record.guide, f"{end}_end") == "port":
            assert f"{end} end" not in side
            assert (u0, u1)[inner] == pytest.approx((0.0, record.guide.length_mm)[inner], abs=1e-6)
        else:
            assert (u0, u1)[inner] == pytest.approx(parts[f"{end} end"][outer], abs=1e-6)
            low, _, high, _ = _bounds(side[f"{end} end"])
            assert [low, high] == pytest.approx(parts[f"{end} end"][4:], abs=1e-6)
    for sheet in set(COVERS.values()) & parts.keys():
        low, y_low, high, y_high = _bounds(side[sheet])
        assert [-y_high, -y_low, low, high] == pytest.approx(parts[sheet][2:], abs=1e-6)
    for wall in ("front wall", "back wall"):
        if wall in parts and wall in side and parts[wall][2] != parts[wall][3]:
            _, low, _, high = _bounds(side[wall])
            assert [-high, -low] == pytest.approx(parts[wall][2:4], abs=1e-6)


@each_record
def test_the_wire_is_where_the_scene_has_it(record):
    solids = {prism.part: [1e3 * each for each in prism.bounds()] for prism in antenna_scene(record).prisms}
    drawn = views(record)
    if "probe" not in solids:
        assert "wire" not in drawn["side"]["shapes"]
        return
    riser = "riser" if "probe riser" in solids else "wire"
    x0, x1, y0, y1, z0, z1 = solids["probe riser" if riser == "riser" else "probe"]
    u0, v0, u1, v1 = _bounds(drawn["side"]["shapes"][riser])
    assert (u0 + u1) / 2 == pytest.approx((z0 + z1) / 2, abs=1e-6)
    assert u1 - u0 == pytest.approx(record.feed.wire_diameter_mm, abs=1e-6)
    towards_front = -v0 == pytest.approx(y1, abs=1e-6)
    assert towards_front or -v1 == pytest.approx(y0, abs=1e-6)  # its tip; the foot is in the wall or a bend
    u0, _, u1, _ = _bounds(drawn["end"]["shapes"][riser])
    assert (u0 + u1) / 2 == pytest.approx((x0 + x1) / 2, abs=1e-6)


def _moves(drawn: dict) -> list[tuple[str, str, dict]]:
    return [
        (side, key, move)
        for side, view in drawn.items()
        for key, handle in view["handles"].items()
        for move in handle["moves"]
    ]


def _value(record: simharness.Record, field: str) -> float:
    found = record
    for part in field.split("."):
        found = found[int(part) - 1] if part.isdecimal() else getattr(found, part)
    return found


def _place(move: dict, value: float) -> float:
    radius = move["radius"]
    return move["scale"] * (radius * math.sin(value / radius) if radius else value)


def _accepted(record: simharness.Record, field: str, value: float) -> simharness.Record | None:
    """The record with a field changed; None where there is such a field, but no such antenna."""
    try:
        return simharness.changed(record, {field: value})
    except InputError as error:
        if "unknown key" in str(error) or "no table" in str(error):
            raise
        return None


@each_record
def test_a_step_of_a_handle_moves_what_it_holds_as_far(record):
    drawn, tried = views(record), 0
    for side, key, move in _moves(drawn):
        assert move["value"] == _value(record, move["field"])
        assert move["lowest"] <= move["value"] <= move["highest"]
        for way in (1, -1):
            wanted = round(move["value"] + way * move["step"], 9)
            other = _accepted(record, move["field"], wanted)
            if other is None:
                continue  # some dimensions can go one way only
            tried += 1
            assert _value(other, move["field"]) == wanted
            axis = "uv".index(move["axis"])
            before = drawn[side]["handles"][key]["at"][axis]
            after = views(other)[side]["handles"][key]["at"][axis]
            far = _place(move, wanted) - _place(move, move["value"])
            curved = "tip" in key and record.slots[0].shape != "straight"
            assert after - before == pytest.approx(far, abs=2e-3 if curved else 1e-6)  # arcs: tangent to it
            break
    assert tried == len(_moves(drawn))


@each_record
def test_all_that_can_be_moved_has_a_handle_by_mouse_and_by_key(record):
    drawn, flat = views(record), record.guide.shape == "rectangular"  # in a tube a probe is on the axis
    wanted = {"guide.length_mm", f"guide.{record.guide.width_field}", f"guide.{record.guide.height_field}"}
    wanted |= {"guide.load_mm"} if record.guide.load_mm else set()
    if record.slot_rule is not None:
        wanted |= {f"slot_rule.{name}" for name in ("first_mm", "spacing_mm", "offset_mm", "length_mm")}
        wanted |= {
            f"slot_rule.{name}"
            for name in ("back_first_mm", "back_offset_mm")
            if getattr(record.slot_rule, name) is not None
        }
    if record.slot_rule is not None and record.slot_rule.shape != "straight":
        wanted |= {"slot_rule.aside_mm"}
    for number in range(1, len(record.slot) + 1):
        wanted |= {f"slot.{number}.{name}" for name in ("position_mm", "offset_mm", "length_mm")}
    wanted |= {
        "probe": {"feed.position_mm", "feed.height_mm"} | ({"feed.offset_mm"} if flat else set()),
        "bent-probe": {f"feed.{name}" for name in ("run_mm", "offset_mm", "hole_height_mm")},
        "guide-port": set(),
    }[record.feed.kind]
    if record.feed.kind == "bent-probe" and record.feed.tip == "open":
        wanted |= {"feed.rise_mm"}
    assert {move["field"] for _, _, move in _moves(drawn)} == wanted
    by_key = {
        m["field"] for v in drawn.values() for h in v["handles"].values() if h["tab"] for m in h["moves"]
    }
    assert by_key == wanted


def test_a_pole_is_drawn_where_the_scene_has_it():
    record = SHIPPED["on-mast-5g8"]
    pole = next(prism for prism in antenna_scene(record).prisms if prism.part == "pole")
    x0, x1, y0, y1, _, _ = (1e3 * each for each in pole.bounds())
    drawn = views(record)
    assert _bounds(drawn["end"]["shapes"]["beside"]) == pytest.approx((x0, -y1, x1, -y0), abs=1e-6)
    _, low, _, high = _bounds(drawn["side"]["shapes"]["beside"])
    assert [low, high] == pytest.approx([-y1, -y0], abs=1e-6)


def test_tape_is_drawn_where_the_scene_has_it():
    record = SHIPPED["taped-four-slot-5g8"]
    patches = [prism.bounds() for prism in antenna_scene(record).prisms if prism.part == TAPE_PART]
    assert len(patches) == len(record.tape)
    for i, (x0, x1, _, _, z0, z1) in enumerate(patches, 1):
        wanted = [1e3 * each for each in (z0, -x1, z1, -x0)]
        assert _bounds(views(record)["front"]["shapes"][f"tape {i}"]) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("distance", [60.0, 900.0, 19_000.0])
@pytest.mark.parametrize(
    "beside",
    [
        {"mast": {"diameter_mm": 600.0, "direction_deg": 150.0}},
        {"mast": {"shape": "wall"}},
        {"mast": {"shape": "wall", "direction_deg": 90.0}},
        {"pair": {"place": "beside"}},
        {"pair": {"place": "above"}},
        {"pair": {"place": "back to back"}},
    ],
)
def test_the_antenna_stays_legible_whatever_stands_around(beside, distance):
    bare = SHIPPED["eight-slot-5g8"]
    ((table, fields),) = beside.items()
    drawn = views(varied(bare, **{table: fields | {"distance_mm": distance}}))
    plain = views(bare)
    for side, view in drawn.items():
        assert view["body"] == plain[side]["body"]
        # fitted to a page of 760 pixels, as in drawing.js: three quarters of the scale at least
        scale, before = (
            min((760 - v["pads"][0] - v["pads"][2]) / (v["box"][2] - v["box"][0]) for v in some.values())
            for some in (drawn, plain)
        )
        assert scale > 0.75 * before
    told = [words["text"] for view in drawn.values() for words in view["words"].values()]
    assert any(f"{distance:g} mm" in text for text in told)
    # Beyond the far end there is room for an eighth of the length, elsewhere for much more.
    true = 0.12 * 304.5 if fields.get("place") == "above" else 100.0
    assert any("drawn nearer" in text for text in told) == (distance > true)


def test_slots_are_counted_as_they_are_listed_in_the_file():
    handles = views(LISTED)["front"]["handles"]
    assert handles["slot.1.body"]["at"] == [80.0, 2.0]
    assert handles["slot.2.body"]["at"] == [40.0, -3.0]


def test_each_handle_holds_shapes_that_are_drawn():
    for record in RECORDS.values():
        for view in views(record).values():
            for handle in view["handles"].values():
                assert set(handle["group"]) <= set(view["shapes"])
                assert len({move["axis"] for move in handle["moves"]}) == len(handle["moves"])


def test_what_differs_makes_the_new_views_of_the_old_ones():
    old = views(SHIPPED["eight-slot-5g8"])
    for record in (
        SHIPPED["eight-slot-5g8"],
        simharness.changed(SHIPPED["eight-slot-5g8"], {"feed.height_mm": 12.0}),
        simharness.changed(SHIPPED["eight-slot-5g8"], {"slot_rule.count": 6}),
        TUBE,
        two_port(),
    ):
        new, patched = views(record), copy.deepcopy(old)
        for side, change in json.loads(json.dumps(difference(old, new))).items():
            for key, value in change.items():
                if key in ("shapes", "dimensions", "words", "handles"):
                    kept = {} if key in change["whole"] else patched[side][key]
                    patched[side][key] = kept | value
                elif key != "whole":
                    patched[side][key] = value
        assert patched == json.loads(json.dumps(new))
    assert difference(old, views(SHIPPED["eight-slot-5g8"])) == {}


def test_a_moved_probe_sends_little():
    record = SHIPPED["sixteen-slot-5g8-travelling"]
    other = simharness.changed(record, {"feed.height_mm": 11.3})
    assert len(json.dumps(difference(views(record), views(other)))) < 4000  # of 76 thousand letters


def test_the_overall_size_is_that_of_the_tube_as_it_is_sold():
    # 44 x 24 x 2 mm stock tube, as the note of the record says; two end plates of 2 mm on 300.5 mm.
    drawn = views(SHIPPED["eight-slot-5g8"])
    assert overall_size(drawn) == pytest.approx((304.5, 44.0, 24.0))
    assert caption(drawn) == "Outside 304.5 x 44 x 24 mm: length, width, height, without connector."
    assert overall_size(views(TUBE)) == pytest.approx((480.0, 90.0, 90.0))


def test_the_tips_of_a_half_circle_are_a_diameter_apart():
    slot = SHIPPED["bent-slot-5g8"].slots[0]
    half = slot.model_copy(update={"length_mm": math.pi * 10, "aside_mm": 10.0})
    assert tip_reach(half) == pytest.approx(10.0, rel=1e-9)
    assert tip_reach(slot.model_copy(update={"aside_mm": 0.0})) == pytest.approx(slot.length_mm / 2)


@pytest.mark.parametrize(
    "sent",
    [
        None,
        [],
        "fields",
        {},
        {"fields": {}},
        {"fields": {"feed.height_mm": "12"}},
        {"fields": {"feed.height_mm": True}},
        {"fields": {"feed.height_mm": math.nan}},
        {"fields": {"feed.height_mm": None}},
        {"fields": {"name": 3.0}},
        {"fields": {"slot.9.length_mm": 3.0}},
        {"fields": {"feed.height_mm": 12.0, "__class__": 1.0}},
        {"fields": ["feed.height_mm"]},
        {"fields": {"feed.height_mm": 10**400}},
    ],
)
def test_only_what_a_handle_can_send_is_taken(sent):
    fields = movable_fields(views(SHIPPED["eight-slot-5g8"]))
    assert change_sent(sent, fields)[0] is None
