"""The points of a sweep: which fields of a record take which values, and the record at every combination."""

from __future__ import annotations

import itertools
import json
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from simharness.errors import InputError
from simharness.hints import meant_word
from simharness.printable import quoted
from simharness.records import Record, parse_record
from simharness.records.text import plain_data

MAX_POINTS = 2000
"""More points than this are taken for a mistake."""

LARGEST = 1e12
"""No field of a record is larger than this: conductivities reach 1e9 S/m."""

SAID = 5
"""Number of refused points that are named."""

_FORMS = (
    "must be like feed.height_mm=18:24:7 (start:stop:count), feed.height_mm=18,20,22 "
    "or slot.3.length_mm=58,59"
)
_LABELS = ("schema", "name", "title", "note")
_DUST = 9
"""Decimals kept of equally spaced values, so that 18:24:7 means 19 and not 19.000000000000004."""

Value = float | int | str | bool


@dataclass(frozen=True)
class Variable:
    """A field of the record, by its dotted name, and the values that it takes, in units of the record."""

    field: str
    values: tuple[Value, ...]

    @property
    def numeric(self) -> bool:
        """Whether all values are numbers, so that they can form an axis."""
        return all(isinstance(value, (int, float)) and not isinstance(value, bool) for value in self.values)


@dataclass(frozen=True)
class SweepPoint:
    """One combination of values, in the order of the variables, and the record that it makes."""

    values: tuple[Value, ...]
    record: Record


def variable(text: str) -> Variable:
    """Parse a field and its values as written on the command line.

    Raises
    ------
    InputError
        The text has no known form.

    Examples
    --------
    >>> variable("feed.height_mm=18:24:4").values
    (18.0, 20.0, 22.0, 24.0)
    >>> variable("guide.material = copper, brass").values
    ('copper', 'brass')
    """
    field, equals, listed = text.partition("=")
    field, listed = field.strip(), listed.strip()
    if not equals or not field or not listed:
        raise InputError("vary", text, _FORMS)
    if ":" in listed:
        return Variable(field, _spaced(text, listed))
    values = tuple(_value(word) for word in listed.split(","))
    if "" in values:
        raise InputError("vary", text, "has an empty value between its commas")
    if not all(math.isfinite(value) for value in values if isinstance(value, float)):
        raise InputError("vary", text, "has a value that is no finite number")
    return Variable(field, values)


def _spaced(text: str, listed: str) -> tuple[Value, ...]:
    """Equally spaced values, both ends among them."""
    try:
        start, stop, count = listed.split(":")
        low, high, number = float(start), float(stop), int(count)
    except ValueError:
        raise InputError("vary", text, _FORMS) from None
    if not 2 <= number <= MAX_POINTS or not max(abs(low), abs(high)) <= LARGEST or low == high:
        raise InputError(
            "vary", text, f"needs two different numbers of reasonable size and a count from 2 to {MAX_POINTS}"
        )
    return tuple(round(float(value), _DUST) for value in np.linspace(low, high, number))


def _value(word: str) -> Value:
    """A number or a truth value where the word is one, else the word."""
    word = word.strip()
    try:
        value = json.loads(word)
    except (ValueError, RecursionError):
        value = None
    return value if isinstance(value, (int, float)) else word.strip("\"'")


def sweep_points(record: Record, variables: Sequence[Variable]) -> tuple[SweepPoint, ...]:
    """All combinations of the values, the last variable changing fastest.

    Raises
    ------
    InputError
        A field is unknown, given twice or cannot be varied, there are too many points, or some points are no
        valid record; these are named with what would be allowed.
    """
    _check_fields(variables)
    points, refused = [], []
    for values in itertools.product(*(variable.values for variable in variables)):
        try:
            points.append(SweepPoint(values, varied_record(record, variables, values)))
        except InputError as error:
            refused.append((values, error))
    if refused:
        raise _refusal(variables, refused, len(points) + len(refused))
    return tuple(points)


