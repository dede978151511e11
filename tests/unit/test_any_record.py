"""Any record: taken, or refused in sentences; never a traceback."""

from __future__ import annotations

from pathlib import Path

from any_input import of_any, record_texts, spoilt_records, toml

from simharness.errors import InputError
from simharness.printable import is_printable
from simharness.records import Record, parse_record
from simharness.records.reading import MAX_PROBLEMS, data_of_text, read_record

LONGEST = 1200
"""Characters of a sentence: a list of all keys of the longest table has about 400."""


def taken(text: str) -> Record | None:
    """The record of a text; None where it is refused, whose words are looked at."""
    try:
        return parse_record(data_of_text(text))
    except InputError as error:
        sentences(error)
        return None


def sentences(error: InputError) -> None:
    """What is said of a bad record is short and printable."""
    assert 1 <= len(error.problems) <= MAX_PROBLEMS + 1
    for line in [*error.problems, *str(error).split("\n")]:
        assert line and is_printable(line) and len(line) <= LONGEST, line


@of_any(60, content=record_texts)
def test_any_text_is_a_record_or_refused_in_sentences(tmp_path_factory, content):
    path = Path(tmp_path_factory.getbasetemp()) / "any.toml"
    path.write_bytes(content)
    try:
        record = read_record(path)
    except InputError as error:
        sentences(error)
    else:
        assert parse_record(record.model_dump(by_alias=True, exclude_none=True)) == record


@of_any(150, data=spoilt_records())
def test_any_value_of_any_field_is_taken_or_refused_in_sentences(data):
    """As the page and the library give it, without a text between: values that TOML has no words for, too."""
    try:
        record = parse_record(data)
    except InputError as error:
        sentences(error)
    else:
        assert taken(toml(record.model_dump(by_alias=True, exclude_none=True))) == record
