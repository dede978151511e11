"""Readings of caliper and rule: the file that a hand fills in, and what it says of a record."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError
from simharness.files import input_text
from simharness.hints import meant_word
from simharness.records import Record, parse_record
from simharness.records.text import plain_data
from simharness.workshop.dimensions import Dimension, dimensions, explicit_slots, tool_covariance

MAX_BYTES = 100_000
"""Largest file of readings; that of 40 slots in both walls has a tenth of it."""

CALIPER_MM, RULE_MM = 0.1, 0.5
"""What caliper and steel rule are right within in 95 of 100 cases, mm (common practice, no source): a caliper
on edges with burrs, a rule read to half its divisions."""

CALIPER_REACH_MM = 150.0
"""Longest dimension that is read with a caliper (common practice: the usual size), mm."""

MOST_OFF = 0.1
"""Of a free-space wavelength: a reading farther from what is drawn is taken for a slip."""

COLUMNS = ("number", "dimension", "drawn_mm", "read_mm", "within_mm")


@dataclass(frozen=True)
class Reading:
    """What was read of one dimension.

    Attributes
    ----------
    dimension : Dimension
    read : float or None
        mm; None where it was not read.
    within : float
        What it is right within in 95 of 100 cases, mm: of the instrument, or of the tools where it was not
        read.
    """

    dimension: Dimension
    read: float | None
    within: float

    @property
    def amount(self) -> float:
        """How far it is from what is drawn, mm."""
        return 0.0 if self.read is None else self.read - self.dimension.drawn


@dataclass(frozen=True)
class Readings:
    """All readings of an antenna.

    Attributes
    ----------
    record : Record
        As drawn, every slot by itself.
    rows : tuple of Reading
        One for each of its dimensions.
    tools : str
        What made the dimensions that were not read: "hand" or "mill".
    """

    record: Record
    rows: tuple[Reading, ...]
    tools: str

    @property
    def amounts(self) -> NDArray:
        """How far each dimension is from what is drawn (n,), mm."""
        return np.array([row.amount for row in self.rows])

    @property
    def covariance(self) -> NDArray:
        """Of the amounts (n, n), mm^2."""
        found = tool_covariance(tuple(row.dimension for row in self.rows), self.tools)
        for number, row in enumerate(self.rows):
            if row.read is not None:
                found[number], found[:, number] = 0.0, 0.0
                found[number, number] = (0.5 * row.within) ** 2
        return found

    @property
    def read(self) -> tuple[Reading, ...]:
        """Those that were read."""
        return tuple(row for row in self.rows if row.read is not None)

    def built(self, amounts: NDArray | None = None) -> Record:
        """The record as it was read, or with other amounts (n,) in mm.

        Raises
        ------
        InputError
            No such antenna exists.
        """
        record = changed_by(self.record, self.rows, self.amounts if amounts is None else amounts)
        return record.model_copy(update={"name": f"{record.name[:41].strip('-')}-built"})


def changed_by(record: Record, rows: tuple[Reading, ...], amounts: NDArray) -> Record:
    """A record with every dimension off by its amount (n,), mm, all at once: on the way from one to the next
    there may be no such antenna.
    """
    data = plain_data(record, rule=False)
    for row, amount in zip(rows, amounts, strict=True):
        if amount:
            row.dimension.deviation.change(data, float(amount))
    return parse_record(_rounded(data), f"{record.name} as read")


def _rounded(data: dict) -> dict:
    """Lengths without the noise of sums, mm."""
    for table in (data["guide"], data["feed"], *data["slot"]):
        for name, value in table.items():
            if name.endswith("_mm") and isinstance(value, float):
                table[name] = round(value, 6)
    return data


def without_readings(record: Record, tools: str = "hand") -> Readings:
    """Nothing was read: everything is as drawn, within the errors of the tools.

    Raises
    ------
    InputError
        Unknown tools, or a record without slots.
    """
    if not record.slots:
        raise InputError("slot", 0, "there must be at least one slot to read")
    found = dimensions(record)
    spread = 2 * np.sqrt(np.diag(tool_covariance(found, tools)))
    rows = tuple(Reading(one, None, float(within)) for one, within in zip(found, spread))
    return Readings(explicit_slots(record), rows, tools)


def usual_within(dimension: Dimension, caliper_mm: float = CALIPER_MM, rule_mm: float = RULE_MM) -> float:
    """What the instrument for a dimension is right within, mm: a caliper up to its reach, then a rule."""
    return caliper_mm if dimension.drawn <= CALIPER_REACH_MM else rule_mm


def read_readings(
    path: Path | str,
    record: Record,
    *,
    tools: str = "hand",
    caliper_mm: float = CALIPER_MM,
    rule_mm: float = RULE_MM,
) -> Readings:
    """Read a table of readings of an antenna; see `simharness.workshop.form` for an empty one.

    Columns are separated by comma, semicolon or tab; with the latter two, a comma is a decimal comma. Rows
    may stand in any order, and may be left out. Lines that begin with `#` say nothing.

    Parameters
    ----------
    path : Path or str
    record : Record
        As drawn.
    tools : str
        What made the dimensions that were not read: "hand" or "mill".
    caliper_mm, rule_mm : float
        What the instruments are right within in 95 of 100 cases, where the row does not say.

    Raises
    ------
    InputError
        The file is missing, is no such table, is of another record, or holds a reading that cannot be.
    """
    text = input_text("readings", path, MAX_BYTES)
    return parsed_readings(text, path, record, tools=tools, caliper_mm=caliper_mm, rule_mm=rule_mm)


def parsed_readings(
    text: str,
    path: Path | str,
    record: Record,
    *,
    tools: str = "hand",
    caliper_mm: float = CALIPER_MM,
    rule_mm: float = RULE_MM,
) -> Readings:
    """The same of the text of a table; `path` is what it is called."""
    start = without_readings(record, tools)
    known = {row.dimension.name: row for row in start.rows}
    found: dict[str, Reading] = {}
    for number, cells in _table(text, path):
        place = f"{path}, line {number}"
        row = known.get(name := cells["dimension"].lower())
        if row is None:
            allowed = f"must be a dimension of {record.name}, as 'slot 1 length'"
            raise InputError(f"{place}, dimension", name, allowed + meant_word(name, known))
        if name in found:
            raise InputError(f"{place}, dimension", name, "stands there twice; keep one of them")
        found[name] = judged_reading(place, cells, row.dimension, record, caliper_mm, rule_mm) or row
    if not any(row.read is not None for row in found.values()):
        raise InputError("readings", path, "must hold at least one number in the column read_mm")
    rows = tuple(found.get(row.dimension.name, row) for row in start.rows)
    return replace(start, rows=rows)


def judged_reading(
    place: str,
    cells: Mapping[str, str],
    dimension: Dimension,
    record: Record,
    caliper_mm: float = CALIPER_MM,
    rule_mm: float = RULE_MM,
) -> Reading | None:
    """What one row says by the names of its columns; None where nothing was read.

    Raises
    ------
    InputError
        A cell holds no number, or none that can be; `place` is where it stands.
    """
    drawn = _number(place, "drawn_mm", cells["drawn_mm"])
    if drawn is not None and abs(drawn - dimension.drawn) > 0.0051:
        allowed = (
            f"{dimension.name} is drawn {dimension.drawn:g} in {record.name}: these are readings of another"
        )
        raise InputError(
            f"{place}, drawn_mm", cells["drawn_mm"], f"{allowed} record, or it has changed since"
        )
    read = _number(place, "read_mm", cells["read_mm"])
    within = _number(place, "within_mm", cells["within_mm"])
    if within is not None and not 0.001 <= within <= 5:
        raise InputError(f"{place}, within_mm", cells["within_mm"], "must be from 0.001 to 5")
    if read is None:
        return None
    if dimension.name.endswith(" offset"):
        read = abs(read)  # which side it lies on can be seen, and is not measured
    most = MOST_OFF * 2.998e2 / record.band.centre_ghz
    low, high = max(dimension.drawn - most, 0.01), dimension.drawn + most
    if dimension.name.endswith(" offset"):
        low = 0.0
    if not low <= read <= high:
        allowed = (
            f"must be from {max(low, 0):.1f} to {high:.1f}: {dimension.name} is drawn {dimension.drawn:g}"
        )
        raise InputError(f"{place}, read_mm", cells["read_mm"], allowed)
    usual = usual_within(dimension, caliper_mm, rule_mm)
    return Reading(dimension, read, usual if within is None else within)


def _number(place: str, column: str, text: str) -> float | None:
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(f"{place}, {column}", text[:40], "must be a number of mm, or left blank")
    return value


def _table(text: str, path: Path | str) -> Iterator[tuple[int, dict[str, str]]]:
    """Rows with the numbers of their lines, cells by the names of their columns."""
    lines = [
        (n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip() and line.lstrip()[0] != "#"
    ]
    heading = lines[0][1] if lines else ""
    mark = next((mark for mark in (";", "\t") if mark in heading), ",")
    columns = [cell.strip().lower() for cell in heading.split(mark)]
    if "dimension" not in columns or "read_mm" not in columns or not set(columns) - {""} <= set(COLUMNS):
        allowed = f"must be headed by {', '.join(COLUMNS)}; 'simharness built RECORD --form FILE' writes"
        raise InputError(f"{path}, first line", heading.strip()[:60] or "(none)", allowed + " an empty one")
    for number, line in lines[1:]:
        cells = next(csv.reader(io.StringIO(line), delimiter=mark))
        cells = [cell.strip() if mark == "," else cell.strip().replace(",", ".") for cell in cells]
        if len(cells) > len(columns) and any(cells[len(columns) :]):
            hint = "one cell for each column; a decimal comma needs semicolons between the cells"
            raise InputError(f"{path}, line {number}", line.strip()[:40], f"must have {hint}")
        row = dict.fromkeys(COLUMNS, "") | dict(zip(columns, cells))
        if any(row.values()):
            yield number, row
