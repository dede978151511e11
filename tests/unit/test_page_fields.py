"""The fields of a form against the schema of records, and a sketch beside each."""

from __future__ import annotations

import dataclasses
import re
import xml.etree.ElementTree as ET

import pytest
from shaped_records import SHIPPED, two_port

import simharness
from simharness.design.requirements import Requirements
from simharness.page.form.fields import (
    Field,
    Section,
    form_sections,
    table_field,
    table_names,
    values,
)
from simharness.page.form.labels import FLAGS, LABELS, MARKED_MM, ONLY_WITH, ROWS, SECTIONS
from simharness.page.form.sketches import SKETCHES, sketch
from simharness.page.problems import known_fields, optional_tables, row_tables
from simharness.page.tables import ROW_STARTS, STARTS
from simharness.records.documentation import HEADINGS
from simharness.records.text import plain_data

TABLES = {table.__name__: table for table in HEADINGS.values()}


def fields_of(data) -> list[Field]:
    """All fields that a form has for the data, slots one by one."""
    found: list[Field] = []
    for section in form_sections(data):
        found += section.fields if section.rows is None else rows(section)
    return found


def rows(section: Section) -> list[Field]:
    return [field for i in range(section.rows or 0) for field in section.row(i + 1)]


@pytest.mark.parametrize("record", [*SHIPPED.values(), two_port()], ids=[*SHIPPED, "two ports"])
def test_what_a_record_says_has_a_field_that_shows_it(record):
    data = plain_data(record)
    fields = {field.name: field for field in fields_of(data)}
    shown = values(data, form_sections(data))
    assert set(shown) == set(fields)
    hidden = known_fields(data) - set(fields) - {"schema"}
    for name in hidden:  # only what would mean nothing
        table, _, last = name.rpartition(".")
        assert f"{table.split('.')[0]}.{last}" in ONLY_WITH or last in ("face", "shape"), name
    for name, value in shown.items():
        if name not in FLAGS:
            *tables, last = name.split(".")
            part = data
            for step in tables:
                part = part[int(step) - 1] if step.isdecimal() else part[step]
            assert value == part.get(last, fields[name].default)


@pytest.mark.parametrize("record", SHIPPED.values(), ids=SHIPPED)
def test_every_number_of_a_form_can_be_set_by_the_library(record):
    """The names are those of `simharness.changed`: the value that is there changes nothing."""
    data = plain_data(record)
    shown = values(data, form_sections(data))
    for field in fields_of(data):
        if field.kind == "number" and shown[field.name] is not None:
            assert simharness.changed(record, {field.name: shown[field.name]}) == record, field.name


@pytest.mark.parametrize("name", TABLES)
def test_every_field_of_the_schema_is_described(name):
    schema = TABLES[name].model_json_schema(by_alias=True)["properties"]
    for last in table_names(TABLES[name]):
        field, node = table_field(TABLES[name], "", last), schema[last]
        assert last in LABELS[name], "a label in plain words"
        plain = next((kind for kind in node.get("anyOf", ()) if kind.get("type") != "null"), node)
        assert field.help.startswith(node["description"])
        if plain.get("type") in ("number", "integer"):
            assert field.kind == "number"
            for key, bound in (
                ("minimum", field.low),
                ("exclusiveMinimum", field.low),
                ("maximum", field.high),
            ):
                assert key not in plain or plain[key] == bound
            assert field.low is None or field.high is None or 0 < field.step < field.high - field.low
        assert not set(plain.get("enum", ())) - set(field.choices)
        assert field.required == (last in TABLES[name].model_json_schema(by_alias=True)["required"])


def test_nothing_is_labelled_that_no_record_has():
    for name, labels in LABELS.items():
        assert set(labels) <= set(table_names(TABLES[name])), name


def test_every_table_that_may_be_left_out_can_be_added():
    assert set(FLAGS) == set(STARTS) == {*optional_tables(), "guide.laminate"} - {"slot_rule"}
    assert set(ROWS) == set(row_tables()) == {*ROW_STARTS, "slot"}
    assert {*FLAGS, *ROWS} <= set(SECTIONS)


def test_units_and_steps():
    guide, feed = TABLES["RectangularGuide"], TABLES["Probe"]
    assert (table_field(guide, "guide", "a_mm").unit, table_field(guide, "guide", "a_mm").step) == ("mm", 0.1)
    assert table_field(feed, "feed", "wire_diameter_mm").step == 0.01
    assert table_field(TABLES["Band"], "band", "low_ghz").unit == "GHz"
    # A design rounds to the same step, unless it is told another one.
    default = next(f for f in dataclasses.fields(Requirements) if f.name == "step").default
    assert pytest.approx(default * 1e3) == MARKED_MM


@pytest.mark.parametrize("name", TABLES)
def test_every_number_has_a_sketch_and_every_sketch_a_number(name):
    numbers = [table_field(TABLES[name], "", last) for last in table_names(TABLES[name])]
    wanted = {field.sketch for field in numbers if field.kind == "number"}
    assert wanted == {key for key in SKETCHES if key.startswith(f"{name}.")}


@pytest.mark.parametrize("key", SKETCHES)
def test_a_sketch_is_one_drawing_with_one_thing_emphasised(key):
    root = ET.fromstring(sketch(key))
    space = "{http://www.w3.org/2000/svg}"
    table, _, last = key.partition(".")
    assert root.get("viewBox") == "0 0 160 100" and root.find(f"{space}title").text == LABELS[table][last]
    marked = [node for node in root if "--link" in str(node.attrib)]
    assert marked, "what the field is about"
    for node in root:
        numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", node.get("d", ""))]
        assert all(-5 <= n <= 165 for n in numbers)


def test_no_sketch_for_what_is_no_number():
    assert sketch("Slot.ends") == "" and sketch("nothing") == ""
    assert len({sketch(key) for key in SKETCHES}) > len(SKETCHES) / 2


@pytest.mark.parametrize(
    "bad", [{}, {"guide": 3, "feed": [], "slot": "x"}, {"slot": [3, None]}, {"feed": {"kind": []}}]
)
def test_data_that_are_no_record_have_fields_all_the_same(bad):
    assert {"band", "guide", "feed"} <= {section.key for section in form_sections(bad)}
    assert values(bad, form_sections(bad))["feed.kind"] in (None, [])
