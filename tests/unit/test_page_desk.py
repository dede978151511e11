"""A record on the desk: what is refused, every step back, and the file, in which nobody's work is lost."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path

import pytest
from shaped_records import SHIPPED

import simharness
from simharness.errors import InputError, MachineError
from simharness.page.desk import Desk
from simharness.records import RoundGuide, parse_record, read_record
from simharness.records.text import plain_data

MODELS = Path(__file__).parents[2] / "models"


@pytest.fixture
def file(tmp_path):
    """A copy of a record with a rule, in a folder of its own."""
    return copied(tmp_path, "eight-slot-5g8")


def copied(folder: Path, name: str) -> Path:
    path = folder / f"{name}.toml"
    path.write_bytes((MODELS / path.name).read_bytes())
    return path


@pytest.mark.parametrize("name", SHIPPED)
def test_a_record_that_was_only_opened_is_as_it_was(name):
    desk = Desk.opened(MODELS / f"{name}.toml")
    assert desk.text() == (MODELS / f"{name}.toml").read_text(encoding="utf-8")
    assert desk.record == SHIPPED[name]
    assert (desk.problems, desk.dirty, desk.can_undo, desk.can_redo) == ({}, False, False, False)


def test_a_value_is_what_the_library_makes_of_it(file):
    desk = Desk.opened(file)
    desk.set("feed.height_mm", 11.9)
    desk.set("slot_rule.count", 7.0)
    assert desk.record == simharness.changed(
        read_record(file), {"feed.height_mm": 11.9, "slot_rule.count": 7}
    )


def test_a_refused_value_stays_and_is_said_in_the_words_of_the_record(file):
    desk = Desk.opened(file)
    desk.set("feed.height_mm", 99.0)
    with pytest.raises(InputError) as said:
        simharness.changed(read_record(file), {"feed.height_mm": 99.0})
    assert desk.problems == {"feed.height_mm": said.value.problems[0]}
    assert desk.data["feed"]["height_mm"] == 99.0
    assert desk.record == read_record(file)
    with pytest.raises(InputError, match="only a valid record can be saved"):
        desk.save()
    desk.undo()
    assert desk.problems == {}


def test_all_that_is_refused_is_said(file):
    desk = Desk.opened(file)
    desk.set_many({"feed.height_mm": 99.0, "feed.position_mm": 999.0, "guide.front_wall_mm": 2.0})
    assert set(desk.problems) == {"feed.height_mm", "feed.position_mm"}


def test_what_is_typed_and_is_no_number_is_refused(file):
    desk = Desk.opened(file)
    desk.set("slot_rule.length_mm", "25,2")
    assert desk.problems == {
        "slot_rule.length_mm": "slot_rule.length_mm = 25,2: is not a number: do you mean 25.2?"
    }


def test_a_sentence_about_a_slot_of_a_rule_stands_at_the_rule(file):
    desk = Desk.opened(file)
    desk.set("slot_rule.offset_mm", 30.0)
    assert "the slot runs over the side wall" in desk.problems["slot_rule.offset_mm"]
    assert set(desk.problems) == {"slot_rule.offset_mm"}


def test_a_sentence_about_a_single_slot_stands_at_its_field():
    desk = Desk.opened(MODELS / "sixteen-slot-5g8-travelling.toml")
    desk.set("slot.3.offset_mm", 30.0)
    assert set(desk.problems) == {"slot.3.offset_mm"}


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("feed.hight_mm", 1.0),
        ("slot.9.length_mm", 1.0),
        ("slot.x.length_mm", 1.0),
        ("slot.1", 1.0),
        ("", 1.0),
    ],
)
def test_a_field_that_no_record_has_is_refused_and_nothing_changes(file, field, value):
    desk = Desk.opened(file)
    with pytest.raises(InputError, match="unknown field"):
        desk.set(field, value)
    assert not desk.can_undo
    assert desk.record == read_record(file)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 10**30, -1e300, [1.0], {}, "x" * 5000])
def test_a_value_that_no_field_could_hold_changes_nothing(file, value):
    desk = Desk.opened(file)
    with pytest.raises(InputError, match=r"^feed\.height_mm = .*: must be "):
        desk.set("feed.height_mm", value)
    assert not desk.can_undo


def test_steps_back_and_again(file):
    desk = Desk.opened(file)
    states = [desk.record]
    for height in (11.6, 11.7, 11.8):
        desk.set("feed.height_mm", height)
        states.append(desk.record)
    desk.undo()
    desk.undo()
    assert desk.record == states[1] and desk.can_redo
    desk.redo()
    assert desk.record == states[2]
    desk.set("feed.height_mm", 10.0)
    assert not desk.can_redo
    for _ in range(9):
        desk.undo()
    assert desk.record == states[0] and not desk.can_undo and not desk.dirty


def test_a_gesture_is_one_step(file):
    desk = Desk.opened(file)
    for gesture in ("drag 1", "drag 2"):
        for i in range(50):
            desk.set("feed.height_mm", 11.5 + 0.01 * i + (gesture == "drag 2"), gesture)
    desk.undo()
    assert desk.record.feed.height_mm == pytest.approx(11.99)
    desk.undo()
    assert not desk.can_undo


def test_a_thousand_steps_are_quick():
    """Sixteen single slots, the most tables that a shipped record has."""
    desk = Desk.opened(MODELS / "sixteen-slot-5g8-travelling.toml")
    before = desk.record
    start = time.perf_counter()
    for i in range(1000):
        desk.set(f"slot.{i % 16 + 1}.offset_mm", 1.0 + 0.001 * i)
    for _ in range(1000):
        desk.undo()
    assert time.perf_counter() - start < 10  # s; seen: 2, so 1 ms for a step
    assert desk.record == before and not desk.can_undo


def test_values_change_in_their_lines_and_nothing_else(file):
    before = file.read_text(encoding="utf-8").splitlines()
    desk = Desk.opened(file)
    desk.set("guide.a_mm", 41.0)
    desk.set("feed.offset_mm", 0.5)
    after = desk.text().splitlines()
    assert [line for line in before if line not in after] == ["a_mm = 40.0"]
    assert [line for line in after if line not in before] == ["a_mm = 41.0", "offset_mm = 0.5"]


ROW = """
# the third
[[slot]]  # by the vice
position_mm = 30.0 # marked
offset_mm = 0.0
length_mm = 20.0
width_mm = 2.0
"""


def remarked(tmp_path) -> Path:
    """Three slots, each with a remark above it and one in a line."""
    desk = Desk.empty(tmp_path)
    head, _, tail = desk.text().partition("[[slot]]")
    feed = tail[tail.index("[feed]") :]
    rows = [
        ROW.replace("third", word).replace("30.0", f"{place}.0")
        for word, place in (("first", 30), ("second", 60), ("third", 90))
    ]
    text = head.replace("length_mm = 69.1", "length_mm = 130.0") + "".join(rows) + "\n# the coax\n" + feed
    path = tmp_path / "three.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("number", [1, 2, 3])
def test_a_slot_goes_with_its_own_lines_and_no_others(tmp_path, number):
    path = remarked(tmp_path)
    before = path.read_text(encoding="utf-8").splitlines()
    desk = Desk.opened(path)
    desk.remove_row("slot", number)
    after = desk.text().splitlines()
    missing = list(before)
    for line in after:
        missing.remove(line)  # raises where a line is new
    assert sorted(line for line in missing if line) == [
        "[[slot]]  # by the vice",
        "length_mm = 20.0",
        "offset_mm = 0.0",
        f"position_mm = {30 * number}.0 # marked",
        "width_mm = 2.0",
    ]
    assert [slot.position_mm for slot in parse_text(desk.text()).slots] == [
        place for place in (30.0, 60.0, 90.0) if place != 30.0 * number
    ]


def parse_text(text: str):
    return Desk.from_text(text).record


def test_a_slot_is_added_behind_the_last_with_all_remarks_kept(tmp_path):
    path = remarked(tmp_path)
    before = path.read_text(encoding="utf-8").splitlines()
    desk = Desk.opened(path)
    desk.add_row("slot")
    after = desk.text().splitlines()
    assert [line for line in before if line not in after] == ["length_mm = 130.0"]  # the guide becomes longer
    assert [slot.position_mm for slot in desk.record.slots] == [30.0, 60.0, 90.0, 120.0]
    assert desk.record.guide.length_mm == 160.0
    assert after.index("# the coax") > after.index("position_mm = 120.0")
    desk.undo()
    assert desk.text().splitlines() == before


@pytest.mark.parametrize("name", [name for name, record in SHIPPED.items() if record.slot_rule])
def test_a_rule_written_out_is_the_same_antenna_with_its_remarks(tmp_path, name):
    desk = Desk.opened(copied(tmp_path, name))
    before = desk.record
    desk.rule_to_slots()
    assert desk.problems == {} and desk.record.slot_rule is None
    assert desk.record.slots == before.slots
    assert parse_text(desk.text()) == desk.record
    remarks = [line for line in (MODELS / f"{name}.toml").read_text().splitlines() if line.startswith("#")]
    assert [line for line in desk.text().splitlines() if line.startswith("#")] == remarks
    assert desk.text().index("[[slot]]") < desk.text().index("[feed]")


@pytest.mark.parametrize("name", SHIPPED)
def test_slots_added_and_removed_are_valid(name):
    desk = Desk.opened(MODELS / f"{name}.toml")
    count = len(desk.record.slots)
    rows = 2 if desk.record.slot_rule and desk.record.two_faced else 1
    desk.add_row("slot")
    assert (desk.problems, len(desk.record.slots)) == ({}, count + rows)
    desk.undo()
    desk.remove_row("slot", 2)
    assert (desk.problems, len(desk.record.slots)) == ({}, count - 1)


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("kind", ["probe", "bent-probe", "guide-port"])
def test_another_feed_has_all_it_needs(name, kind):
    desk = Desk.opened(MODELS / f"{name}.toml")
    desk.set("feed.kind", kind)
    if kind == "bent-probe" and isinstance(desk.record.guide, RoundGuide):
        assert "not modelled" in desk.problems["feed.kind"]
    elif kind == "guide-port" and desk.record.pair is not None:
        assert "a pair needs antennas with a coax each" in desk.problems["pair"]
    else:
        assert desk.problems == {} and desk.record.feed.kind == kind
        assert parse_text(desk.text()) == desk.record


@pytest.mark.parametrize("name", SHIPPED)
def test_another_shape_of_guide_has_all_it_needs(name):
    desk = Desk.opened(MODELS / f"{name}.toml")
    before = desk.record
    desk.set("guide.shape", "round")
    assert desk.problems == {} and desk.record.guide.shape == "round"
    assert parse_text(desk.text()) == desk.record
    desk.set("guide.shape", "rectangular")
    assert desk.problems == {} and desk.record.guide.shape == "rectangular"
    assert parse_text(desk.text()) == desk.record
    while desk.can_undo:
        desk.undo()
    assert desk.record == before


@pytest.mark.parametrize(
    ("field", "values"),
    [
        ("guide.far_end", ("load", "short")),
        ("guide.laminate", (True, False)),
        ("feed.connector", ("panel", "stripped", "bare")),
        ("slot_rule.ends", ("tapered", "square", "round")),
        ("slot_rule.shape", ("bent", "s", "straight")),
        ("slot_rule.faces", ("both", "front")),
        ("slot.2.shape", ("s", "bent", "straight")),
    ],
)
def test_a_choice_brings_what_it_needs(file, field, values):
    desk = Desk.opened(file)
    for value in values:
        desk.set(field, value)
        assert desk.problems == {}, (field, value)
        assert parse_text(desk.text()) == desk.record


def test_a_tip_of_a_bent_probe():
    desk = Desk.opened(MODELS / "bent-probe-5g8.toml")
    desk.set("feed.tip", "open")
    assert desk.problems == {} and 0 < desk.record.feed.rise_mm < 13.0
    desk.set("feed.tip", "soldered")
    assert desk.record == read_record(MODELS / "bent-probe-5g8.toml")


def test_an_empty_box_is_an_antenna(tmp_path):
    desk = Desk.empty(tmp_path)
    assert desk.problems == {} and len(desk.record.slots) == 1 and not desk.dirty
    assert simharness.check(desk.record).warnings == ()
    path = desk.save()
    assert path == tmp_path / "new-antenna.toml" and read_record(path) == desk.record


def test_saved_over_what_was_opened(file):
    desk = Desk.opened(file)
    desk.set("feed.height_mm", 11.9)
    assert desk.dirty
    assert desk.save() == file
    assert not desk.dirty and read_record(file) == desk.record
    desk.undo()
    assert desk.dirty and desk.record.feed.height_mm == 11.5
    desk.save()
    assert file.read_bytes() == (MODELS / file.name).read_bytes()


def test_a_file_that_others_changed_is_not_written_over(file):
    one, other = Desk.opened(file), Desk.opened(file)
    one.set("feed.height_mm", 11.9)
    one.save()
    other.set("feed.height_mm", 11.0)
    kept = file.read_bytes()
    with pytest.raises(
        InputError, match=r"was changed by another .* save under another name, or open it again"
    ):
        other.save()
    assert file.read_bytes() == kept and other.dirty and not other.can_redo
    assert other.save("another.toml").name == "another.toml"
    assert read_record(file.with_name("another.toml")).name == "another"


def test_another_file_is_not_written_over(file):
    taken = copied(file.parent, "two-faced-5g8")
    kept = taken.read_bytes()
    desk = Desk.opened(file)
    desk.set("feed.height_mm", 11.9)
    for name in (taken.name, taken):
        with pytest.raises(InputError, match="is there already"):
            desk.save(name)
    assert taken.read_bytes() == kept and desk.record.name == "eight-slot-5g8"


@pytest.mark.parametrize(
    "name",
    [
        "../x.toml",
        "a/b.toml",
        "/x.toml",
        "..",
        "",
        ".toml",
        "x",
        "x.txt",
        ".x.toml",
        "<script>alert(1)</script>.toml",
        "a\nb.toml",
        "a.toml\n",
        "a\0.toml",
        "a\\b.toml",
        "-a.toml",
        "A.toml",
        "a" * 49 + ".toml",
        "con\u202e.toml",
    ],
)
def test_hostile_names_are_refused_in_one_sentence(file, name):
    desk = Desk.opened(file)
    before = sorted(file.parent.iterdir())
    with pytest.raises(InputError, match="must be a plain name of a-z") as said:
        desk.save(name)
    assert "\n" not in str(said.value) and "\0" not in str(said.value)
    with pytest.raises(InputError):
        desk.save(Path("/") / "elsewhere.toml")
    assert sorted(file.parent.iterdir()) == before and not desk.can_undo


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is read-only to root")
def test_a_folder_that_is_read_only_leaves_all_as_it_was(file):
    desk = Desk.opened(file)
    file.parent.chmod(0o500)
    try:
        with pytest.raises(MachineError, match="permission is denied"):
            desk.save("other.toml")
    finally:
        file.parent.chmod(0o700)
    assert not desk.can_undo and desk.record.name == "eight-slot-5g8"


def test_a_failed_write_leaves_all_as_it_was(file, monkeypatch):
    def full(path, text):
        raise MachineError(f"cannot write {path}: the disk is full")

    desk = Desk.opened(file)
    desk.set("feed.height_mm", 11.9)
    monkeypatch.setattr("simharness.files.atomic_write_text", full)
    for name in (None, "other.toml"):
        with pytest.raises(MachineError):
            desk.save(name)
    assert desk.dirty and desk.record.name == "eight-slot-5g8" and not desk.can_redo
    desk.undo()
    assert not desk.can_undo


def test_a_draft_outlives_its_desk(file):
    desk = Desk.opened(file)
    desk.set("guide.a_mm", 41.0)
    desk.set("feed.height_mm", "high")
    again = Desk.from_draft(json.loads(json.dumps(desk.draft())), file.parent)
    assert (again.data, again.problems, again.record) == (desk.data, desk.problems, desk.record)
    assert again.dirty and again.path == file
    again.set("feed.height_mm", 11.0)
    again.save()
    assert "# Invented example: eight slots" in file.read_text(encoding="utf-8")
    assert read_record(file) == again.record
    with pytest.raises(InputError, match="was changed by another"):
        Desk.from_draft(desk.draft(), file.parent).save()


@pytest.mark.parametrize(
    "wrong",
    [
        {"version": 99},
        {"file": "../eight-slot-5g8.toml"},
        {"file": "/etc/passwd.toml"},
        {"file": 3},
        {"sha256": "x"},
        {"data": []},
        {"text": None},
        {"text": "= ="},
        {"valid": {"schema": 1}, "data": {}},
        {"data": {"schema": 1}},
    ],
)
def test_a_draft_is_not_trusted(file, wrong):
    draft = Desk.opened(file).draft() | wrong
    with pytest.raises(InputError):
        Desk.from_draft(draft, file.parent)


def test_what_was_designed_is_work_until_it_is_saved(tmp_path):
    record = SHIPPED["five-slot-2g45"]
    desk = Desk.from_record(record, tmp_path)
    assert desk.dirty and desk.record == record and desk.path is None
    desk.save()
    assert not desk.dirty and read_record(tmp_path / "five-slot-2g45.toml") == record


def test_a_record_that_is_refused_is_not_opened(file):
    data = plain_data(read_record(file))
    data["feed"]["height_mm"] = 99.0
    with pytest.raises(InputError):
        parse_record(data)
    file.write_text(file.read_text().replace("height_mm = 11.5", "height_mm = 99.0"))
    with pytest.raises(InputError, match="the probe would touch the far wall"):
        Desk.opened(file)


@pytest.mark.parametrize(
    "name", ["eight-slot-5g8", "bent-probe-2g45", "two-faced-5g8", "four-slot-tube-2g44"]
)
@pytest.mark.parametrize("table", ["mast", "pair", "cover"])
def test_what_stands_around_comes_and_goes_at_a_click(name, table):
    desk = Desk.opened(MODELS / f"{name}.toml")
    before = desk.data
    desk.set(table, True)
    if table == "cover" and isinstance(desk.record.guide, RoundGuide):
        assert "a flat sheet does not lie on a round tube" in desk.problems["cover"]
    else:
        assert desk.problems == {} and getattr(desk.record, table) is not None
        assert read_back(desk.text()) == desk.record
    desk.set(table, False)
    assert desk.data == before and desk.problems == {}


def read_back(text: str):
    return Desk.from_text(text).record


def test_another_kind_of_what_stands_around_is_whole(file):
    desk = Desk.opened(file)
    desk.set("mast", True)
    desk.set("mast.direction_deg", -130.0)
    desk.set("mast.shape", "wall")
    assert desk.problems == {} and desk.data["mast"]["direction_deg"] in (-90.0, 180.0)
    desk.set("mast.shape", "pole")
    assert desk.problems == {} and desk.record.mast.diameter_mm == 50.0
    desk.set("pair", True)
    assert "at once are not modelled" in desk.problems["pair"]
    desk.set("mast", False)
    for place in ("above", "back to back", "beside"):
        desk.set("pair.place", place)
        assert desk.problems == {} and desk.record.pair.place == place


def test_tape_is_put_on_and_taken_off(file):
    desk = Desk.opened(file)
    for number in range(1, 18):
        desk.add_row("tape")
        assert (desk.problems == {}) == (number < 17)  # two ends of eight slots, then none is left
    assert "covers that end of slot 1 already" in desk.problems["tape.17.end"]
    desk.remove_row("tape", 17)
    assert len(desk.record.tape) == 16 and read_back(desk.text()) == desk.record
    for _ in range(16):
        desk.remove_row("tape", 1)
    assert "tape" not in desk.data and desk.text() == file.read_text()
    with pytest.raises(InputError, match="tape = 1: there is none"):
        desk.remove_row("tape", 1)
    with pytest.raises(InputError, match="table = feed: must be slot or tape or screw"):
        desk.add_row("feed")


def test_screws_are_put_in_and_taken_out(file):
    """Each new one is where there is room for it."""
    desk = Desk.opened(file)
    for number in range(1, 4):
        desk.add_row("screw")
        assert desk.problems == {} and len(desk.record.screw) == number
    assert read_back(desk.text()) == desk.record
    desk.set("screw.2.position_mm", desk.data["screw"][0]["position_mm"] + 1.0)
    assert "would run into screw 1" in desk.problems["screw.2.position_mm"]
    for _ in range(3):
        desk.remove_row("screw", 1)
    assert "screw" not in desk.data and desk.text() == file.read_text()


@pytest.mark.parametrize(
    ("table", "field", "value"),
    [
        ("tape", "tape.1.slot", 9),
        ("tape", "tape.1.slot", 1.5),
        ("tape", "tape.1.end", "middle"),
        ("tape", "tape.1.covers_mm", 40.0),
        ("tape", "tape.1.covers_mm", -1.0),
        ("mast", "mast.direction_deg", 181.0),
        ("mast", "mast.distance_mm", 0.0),
        ("mast", "mast.width_mm", 10.0),
        ("pair", "pair.distance_mm", 20.0),
        ("pair", "pair.fed", "sideways"),
        ("mounting", "mounting.tilt_deg", 91.0),
    ],
)
def test_a_refused_value_has_the_sentence_of_the_record_at_its_field(file, table, field, value):
    desk = Desk.opened(file)
    if table == "tape":
        desk.add_row("tape")
    elif table != "mounting":
        desk.set(table, True)
    desk.set(field, value)
    with pytest.raises(InputError) as refused:
        parse_record(desk.data)
    assert list(desk.problems) == [field]
    assert str(refused.value) == f"record: {desk.problems[field]}"
