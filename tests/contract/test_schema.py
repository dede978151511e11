"""The schema file, the shipped records and the table of fields agree with the record itself."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from each_case import each_case

from simharness.records import (
    Band,
    BentProbe,
    Cover,
    GuidePort,
    Laminate,
    Mounting,
    Probe,
    Record,
    RectangularGuide,
    RoundGuide,
    Slot,
    SlotRule,
    read_record,
    record_schema,
)
from simharness.records.documentation import with_field_tables

MODELS = Path(__file__).parents[2] / "models"
RECORDS = sorted(MODELS.glob("*.toml"))
TABLES = {
    "": Record,
    "[band]": Band,
    "[mounting]": Mounting,
    "[slot_rule]": SlotRule,
    "[[slot]]": Slot,
    '[guide], shape = "rectangular"': RectangularGuide,
    '[guide], shape = "round"': RoundGuide,
    "[guide.laminate]": Laminate,
    '[feed], kind = "probe"': Probe,
    '[feed], kind = "bent-probe"': BentProbe,
    '[feed], kind = "guide-port"': GuidePort,
    "[cover]": Cover,
}


def test_schema_file_is_current():
    """`simharness schema > models/record.schema.json` makes it anew."""
    assert json.loads((MODELS / "record.schema.json").read_text(encoding="utf-8")) == record_schema()


def test_there_are_records():
    assert RECORDS


@each_case("path", RECORDS, ids=lambda p: p.stem)
def test_shipped_record(path):
    record = read_record(path)
    assert record.name == path.stem
    assert "nvented" in record.note, "demonstration data says that it is invented"
    assert path.read_text(encoding="utf-8").startswith("#:schema ./record.schema.json\n")


def allowed(node: dict) -> str:
    """Range or choices of a field of the schema, as the table in models/README.md writes them."""
    node = next((n for n in node.get("anyOf", ()) if n.get("type") != "null"), node)
    if "const" in node:
        return f"`{json.dumps(node['const'])}`"
    if "enum" in node:
        return ", ".join(f"`{json.dumps(value)}`" for value in node["enum"])
    if node.get("type") == "boolean":
        return "`true`, `false`"
    limits = [
        f"{sign} {node[key]:g}"
        for key, sign in (
            ("exclusiveMinimum", ">"),
            ("minimum", ">="),
            ("exclusiveMaximum", "<"),
            ("maximum", "<="),
        )
        if key in node
    ]
    if "maxLength" in node:
        limits.append(f"at most {node['maxLength']} characters")
    return ", ".join(limits)


def default(name: str, node: dict, required: list[str]) -> str:
    """What stands for a field that is left out."""
    if name in required:
        return "required"
    return "none" if node.get("default") in (None, "", []) else f"`{json.dumps(node['default'])}`"


def documented() -> dict[str, dict[str, list[str]]]:
    """Rows of models/README.md: heading -> field -> cells."""
    found: dict[str, dict[str, list[str]]] = {}
    heading = None
    for line in (MODELS / "README.md").read_text(encoding="utf-8").splitlines():
        if match := re.match(r"### (?:`(.+)`|Top of the file)$", line):
            heading = match[1] or ""
        elif (match := re.match(r"\| `(\w+)` \|", line)) and heading is not None:
            found.setdefault(heading, {})[match[1]] = [cell.strip() for cell in line.strip("|").split(" | ")]
    return found


def test_tables_of_fields_are_current():
    """`python -m simharness.records.documentation models/README.md` writes them anew."""
    page = (MODELS / "README.md").read_text(encoding="utf-8")
    assert with_field_tables(page) == page


def test_a_page_without_a_table_is_refused():
    with pytest.raises(ValueError, match="no table of fields under 'Top of the file'"):
        with_field_tables("# Design records\n")


@each_case("heading", TABLES)
def test_table_of_fields(heading):
    """Same fields, units, ranges and defaults as the record: the page cannot grow stale."""
    schema = TABLES[heading].model_json_schema(by_alias=True)
    rows = documented().get(heading, {})
    simple = {name: node for name, node in schema["properties"].items() if not _is_table(node)}
    assert list(rows) == list(simple)
    for name, node in simple.items():
        _, unit, limits, missing, meaning = rows[name]
        assert unit == _unit(name, node), name
        if "pattern" not in node:
            assert limits == allowed(node), name
        assert missing == default(name, node, schema.get("required", [])), name
        assert meaning


def _is_table(node: dict) -> bool:
    return "$ref" in json.dumps(node)


def _unit(name: str, node: dict) -> str:
    found = node.get("unit") or {"ghz": "GHz", "db": "dB", "m": "S/m" if "_s_per_m" in name else ""}.get(
        name.split("_")[-1], ""
    )
    return found or "-"
