"""Value and limits of a field of a record, from the schema and from what can make sense."""

from __future__ import annotations

import math
from typing import Any

from simharness.records import Record


def limits(record: Record, name: str, bounds: tuple[float, float], step: float) -> tuple[float, float, float]:
    """Value, lowest and highest of a field by its dotted name, slots counted from 1.

    Where the schema excludes a limit itself, the next multiple of `step` is the limit.

    Examples
    --------
    >>> from simharness.records import read_record
    >>> limits(read_record("models/five-slot-2g45.toml"), "feed.height_mm", (0.0, 45.0), 0.1)
    (26.0, 0.2, 45.0)
    """
    table, last = _table(record, name)
    lowest, highest = bounds
    for limit in type(table).model_fields[last].metadata:
        at = {kind: getattr(limit, kind, None) for kind in ("ge", "gt", "le", "lt")}
        if at["ge"] is not None:
            lowest = max(lowest, at["ge"])
        if at["gt"] is not None:
            lowest = max(lowest, round((math.floor(at["gt"] / step + 1e-9) + 1) * step, 9))
        if at["le"] is not None:
            highest = min(highest, at["le"])
        if at["lt"] is not None:
            highest = min(highest, round((math.ceil(at["lt"] / step - 1e-9) - 1) * step, 9))
    value = float(getattr(table, last))
    return value, float(min(lowest, value)), float(max(highest, value))


def _table(record: Record, name: str) -> tuple[Any, str]:
    """The table of a record that holds a field, and the field's own name."""
    *tables, last = name.split(".")
    found: Any = record
    for part in tables:
        found = found[int(part) - 1] if part.isdecimal() else getattr(found, part)
    return found, last
