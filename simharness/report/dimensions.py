"""The dimensions of a record as tables, with the words of the record's own fields."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from simharness.records import CoaxFeed, Record
from simharness.sheets.build_list import Section

_SUFFIXES = {"_ghz": "GHz", "_db": "dB", "_s_per_m": "S/m"}
_OWN_WORDS = {"wall": "wall that the probe comes through", "copper": "copper on", "slots": "slots are", "copper_um": "copper",
              "connector": "what sits on the wall", "tip": "tip"}
"""Where the description of a field explains its values, not itself."""
_SLOT_COLUMNS = {"position_mm": "centre from the near end", "offset_mm": "centre from the centre line", "length_mm": "length",
                 "width_mm": "width", "ends": "ends"}
_CURVE_COLUMNS = {"shape": "shape", "aside_mm": "aside", "tip_mm": "tips"}
"""Only where a slot is curved or tapered."""


def dimension_sections(record: Record) -> tuple[Section, ...]:
    """Band, guide, feed and slots: every field that has a meaning in words, as it stands in the record.

    Parameters
    ----------
    record : Record

    Returns
    -------
    tuple of Section
    """
    head = ("dimension", "value")
    found = [
        Section("Band and mounting", (), (head, *_rows(record.band), *_rows(record.mounting))),
        Section("Guide", (), (head, *_rows(record.guide))),
        *([Section("Laminate front wall", (), (head, *_rows(record.guide.laminate)))] if record.guide.laminate else []),
        Section("Feed", () if isinstance(record.feed, CoaxFeed) else ("The TE10 mode at the near end.",),
                (head, *_rows(record.feed)) if isinstance(record.feed, CoaxFeed) else ()),
    ]
    if record.slots:
        found.append(_slots(record))
    return tuple(found)


def _rows(part: BaseModel) -> list[tuple[str, str]]:
    rows = []
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        if field.description and value is not None:
            unit = _unit(name, field.json_schema_extra)
            words = _OWN_WORDS.get(name, field.description.removesuffix(f", {unit}").split(";")[0])
            rows.append((words, f"{_plain(value)} {unit}".rstrip()))
    return rows


def _unit(name: str, extra: Any) -> str:
    if isinstance(extra, dict) and "unit" in extra:
        return extra["unit"]
    return next((unit for suffix, unit in _SUFFIXES.items() if name.endswith(suffix)), "")


def _plain(value: Any) -> str:
    """As typed: ten digits tell all that a record can mean and hide the rounding of sums."""
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _slots(record: Record) -> Section:
    columns = _SLOT_COLUMNS | (_CURVE_COLUMNS if any(slot.askew for slot in record.slots) else {})
    columns |= {"face": "wall"} if record.two_faced else {}
    head = ("slot", *(f"{words}, mm" if name.endswith("_mm") else words for name, words in columns.items()))
    rows = [
        (str(number), *("-" if getattr(slot, name) is None else _plain(getattr(slot, name)) for name in columns))
        for number, slot in enumerate(record.slots, 1)
    ]
    where = "both broad walls" if record.two_faced else f"the {record.slots[0].face} wall"
    return Section("Slots", (f"Longitudinal, in {where}. The sign of an offset is the side.",), (head, *rows))
