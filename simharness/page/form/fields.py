"""The fields of one record for a form, made from the schema of records: names, units, ranges, help."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from simharness.page.form.labels import (
    COAX,
    FLAGS,
    LABELS,
    NOT_FOR_PORT,
    NOT_FOR_ROUND,
    ONLY_WITH,
    ROWS,
    SECTIONS,
    step_of,
)
from simharness.page.problems import row_tables, rows_in, table_fields, tables_of, value_at

if TYPE_CHECKING:
    from simharness.records.parts import Part

_LONG = 500
"""Characters from which a text has several lines."""
_WORDS = {"boolean": "flag", "number": "number", "integer": "number"}


@dataclass(frozen=True)
class Field:
    """One field of a record, as a form shows it.

    Attributes
    ----------
    name : str
        Dotted, as in `simharness.changed`.
    label : str
    kind : str
        "number", "choice", "flag", "text" or "lines".
    unit : str
        "" for none.
    low, high : float or None
        Bounds of the schema, in the unit; they may be open.
    step : float
        For one press of an arrow key.
    choices : tuple of str
    required : bool
    default : object
        What holds where the field is left out; None for nothing.
    help : str
        The description in the schema, and what is allowed.
    sketch : str
        Id of its sketch; "" for none.
    """

    name: str
    label: str
    kind: str
    unit: str
    low: float | None
    high: float | None
    step: float
    choices: tuple[str, ...]
    required: bool
    default: object
    help: str
    sketch: str

    @property
    def last(self) -> str:
        """The name within its table."""
        return self.name.rpartition(".")[2]


@dataclass(frozen=True)
class Section:
    """Fields that stand together.

    Attributes
    ----------
    key : str
        The table of the record.
    title : str
    fields : tuple of Field
    rows : int or None
        Number of slots or pieces of tape, in a table with a row for each: `fields` are its columns, those of
        the first. None for what is no such table.
    noun, adds : str
        What one row is called, and the words for one more.
    """

    key: str
    title: str
    fields: tuple[Field, ...]
    rows: int | None = None
    noun: str = ""
    adds: str = ""

    def row(self, number: int) -> tuple[Field, ...]:
        """The fields of one row, counted from 1."""
        return tuple(replace(field, name=f"{self.key}.{number}.{field.last}") for field in self.fields)


def form_sections(data: Mapping[str, Any]) -> tuple[Section, ...]:
    """The sections of a form for the data of a record, as in its file; what has no meaning there is left out.

    Parameters
    ----------
    data : mapping
        With refused values too.
    """
    tables = tables_of(data)
    found = []
    for where, title in SECTIONS.items():
        if where in row_tables():
            rows = rows_in(data, where)
            if rows or ("slot_rule" not in data if where == "slot" else _offered(data, where)):
                found.append(Section(where, title, tuple(_columns(data, tables, where)), rows, *ROWS[where]))
        elif where in tables:
            found.append(Section(where, title, tuple(_table(data, where, tables[where]))))
    return tuple(found)


def _offered(data: Mapping[str, Any], name: str) -> bool:
    """Whether a table is there, or may be."""
    return value_at(data, name) is not None or not (
        (name in NOT_FOR_ROUND and value_at(data, "guide.shape") == "round")
        or (name in NOT_FOR_PORT and value_at(data, "feed.kind") == "guide-port")
    )


def values(data: Mapping[str, Any], sections: tuple[Section, ...]) -> dict[str, Any]:
    """What each field of the sections shows: what is written, or what holds without."""
    found: dict[str, Any] = {}
    for section in sections:
        if section.rows is None:
            for field in section.fields:
                value = value_at(data, field.name)
                found[field.name] = field.default if value is None else value
        else:
            for i in range(section.rows):
                row = value_at(data, f"{section.key}.{i + 1}")
                for field in section.fields:
                    value = row.get(field.last) if isinstance(row, Mapping) else None
                    found[f"{section.key}.{i + 1}.{field.last}"] = field.default if value is None else value
    for flag in FLAGS:
        if flag in found:
            found[flag] = value_at(data, flag) is not None
    return found


def _table(data: Mapping[str, Any], where: str, table: type[Part]) -> Iterator[Field]:
    for last in table_names(table):
        if _has_meaning(data, where, where, table, last):
            yield table_field(table, where, last)
    for name in FLAGS:
        if (name.rpartition(".")[0] or "mounting") == where and _offered(data, name):
            yield _flag(name)


def _columns(data: Mapping[str, Any], tables: Mapping[str, type[Part]], where: str) -> Iterator[Field]:
    """Columns that mean something for one row at least."""
    rows = rows_in(data, where)
    if not rows:
        return
    table = tables[f"{where}.1"]
    round_tube = value_at(data, "guide.shape") == "round"
    for last in table_names(table):
        if round_tube and last in ("face", "shape"):
            continue
        if any(_has_meaning(data, f"{where}.{i + 1}", where, table, last) for i in range(rows)):
            yield table_field(table, f"{where}.1", last)


def _has_meaning(data: Mapping[str, Any], where: str, kind: str, table: type[Part], last: str) -> bool:
    """Whether a field counts beside the others; one that is written, and not for nothing, counts."""
    if f"{kind}.{last}" not in ONLY_WITH:
        return True
    if value_at(data, f"{where}.{last}") not in (None, _schema(table)["properties"][last].get("default")):
        return True
    other, allowed = ONLY_WITH[f"{kind}.{last}"]
    value = value_at(data, f"{where}.{other}")
    return (_schema(table)["properties"][other].get("default") if value is None else value) in allowed


@cache
def table_names(table: type[Part]) -> tuple[str, ...]:
    """Names of the fields of a table: what tells tables of several kinds apart, what is marked, the coax."""
    names = [name for name in table_fields(table) if name != "schema"]
    first = [name for name in names if (table.__name__, name) in _SIBLINGS]
    behind = [name for name in names if name in COAX and name not in first]
    return (*first, *(name for name in names if name not in (*first, *behind)), *behind)


@cache
def table_field(table: type[Part], where: str, last: str) -> Field:
    """A field of a table of the record, under its dotted name."""
    from simharness.records.documentation import allowed_text
    from simharness.records.parts import field_unit

    schema = _schema(table)
    node = schema["properties"][last]
    plain = next((choice for choice in node.get("anyOf", ()) if choice.get("type") != "null"), node)
    choices = _choices(table, last, plain)
    kind = "choice" if choices else _WORDS.get(plain.get("type", ""), "text")
    if kind == "text" and plain.get("maxLength", 0) > _LONG:
        kind = "lines"
    allowed = allowed_text(node) if kind in ("number", "text", "lines") else ""
    meaning = node.get("description", "")
    return Field(
        name=f"{where}.{last}" if where else last,
        label=LABELS[table.__name__].get(last, last.replace("_", " ")),
        kind=kind,
        unit=field_unit(last, node),
        low=plain.get("minimum", plain.get("exclusiveMinimum")),
        high=plain.get("maximum", plain.get("exclusiveMaximum")),
        step=step_of(last),
        choices=choices,
        required=last in schema.get("required", ()),
        default=node.get("default"),
        help="; ".join(text for text in (meaning, allowed and f"allowed: {allowed}") if text),
        sketch=f"{table.__name__}.{last}" if kind == "number" else "",
    )


@cache
def _schema(table: type[Part]) -> dict[str, Any]:
    return table.model_json_schema(by_alias=True)


def _choices(table: type[Part], last: str, node: Mapping[str, Any]) -> tuple[str, ...]:
    """Words that a field may hold; those of the other tables too where the field tells tables apart."""
    if (table.__name__, last) in _SIBLINGS:
        return _SIBLINGS[table.__name__, last]
    return tuple(node.get("enum", ()))


_FEEDS, _SHAPES = ("probe", "bent-probe", "guide-port"), ("rectangular", "round")
_SIBLINGS: dict[tuple[str, str], tuple[str, ...]] = {
    **{(name, "kind"): _FEEDS for name in ("Probe", "BentProbe", "GuidePort")},
    **{(name, "shape"): _SHAPES for name in ("RectangularGuide", "RoundGuide")},
}


@cache
def _flag(name: str) -> Field:
    """Whether the record has a table that it may have once; see `simharness.page.tables`."""
    label, told = FLAGS[name]
    return Field(
        name=name,
        label=label,
        kind="flag",
        unit="",
        low=None,
        high=None,
        step=1.0,
        choices=(),
        required=False,
        default=False,
        help=told,
        sketch="",
    )
