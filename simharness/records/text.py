"""A design record as plain data, and as the text of a TOML file."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from simharness.records import Record


def plain_data(record: Record, rule: bool = True) -> dict[str, Any]:
    """The data of a record as `simharness.records.parse_record` takes it, to be changed freely.

    Without `rule`, every slot stands by itself. The rise of a soldered tip is left out: it follows the guide.
    """
    data = record.model_dump(by_alias=True, exclude_none=True)
    if rule and record.slot_rule is not None:
        data.pop("slot", None)
    else:
        data.pop("slot_rule", None)
        data["slot"] = [
            slot.model_dump(exclude_none=True) for slot in (record.slots if record.slot_rule else record.slot)
        ]
    if data["feed"].get("tip") == "soldered":
        data["feed"].pop("rise_mm", None)
    return data


def record_text(record: Record, heading: str = "") -> str:
    """TOML that `simharness.records.read_record` reads back to an equal record.

    Parameters
    ----------
    record : Record
    heading : str
        Goes on top as a comment, line by line.
    """
    data = record.model_dump(by_alias=True, exclude_none=True)
    comment = [f"# {line}".rstrip() for line in heading.splitlines()]
    return "\n".join([*comment, "", *_lines(data)]).lstrip("\n") + "\n"


def _lines(data: Mapping[str, Any], within: str = "") -> Iterator[str]:
    """Plain fields first, then the tables: a field behind a table would belong to the table."""
    tables = {key: value for key, value in data.items() if isinstance(value, (Mapping, tuple, list))}
    yield from _fields({key: value for key, value in data.items() if key not in tables})
    for key, value in tables.items():
        several = isinstance(value, (tuple, list))
        for table in value if isinstance(value, (tuple, list)) else [value]:
            yield ""
            yield f"[[{within}{key}]]" if several else f"[{within}{key}]"
            yield from _lines(table, f"{within}{key}.")


def _fields(table: Mapping[str, Any]) -> Iterator[str]:
    for key, value in table.items():
        if value != "":
            yield f"{key} = {_value(value)}"


def _value(value: Any) -> str:
    """Numbers, truth values and strings, which TOML and JSON write alike but for one character."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
