"""What a record refuses, by the field that it is about, and a record or None."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import TYPE_CHECKING, Any, get_args

from simharness.errors import InputError

if TYPE_CHECKING:
    from simharness.records import Record
    from simharness.records.parts import Part

_OF_RULE = {"position_mm": "spacing_mm", "face": "faces"}
"""Fields of a rule that decide what is said of one of its slots, where they have another name."""
_COMMA = re.compile(r"[-+]?\d*,\d+")


def judged(data: Mapping[str, Any]) -> tuple[Record | None, dict[str, str]]:
    """The record that the data are, or none; and a sentence for each refused field, "" for no field."""
    from simharness.records import parse_record
    from simharness.records.reading import RecordError

    try:
        return parse_record(dict(data)), {}
    except RecordError as error:
        problems: dict[str, str] = {}
        for name, sentence in error.named:
            field = field_said(name, data)
            value = value_at(data, field)
            if field in numeric_fields(data) and isinstance(value, str):
                sentence = f"{field} = {error_value(value)}: {no_number(value)}"
            problems.setdefault(field, sentence)
        return None, problems
    except InputError as error:
        return None, {"": str(error)}
    except RecursionError:
        return None, {"": "record: tables in tables are nested too deeply"}


def field_said(name: str, data: Mapping[str, Any]) -> str:
    """The field of these data that a problem is about; "" for none.

    A sentence about a slot of a rule belongs to the field of the rule that sets it.
    """
    if name.startswith("slot.") and "slot_rule" in data and "slot" not in data:
        *_, last = name.split(".")
        name = f"slot_rule.{_OF_RULE.get(last, last)}"
    return name if name in known_fields(data) or name in optional_tables() else ""


def value_at(data: Mapping[str, Any], field: str) -> Any:
    """The value of a dotted field; None where it is left out."""
    found: Any = data
    for part in field.split("."):
        if isinstance(found, (list, tuple)):
            inside = part.isdecimal() and len(part) < 5 and 1 <= int(part) <= len(found)
            found = found[int(part) - 1] if inside else None
        else:
            found = found.get(part) if isinstance(found, Mapping) else None
    return found


def tables_of(data: Mapping[str, Any]) -> dict[str, type[Part]]:
    """The table of the record behind each dotted name of a table in the data, "" for the top."""
    from simharness.records import (
        Band,
        BentProbe,
        GuidePort,
        Laminate,
        Mounting,
        Probe,
        Record,
        RectangularGuide,
        RoundGuide,
    )

    guide, feed = data.get("guide"), data.get("feed")
    shape = guide.get("shape") if isinstance(guide, Mapping) else None
    kind = feed.get("kind") if isinstance(feed, Mapping) else None
    kinds: dict[str, type[Part]] = {"bent-probe": BentProbe, "guide-port": GuidePort}
    found: dict[str, type[Part]] = {
        "": Record,
        "band": Band,
        "mounting": Mounting,
        "guide": RoundGuide if shape == "round" else RectangularGuide,
    }
    if isinstance(guide, Mapping) and "laminate" in guide:
        found["guide.laminate"] = Laminate
    for name, table in row_tables().items():
        for number in range(1, 1 + rows_in(data, name)):
            found[f"{name}.{number}"] = table
    found["feed"] = kinds.get(kind, Probe) if isinstance(kind, str) else Probe
    return found | {name: table for name, table in optional_tables().items() if name in data}


def rows_in(data: Mapping[str, Any], name: str) -> int:
    """How many tables of this name stand in a row."""
    rows = data.get(name, ())
    return len(rows) if isinstance(rows, (list, tuple)) else 0


@cache
def optional_tables() -> dict[str, type[Part]]:
    """Tables that a record may have once or not at all, by their names."""
    from simharness.records import Record

    return {name: tables[0] for name, tables, others in _nested(Record) if type(None) in others}


@cache
def row_tables() -> dict[str, type[Part]]:
    """Tables of which a record may have several, by their names."""
    from simharness.records import Record

    return {name: tables[0] for name, tables, others in _nested(Record) if Ellipsis in others}


def _nested(table: type[Part]) -> Iterator[tuple[str, list[type[Part]], list[Any]]]:
    """Fields of a table that are tables themselves: name, the kinds of table, what else the type allows."""
    from simharness.records.parts import Part

    for name, field in table.model_fields.items():
        kinds = _kinds(field.annotation)
        tables = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, Part)]
        if tables:
            yield name, tables, [kind for kind in kinds if kind not in tables]


def _kinds(annotation: Any) -> list[Any]:
    """What a type is put together from."""
    args = get_args(annotation)
    return [kind for arg in args for kind in _kinds(arg)] if args else [annotation]


@cache
def table_fields(table: type[Part]) -> tuple[str, ...]:
    """Names of the plain fields of a table, as in a file."""
    nested = {name for name, *_ in _nested(table)}
    return tuple(field.alias or name for name, field in table.model_fields.items() if name not in nested)


def known_fields(data: Mapping[str, Any]) -> set[str]:
    """Dotted names of all fields that a record with these tables may have."""
    return {
        f"{where}.{name}" if where else name
        for where, table in tables_of(data).items()
        for name in table_fields(table)
    }


def numeric_fields(data: Mapping[str, Any]) -> set[str]:
    """Those of them that hold a number."""
    return {
        f"{where}.{name}" if where else name
        for where, table in tables_of(data).items()
        for name in _numbers(table)
    }


@cache
def _numbers(table: type[Part]) -> tuple[str, ...]:
    """Names of the fields of a table that hold a number."""
    kinds = {name: _kinds(field.annotation) for name, field in table.model_fields.items()}
    return tuple(
        name for name in table_fields(table) if float in kinds.get(name, ()) or int in kinds.get(name, ())
    )


def no_number(text: str) -> str:
    """What to say of a text where a number belongs.

    Examples
    --------
    >>> no_number("12,5"), no_number("wide")
    ('is not a number: do you mean 12.5?', 'is not a number')
    """
    text = text.strip()
    meant = f": do you mean {text.replace(',', '.')}?" if _COMMA.fullmatch(text) else ""
    return f"is not a number{meant}"


def error_value(value: str) -> str:
    """A value as it may stand in a sentence."""
    from simharness.printable import quoted

    return quoted(value) or "(nothing)"
