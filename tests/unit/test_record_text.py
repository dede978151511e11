"""Records written as TOML read back as they were."""

from __future__ import annotations

import pytest
from shaped_records import SHIPPED, two_port, varied

from simharness.records import Record, read_record
from simharness.records.text import record_text


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
