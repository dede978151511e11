"""Records written as TOML read back as they were."""

from __future__ import annotations

from pathlib import Path

import pytest
from shaped_records import SHIPPED, two_port, varied

from simharness.records import Record, read_record
from simharness.records.text import record_text, updated_text

ROOT = Path(__file__).parents[2]


def read_back(record: Record, tmp_path, heading: str = "") -> Record:
    path = tmp_path / "record.toml"
    path.write_text(record_text(record, heading), encoding="utf-8")
    return read_record(path)


@pytest.mark.parametrize("record", [*SHIPPED.values(), two_port()], ids=[*SHIPPED, "two ports"])
def test_a_record_reads_back_equal(record, tmp_path):
    assert read_back(record, tmp_path) == record


@pytest.mark.parametrize(
    "note",
    [
        'say "so"',
        "back\\slash",
        "two\nlines\tand a tab",
        "größer als λ/4",
        "a = [1]",
        "# no comment",
        "x" * 2000,
    ],
)
def test_any_note_survives(note, tmp_path):
    record = varied(note=note)
    assert read_back(record, tmp_path).note == note


@pytest.mark.parametrize("value", [22.86, 22 + 0.1 + 0.2, 1e-3 + 23, 22.000000001])
def test_numbers_keep_every_digit(value, tmp_path):
    assert read_back(varied(guide={"a_mm": value}), tmp_path).guide.a_mm == value


def test_the_heading_is_a_comment_line_by_line(tmp_path):
    record = SHIPPED["five-slot-2g45"]
    text = record_text(record, "made by hand\nschema = 99")
    assert text.startswith("# made by hand\n# schema = 99\n\nschema = 1\n")
    assert read_back(record, tmp_path, "made by hand\nschema = 99") == record
    assert record_text(record).startswith("schema = 1\n")


def test_fields_without_a_value_are_left_out():
    text = record_text(varied(note="", title=""))
    assert "note" not in text and "title" not in text and "conductivity" not in text


@pytest.mark.parametrize("name", SHIPPED)
def test_what_is_changed_in_a_file_leaves_its_comments_and_its_order(name, tmp_path):
    """Every line of the file stays, but for the values that differ."""
    record = SHIPPED[name]
    lengths = {"length_mm": record.guide.length_mm + 1.0}
    changed = record.model_copy(
        update={"name": "another", "note": "Tuned.", "guide": record.guide.model_copy(update=lengths)}
    )
    path = ROOT / "models" / f"{name}.toml"
    before, after = path.read_text(encoding="utf-8"), updated_text(path, changed, "Tuned from it\nby a test")
    assert after.startswith("# Tuned from it\n# by a test\n\n")
    differing = [line for line in before.splitlines() if line not in after.splitlines()]
    assert len(differing) == 3 and all(
        line.split(" = ")[0] in ("name", "note", "length_mm") for line in differing
    )
    (tmp_path / "after.toml").write_text(after, encoding="utf-8")
    assert read_record(tmp_path / "after.toml") == changed


def test_slots_by_themselves_are_changed_in_their_places(tmp_path):
    path = tmp_path / "record.toml"
    base = SHIPPED["eight-slot-wr90-10g37"]
    path.write_text(record_text(base).replace("[band]", "# a remark\n[band]"), encoding="utf-8")
    longer = tuple(slot.model_copy(update={"length_mm": slot.length_mm + 0.1}) for slot in base.slot)
    changed = base.model_copy(update={"slot": longer})
    after = updated_text(path, changed)
    assert "# a remark\n[band]" in after
    path.write_text(after, encoding="utf-8")
    assert read_record(path) == changed


def test_a_file_that_is_too_unlike_is_written_anew(tmp_path):
    path = tmp_path / "record.toml"
    path.write_text("# gone\n" + record_text(SHIPPED["four-slot-tube-2g44"]), encoding="utf-8")
    path.write_text(updated_text(path, SHIPPED["bent-probe-5g8"]), encoding="utf-8")
    assert read_record(path) == SHIPPED["bent-probe-5g8"]