def _check_fields(variables: Sequence[Variable]) -> None:
    fields = [variable.field for variable in variables]
    if not fields:
        raise InputError("vary", "(missing)", _FORMS)
    twice = next((field for field in fields if fields.count(field) > 1), None)
    if twice is not None:
        raise InputError("vary", twice, "is given twice: name all its values at once")
    for field in fields:
        if field in _LABELS:
            raise InputError(
                "vary", field, "does not change the antenna: vary a dimension, a material or the band"
            )
        if field.startswith("slot."):
            _check_slot(field)
    count = int(np.prod([len(variable.values) for variable in variables], dtype=object))
    if count > MAX_POINTS:
        raise InputError("vary", f"{count} points", f"at most {MAX_POINTS} are solved in one sweep")


def _check_slot(field: str) -> None:
    parts = field.split(".")
    if len(parts) != 3 or not (parts[1].isdecimal() and len(parts[1]) < 5) or int(parts[1]) < 1:
        raise InputError("vary", field, "must name one of the slots and its field, as in slot.1.length_mm")


def _refusal(
    variables: Sequence[Variable], refused: Sequence[tuple[tuple[Value, ...], InputError]], count: int
) -> InputError:
    """One error for all refused points, a line for each; one sentence where the field itself is wrong."""
    first = refused[0][1]
    if first.allowed.startswith(("unknown key", "the record has no table")):
        return first
    lines = [
        f"at {point_text(variables, values)}: {problem}"
        for values, error in refused[:SAID]
        for problem in error.problems
    ]
    if len(refused) > SAID:
        lines.append(f"and {len(refused) - SAID} points more")
    found = InputError(first.what, first.value, first.allowed)
    found.args = (
        f"{len(refused)} of {count} points are not allowed, so nothing was run\n" + "\n".join(lines),
    )
    return found


def point_text(variables: Sequence[Variable], values: Sequence[Value]) -> str:
    """A point as text.

    Examples
    --------
    >>> variables = [Variable("feed.height_mm", (18.0,)), Variable("slot_rule.ends", ("round",))]
    >>> point_text(variables, (18.0, "round"))
    'feed.height_mm = 18, slot_rule.ends = round'
    """
    return ", ".join(f"{variable.field} = {value_text(value)}" for variable, value in zip(variables, values))


def value_text(value: Value) -> str:
    """A value as it is written in a record, without quotes.

    Examples
    --------
    >>> value_text(18.0), value_text(True), value_text("brass")
    ('18', 'true', 'brass')
    """
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:.9g}" if isinstance(value, float) else quoted(value)


_NUMBERED = re.compile(r"[a-z]+\.\d{1,4}\.[a-z0-9_]+")
"""A field of one of several tables: slot.3.length_mm, tape.1.covers_mm."""


def varied_record(record: Record, variables: Sequence[Variable], values: Sequence[Value]) -> Record:
    """The record with other values of its fields; numbered slots are set after the rule that places them.

    Raises
    ------
    InputError
        No such field, or no such antenna.
    """
    fields = dict(zip((variable.field for variable in variables), values))
    numbered = {field: value for field, value in fields.items() if _NUMBERED.fullmatch(field)}
    data = plain_data(record)
    for field in fields.keys() - numbered.keys():
        _put(data, field, fields[field])
    if any(field.startswith("slot.") for field in numbered) and "slot_rule" in data:
        data = plain_data(parse_record(data, "sweep"), rule=False)
    for field, value in numbered.items():
        table, number, name = field.split(".")
        rows = data.get(table)
        if not isinstance(rows, (list, tuple)):
            raise InputError(field, value, f"the record has no tables [[{table}]]")
        if not 1 <= int(number) <= len(rows):
            raise InputError(
                field, value, f"there are {len(rows)} {'slots' if table == 'slot' else f'of [[{table}]]'}"
            )
        _put(rows[int(number) - 1], name, value, field)
    return parse_record(data, "sweep")


def _put(data: dict[str, Any], name: str, value: Value, field: str = "") -> None:
    """Set a field by its dotted name; where the field holds an integer, a whole number stays an integer."""
    *tables, last = name.split(".")
    for table in tables:
        above, inner = data, data.get(table)
        if not isinstance(inner, dict):
            raise InputError(
                field or name, value, f"the record has no table [{table}]{meant_word(table, above)}"
            )
        data = inner
    if isinstance(data.get(last), (dict, list)):
        raise InputError(
            field or name,
            value,
            f"is a table: name one of its fields, as in {name}.{next(iter(data[last]), '')}",
        )
    whole = type(data.get(last)) is int and isinstance(value, float) and value.is_integer()
    data[last] = int(value) if whole else value
