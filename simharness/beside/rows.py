"""Figures and fields of two or three sides, a row for each, and whether the sides differ in them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from simharness.beside.side import MEASURED, WORST, Side
from simharness.figures import Figure
from simharness.records import Record
from simharness.records.parts import field_unit
from simharness.records.text import plain_data
from simharness.sweep.points import value_text
from simharness.verdict.agreement import kind_of, size_of
from simharness.verdict.assessment import LABELS

DIFFER, AGREE = "differ", "agree"
_NAMES = {WORST: "worst S11 in the band"} | LABELS
_LEFT_OUT = ("schema", "name", "title", "note")
"""Fields that say what a record is called, and nothing of the antenna."""


@dataclass(frozen=True)
class ComparedFigure:
    """One figure of all sides.

    Attributes
    ----------
    name, label : str
    values : tuple of Figure or None
        One for each side; None where it has no such figure.
    state : str
        `DIFFER` where two sides are further apart than both bars together, `AGREE` where all that can be held
        against each other are not, "" where nothing can be said.
    apart : tuple of (int, int)
        Pairs of sides that differ, by their numbers from 0.
    """

    name: str
    label: str
    values: tuple[Figure | None, ...]
    state: str
    apart: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class ComparedField:
    """A field in which records differ.

    Attributes
    ----------
    name : str
        Dotted, as in the file: ``feed.height_mm``, ``slot.3.length_mm``.
    unit : str
        Of its values; "" where it has none.
    values : tuple of str
        As they are written in a record; "-" where the record has no such field, or the side no record.
    meaning : str
        What the field is, in the words of the record.
    """

    name: str
    unit: str
    values: tuple[str, ...]
    meaning: str = ""


def within_bars(name: str, one: Figure | None, two: Figure | None, sure: int | None = None) -> bool | None:
    """Whether two figures of one name lie within both their bars together; None where nothing can be said.

    Levels of S11 are held against each other as sizes in the complex plane, impedances by their distance.

    Parameters
    ----------
    name : str
    one, two : Figure or None
    sure : int, optional
        1 or 2: that figure is measured, and counts without a bar as `compare` counts it.

    Examples
    --------
    >>> bar = lambda value, error: Figure(value, "dBi", "", error)
    >>> within_bars("realized_gain", bar(12.0, 0.2), bar(12.3, 0.2))
    True
    >>> within_bars("realized_gain", bar(12.0, 0.2), bar(12.5, 0.2))
    False

    -46 and -25 dB are 0.005 and 0.056.

    >>> within_bars("s11_at_resonance", Figure(-46.0, "dB", "", 19.0), Figure(-25.0, "dB", "", 4.6))
    True
    """
    if one is None or two is None or not _is_number(one.value) or not _is_number(two.value):
        return None
    bars = [one.error, two.error]
    if sure is not None:
        bars[sure - 1] = 0.0
    if None in bars:
        return None
    if name == WORST or kind_of(name) == "s11":
        sizes = [size_of(figure) for figure in (one, two)]
        room = sum(size * (10 ** (bar / 20) - 1) for size, bar in zip(sizes, bars) if bar is not None)
        return bool(abs(sizes[0] - sizes[1]) <= room)
    return bool(abs(one.value - two.value) <= sum(bar for bar in bars if bar is not None))


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float, complex)) and not isinstance(value, bool)


def compared_figures(sides: Sequence[Side]) -> tuple[ComparedFigure, ...]:
    """A row for each figure that a side has, in the order in which the commands print them."""
    found = []
    for name, label in _NAMES.items():
        values = tuple(side.figures.get(name) for side in sides)
        if all(value is None or value.value is None for value in values):
            continue
        said = {(i, j): _said(name, sides[i], sides[j]) for i, j in combinations(range(len(sides)), 2)}
        apart = tuple(pair for pair, within in said.items() if within is False)
        state = DIFFER if apart else AGREE if True in said.values() else ""
        found.append(ComparedFigure(name, label, values, state, apart))
    return tuple(found)


def _said(name: str, one: Side, two: Side) -> bool | None:
    """`within_bars` of two sides; nothing where what is measured has no bar to be held against, or where
    impedances refer to different ports."""
    if name == "input_impedance" and at_coax(one) != at_coax(two):
        return None
    measured = [side.kind == MEASURED for side in (one, two)]
    sure = None if sum(measured) != 1 else 1 + measured.index(True)
    return within_bars(name, one.figures.get(name), two.figures.get(name), sure)


def at_coax(side: Side) -> bool:
    """Whether S11 of a side is that at a coax, and not that of a wave in the guide."""
    return side.record is None or side.record.feed.has_coax


def compared_fields(sides: Sequence[Side]) -> tuple[tuple[ComparedField, ...], int]:
    """Rows of the fields in which the records of the sides differ, and how many other fields there are.

    A measurement has none. Slots stand by their rule where all records have one, else each by itself.
    """
    records = [side.record for side in sides]
    known = [record for record in records if record is not None]
    if len(known) < 2:
        return (), 0
    rule = all(record.slot_rule is not None for record in known)
    texts = [None if record is None else _texts(record, rule) for record in records]
    names = list(dict.fromkeys(name for fields in texts if fields is not None for name in fields))
    rows, same = [], 0
    for name in sorted(names, key=_place):
        values = [None if fields is None else fields.get(name, "-") for fields in texts]
        if len({value for value in values if value is not None}) == 1:
            same += 1
            continue
        owner = next(record for record, value in zip(records, values) if value not in (None, "-") and record)
        unit, meaning = _described(owner, name)
        rows.append(ComparedField(name, unit, tuple(value or "-" for value in values), meaning))
    return tuple(rows), same


_TABLES = ("band", "mounting", "guide", "slot_rule", "slot", "feed")


def _place(name: str) -> int:
    """Order of the tables of a record; fields keep theirs within a table, slots their number."""
    table, _, rest = name.partition(".")
    number = int(rest.split(".")[0]) if table == "slot" else 0
    return 10_000 * (_TABLES.index(table) if table in _TABLES else len(_TABLES)) + number


def _texts(record: Record, rule: bool) -> dict[str, str]:
    data = plain_data(record, rule=rule)
    return dict(_flat({key: value for key, value in data.items() if key not in _LEFT_OUT}))


def _flat(table: Mapping[str, Any], within: str = "") -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{within}{key}.")
        elif isinstance(value, (list, tuple)):
            for number, row in enumerate(value, 1):
                yield from _flat(row, f"{within}{key}.{number}.")
        else:
            yield f"{within}{key}", value_text(value)


def _described(record: Record, name: str) -> tuple[str, str]:
    """Unit and meaning of a field of a record by its dotted name."""
    *tables, last = name.split(".")
    part: Any = record
    for table in tables:
        if table.isdecimal():
            part = record.slots[int(table) - 1]
        elif table != "slot":
            part = getattr(part, table)
    found = type(part).model_fields[last]
    unit = field_unit(last, found.json_schema_extra)
    return unit, (found.description or "").removesuffix(f", {unit}").split(";")[0]
