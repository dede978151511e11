"""What a record refuses, by the field that it is about, and a record or None."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

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
    return name if name in known_fields(data) else ""


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
        Cover,
        GuidePort,
        Laminate,
        Mast,
        Mounting,
        Pair,
        Probe,
        Record,
        RectangularGuide,
        RoundGuide,
        Slot,
        SlotRule,
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
    if "slot_rule" in data:
        found["slot_rule"] = SlotRule
    rows = data.get("slot", ())
    for number in range(1, 1 + (len(rows) if isinstance(rows, (list, tuple)) else 0)):
        found[f"slot.{number}"] = Slot
    found["feed"] = kinds.get(kind, Probe) if isinstance(kind, str) else Probe
    if "mast" in data:
        found["mast"] = Mast
    if "pair" in data:
        found["pair"] = Pair
    if "cover" in data:
        found["cover"] = Cover
    return found


@cache
def table_fields(table: type[Part]) -> tuple[str, ...]:
    """Names of the plain fields of a table, as in a file."""
    nested = _NESTED.get(table.__name__, ())
    return tuple(field.alias or name for name, field in table.model_fields.items() if name not in nested)


_NESTED = {
    "Record": ("band", "mounting", "guide", "slot_rule", "slot", "tape", "feed", "mast", "pair", "cover"),
    "RectangularGuide": ("laminate",),
}
"""Fields of a table that are tables themselves."""


def known_fields(data: Mapping[str, Any]) -> set[str]:
    """Dotted names of all fields that a record with these tables may have."""
    return {
        f"{where}.{name}" if where else name
        for where, table in tables_of(data).items()
        for name in table_fields(table)
    }


def numeric_fields(data: Mapping[str, Any]) -> set[str]:
    """Those of them that hold a number."""
    units = ("_mm", "_ghz", "_db", "_deg", "_um", "_s_per_m", "permittivity", "loss_tangent", "count")
    return {name for name in known_fields(data) if name.endswith(units)}


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
