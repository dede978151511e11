"""Antennas made wrong on purpose: what they are, and what caliper and rule would read on them.

`tests/references/wrong-antennas.toml` says what is wrong with each.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np

from simharness.records import Record, parse_record, read_record
from simharness.records.text import plain_data

REFERENCES = Path(__file__).resolve().parents[2] / "tests" / "references"
CASES: dict[str, dict[str, Any]] = tomllib.loads(
    (REFERENCES / "wrong-antennas.toml").read_text(encoding="utf-8")
)

SLOT_FIELDS = ("position_mm", "offset_mm", "length_mm", "width_mm")


def nominal(name: str) -> Record:
    """A record as drawn."""
    return read_record(REFERENCES / f"{name}.toml")


def wrong(case: str) -> Record:
    """The record of a case as it was made."""
    told = CASES[case]
    data = plain_data(nominal(told["record"]), rule=False)
    for name, amount in told["off"].items():
        part, field = name.split(".")
        if part in ("guide", "feed"):
            data[part][field] = round(data[part][field] + amount, 6)
            continue
        which = data["slot"] if part == "slot" else [data["slot"][int(part.split()[1]) - 1]]
        for slot in which:
            _change(slot, field, amount)
    for field, amounts in told.get("each", {}).items():
        for slot, amount in zip(data["slot"], amounts, strict=True):
            _change(slot, field, amount)
    data["name"] = f"{told['record']}-{case}"
    return parse_record(data, f"case {case}")


def _change(slot: dict[str, Any], field: str, amount: float) -> None:
    sign = -1 if field == "offset_mm" and slot[field] < 0 else 1
    slot[field] = round(slot[field] + sign * amount, 6)


def readings(case: str) -> dict[str, float]:
    """What was read on the antenna of a case, mm, by field ("slot 2.length_mm"); the same each time."""
    told, record = CASES[case], wrong(case)
    noise = {"caliper_mm": 0.1, "rule_mm": 0.5} | told.get("noise", {})
    chance = np.random.default_rng(1000 + int(case))
    found: dict[str, float] = {}
    for name, value in true_dimensions(record).items():
        by_caliper = abs(value) <= 150.0
        error = 0.5 * noise["caliper_mm" if by_caliper else "rule_mm"] * chance.standard_normal()
        step = 0.05 if by_caliper else 0.5
        part, field = name.split(".")
        blank = told.get("blank", ())
        if name not in blank and not (part.startswith("slot") and f"slot.{field}" in blank):
            found[name] = round(round((value + error) / step) * step, 6)
    return found


def true_dimensions(record: Record) -> dict[str, float]:
    """All that is read on an antenna with a straight probe in a rectangular guide, mm, by field."""
    guide, feed = record.guide, record.feed
    inside = ("a_mm", "b_mm", "length_mm", "front_wall_mm", "other_walls_mm")
    found = {f"guide.{name}": getattr(guide, name) for name in inside}
    found |= {f"feed.{name}": getattr(feed, name) for name in ("position_mm", "height_mm")}
    for number, slot in enumerate(record.slots, 1):
        found |= {f"slot {number}.{name}": getattr(slot, name) for name in SLOT_FIELDS}
    return found
