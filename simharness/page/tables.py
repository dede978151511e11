"""Whole tables of a record that come and go: what a new one holds, so that the record stays an antenna.

Every function takes the data of a record as in its file, and the record that was valid last, and returns
other data.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from simharness.errors import InputError
from simharness.page import rows
from simharness.page.companions import POLE_MM, half_wave_mm, pair_distance_mm
from simharness.page.problems import row_tables, rows_in
from simharness.records.mending.parts import Screw
from simharness.records.mending.screws import screw_problems

if TYPE_CHECKING:
    from simharness.records import Record

Data = dict[str, Any]

_BOARD = {"permittivity": 4.4, "loss_tangent": 0.02}
"""Glass epoxy (common practice)."""
_SHEET = {"material": "PVC", "thickness_mm": 2.0}
"""Sheet that is to be had everywhere."""
_SCREW_MM = 4.0
"""Of a screw to be had everywhere."""
_TAPE_MM = 1.0
"""A first bit of tape: little, but more than what the field reaches under it."""


def with_table(data: Data, record: Record, name: str, wanted: bool) -> Data:
    """The data with a table of `STARTS`, as it begins, or without it."""
    *above, last = name.split(".")
    table = data if not above else data.get(above[0], {})
    left = {key: value for key, value in table.items() if key != last}
    changed = left | (STARTS[name](record) if wanted else {})
    return changed if not above else data | {above[0]: changed}


def _laminate(record: Record) -> Data:
    return {"laminate": dict(_BOARD), "make": "folded"}


def _cover(record: Record) -> Data:
    return {"cover": _SHEET | ({"face": "both"} if record.two_faced else {})}


def _mast(record: Record) -> Data:
    """A pole behind, half a wavelength from the antenna and what sticks out of its back."""
    behind = record.feed.behind_mm if record.feed.coax_wall == "back" else 0.0
    return {"mast": {"diameter_mm": POLE_MM, "distance_mm": math.ceil(behind + half_wave_mm(record))}}


def _pair(record: Record) -> Data:
    return {"pair": {"place": "beside", "distance_mm": pair_distance_mm(record, "beside")}}


def _wings(record: Record) -> Data:
    """Flanges a quarter of a wavelength wide, folded where there is sheet to fold."""
    tube = {"join": "soldered"} if record.guide.make == "tube" else {}
    return {"wings": {"width_mm": float(round(half_wave_mm(record) / 2))} | tube}


STARTS: dict[str, Callable[[Record], Data]] = {
    "guide.laminate": _laminate,
    "cover": _cover,
    "wings": _wings,
    "mast": _mast,
    "pair": _pair,
}
"""What is added for a table that a record may have once, by its dotted name, the table itself included."""


def with_row(data: Data, record: Record, name: str) -> Data:
    """The data with one more table of those that stand in a row."""
    if name == "slot":
        return rows.with_slot(data, record)
    _require_rows(name)
    return data | {name: [*(data[name] if rows_in(data, name) else ()), ROW_STARTS[name](data, record)]}


def without_row(data: Data, record: Record, name: str, number: int) -> Data:
    """The data without the table of this number, from 1 as listed.

    Raises
    ------
    InputError
        There is no such table.
    """
    if name == "slot":
        return rows.without_slot(data, number, record)
    _require_rows(name)
    count = rows_in(data, name)
    if not 1 <= number <= count:
        raise InputError(name, number, f"there are {count}" if count else "there is none")
    left = [*data[name][: number - 1], *data[name][number:]]
    kept = {key: value for key, value in data.items() if key != name}
    return data | {name: left} if left else kept


def _require_rows(name: str) -> None:
    if name not in ROW_STARTS:
        raise InputError("table", name, f"must be {' or '.join(row_tables())}")


def _tape(data: Data, record: Record) -> Data:
    """Tape on the first end that has none."""
    there = [row for row in data.get("tape", ()) if isinstance(row, dict)] if rows_in(data, "tape") else []
    ends = (
        {"slot": number, "end": end}
        for number, slot in enumerate(record.slots, 1)
        for end in ("near", "far")
        if not slot.off_grid and all((row.get("slot"), row.get("end")) != (number, end) for row in there)
    )
    return next(ends, {"slot": 1, "end": "near"}) | {"covers_mm": _TAPE_MM}


def _screw(data: Data, record: Record) -> Data:
    """A screw a tenth of the height deep, on the centre line, where none is yet."""
    there = [row for row in data.get("screw", ()) if isinstance(row, dict)] if rows_in(data, "screw") else []
    taken = [row.get("position_mm") for row in there]
    guide = record.guide
    size = min(_SCREW_MM, math.floor(guide.width_mm / 4))
    for share in range(95, 5, -5):
        position = round(guide.length_mm * share / 100, 1)
        row = {"position_mm": position, "diameter_mm": size, "depth_mm": round(guide.height_mm / 10, 1)}
        screw = Screw.model_validate(row)
        free = all(not isinstance(at, float | int) or abs(at - position) > 2 * size for at in taken)
        if free and not any(screw_problems(guide, record.feed, record.slots, [screw])):
            return row
    return {"position_mm": guide.length_mm / 2, "diameter_mm": size, "depth_mm": 1.0}


ROW_STARTS: dict[str, Callable[[Data, Record], Data]] = {"tape": _tape, "screw": _screw}
"""What is added for a table of which a record may have several, besides its slots."""
