"""Fields of a record as rows of a table: a label and a value with its unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic import BaseModel

from simharness.records.parts import field_unit

Row = tuple[str, str]
Special = Mapping[str, Callable[[Any], Row | None]]
"""Fields with a label or value of their own, by name: the row for a value, or None to leave it out."""


def rows(part: BaseModel, special: Special) -> list[Row]:
    """Every field of a part of a record that has a description and a value, as it stands in the record.

    Parameters
    ----------
    part : BaseModel
    special : mapping
        Rows that are not those of the field's own description.

    Returns
    -------
    list of Row
    """
    found = []
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        if not field.description or value is None:
            continue
        if name in special:
            row = special[name](value)
        else:
            unit = field_unit(name, field.json_schema_extra)
            label = field.description.removesuffix(f", {unit}").split(";")[0]
            row = label, f"{plain(value)} {unit}".rstrip()
        if row is not None:
            found.append(row)
    return found


def plain(value: Any) -> str:
    """A value as it was typed: ten digits hold all that a record can mean, and hide the rounding of sums."""
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def in_mm(label: str) -> Callable[[Any], Row]:
    """A row for a length (mm) with this label."""
    return lambda value: (label, f"{plain(value)} mm")


def left_out(value: Any) -> None:
    """No row."""
