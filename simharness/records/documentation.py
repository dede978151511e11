"""The tables of fields on the page about design records, from the record itself.

``python -m simharness.records.documentation models/README.md`` writes them anew.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from simharness.files import atomic_write_text
from simharness.records.cover import Cover
from simharness.records.feeds import BentProbe, GuidePort, Probe
from simharness.records.guide import Laminate, RectangularGuide, RoundGuide
from simharness.records.mast import Mast, Pair, Wings
from simharness.records.mending.parts import Screw, Tape
from simharness.records.parts import Band, Mounting, Part, field_unit
from simharness.records.record import NAME_PATTERN, Record
from simharness.records.slots import Slot, SlotRule

HEADINGS: Mapping[str, type[Part]] = {
    "Top of the file": Record,
    "`[band]`": Band,
    "`[mounting]`": Mounting,
    '`[guide], shape = "rectangular"`': RectangularGuide,
    '`[guide], shape = "round"`': RoundGuide,
    "`[guide.laminate]`": Laminate,
    "`[slot_rule]`": SlotRule,
    "`[[slot]]`": Slot,
    "`[[tape]]`": Tape,
    "`[[screw]]`": Screw,
    '`[feed], kind = "probe"`': Probe,
    '`[feed], kind = "bent-probe"`': BentProbe,
    '`[feed], kind = "guide-port"`': GuidePort,
    "`[mast]`": Mast,
    "`[pair]`": Pair,
    "`[cover]`": Cover,
    "`[wings]`": Wings,
}
"""Sections of the page and the table of a record that each is about."""

_HEAD = "| field | unit | allowed | if left out | meaning |"
_PATTERNS = {NAME_PATTERN: "a-z, 0-9 and hyphens, at most 48, no hyphen first"}
_LIMITS = {"exclusiveMinimum": ">", "minimum": ">=", "exclusiveMaximum": "<", "maximum": "<="}


def field_table(table: type[Part]) -> list[str]:
    """Lines of the table of fields of one table of a record: name, unit, range, default, meaning."""
    schema = table.model_json_schema(by_alias=True)
    required = schema.get("required", [])
    return [_HEAD, "|---|---|---|---|---|", *_rows(schema["properties"], required)]


def _rows(properties: Mapping[str, Any], required: list[str]) -> Iterator[str]:
    for name, node in properties.items():
        if "$ref" in json.dumps(node):
            continue
        meaning = node.get("description", "").replace("|", "\\|")
        left_out = "required" if name in required else _default(node.get("default"))
        unit = field_unit(name, node) or "-"
        yield f"| `{name}` | {unit} | {allowed_text(node)} | {left_out} | {meaning} |"


def _default(value: object) -> str:
    return "none" if value in (None, "", []) else f"`{json.dumps(value)}`"


def allowed_text(node: Mapping[str, Any]) -> str:
    """Range or choices of a field."""
    node = next((choice for choice in node.get("anyOf", ()) if choice.get("type") != "null"), node)
    if "pattern" in node:
        return _PATTERNS[node["pattern"]]
    if "const" in node:
        return f"`{json.dumps(node['const'])}`"
    if "enum" in node:
        return ", ".join(f"`{json.dumps(value)}`" for value in node["enum"])
    if node.get("type") == "boolean":
        return "`true`, `false`"
    limits = [f"{sign} {node[key]:g}" for key, sign in _LIMITS.items() if key in node]
    if "maxLength" in node:
        limits.append(f"at most {node['maxLength']} characters")
    return ", ".join(limits)


def with_field_tables(page: str) -> str:
    """The page with the table of fields of every section written anew; nothing else changes.

    Raises
    ------
    ValueError
        A section or its table is missing.
    """
    for heading, table in HEADINGS.items():
        section = re.compile(
            rf"(^### {re.escape(heading)}\n(?:(?!^###? ).*\n)*?){re.escape(_HEAD)}\n(?:\|.*\n)*", re.MULTILINE
        )
        found = section.search(page)
        if found is None:
            raise ValueError(f"the page has no table of fields under '{heading}'")
        lines = "\n".join(field_table(table))
        page = f"{page[: found.start()]}{found[1]}{lines}\n{page[found.end() :]}"
    return page


if __name__ == "__main__":
    for name in sys.argv[1:]:
        atomic_write_text(Path(name), with_field_tables(Path(name).read_text(encoding="utf-8")))
