"""One field of the data of a record changed; the data given are never edited, and share what stays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simharness.errors import InputError
from simharness.hints import meant_word
from simharness.page.companions import settled, with_companions
from simharness.page.problems import known_fields, value_at
from simharness.page.rows import rule_as_slots
from simharness.page.tables import STARTS, with_table
from simharness.sweep.points import LARGEST

if TYPE_CHECKING:
    from simharness.records import Record

Data = dict[str, Any]
Value = float | int | str | bool | None

LONGEST = 4000
"""Characters of a text that is taken from a field; no field of a record allows so many."""


def with_value(data: Data, record: Record, field: str, value: Value) -> Data:
    """The data with a field at another value, and with what goes with it; None leaves the field out.

    Raises
    ------
    InputError
        A record has no such field, or the value is no plain one.
    """
    _require_plain(field, value)
    if field in STARTS:
        return settled(lambda: with_table(data, record, field, bool(value)), data)
    if field.startswith("slot.") and "slot_rule" in data:
        data = rule_as_slots(data, record)
    known = known_fields(data)
    if field not in known:
        raise InputError(field, "" if value is None else value, f"unknown field{meant_word(field, known)}")
    if value == value_at(data, field) and type(value) is type(value_at(data, field)):
        return data
    changed = _put(data, field.split("."), _whole(data, field, value))
    return settled(lambda: with_companions(changed, record, field), changed)


def _require_plain(field: str, value: object) -> None:
    """Refuse what no field could hold and a browser could not be told."""
    if isinstance(value, str) and len(value) > LONGEST:
        raise InputError(field, value, f"must be at most {LONGEST} characters")
    if not isinstance(value, (int, float, str, type(None))):
        raise InputError(field, value, "must be a number, a text, true or false")
    if isinstance(value, (int, float)) and not abs(value) <= LARGEST:
        raise InputError(field, value, "must be a number of reasonable size")


def _whole(data: Data, field: str, value: Value) -> Value:
    """A whole number as such where the field holds one."""
    counted = field == "slot_rule.count" or type(value_at(data, field)) is int
    return int(value) if counted and isinstance(value, float) and value.is_integer() else value


def _put(table: Any, place: list[str], value: Value) -> Any:
    """A copy of the tables on the way to a field, with the value there."""
    first, *others = place
    if isinstance(table, (list, tuple)):
        rows = list(table)
        rows[int(first) - 1] = _put(rows[int(first) - 1], others, value)
        return rows
    copied = dict(table)
    if others:
        copied[first] = _put(copied.get(first, {}), others, value)
    elif value is None:
        copied.pop(first, None)
    else:
        copied[first] = value
    return copied
