"""What tells two records apart, field by field, and the steps in which a field is varied."""

from __future__ import annotations

import math
from typing import Any

from simharness.constants import C0, TWO_PI
from simharness.records import Record

STEP_SHARE = 1 / 120
"""Step of the finite differences, in free-space wavelengths: 1 mm at 2.45 GHz."""
SIZE_SHARE = 0.1
"""The same for the thickness of a wall or the width of a slot, as a share of itself."""
WIDTH_TURN = 0.2
"""The same for the width of a guide, as the phase in rad by which it changes the whole guide: near cutoff a
little width is much phase."""
PLAIN_SHARE = 0.05
"""The same for numbers that are no lengths, as a share of themselves."""

_SIZES = ("width", "diameter", "wall", "coax", "dielectric", "flange", "taper")
WITHOUT_EFFECT = frozenset(
    {
        "schema",
        "name",
        "title",
        "note",
        "band.target_s11_db",
        "mounting.axis",
        "guide.make",
        "guide.laminate.copper_um",
        "feed.connector",
        "feed.flange_mm",
        "feed.flange_thickness_mm",
    }
)
"""Fields that the estimate's match, cuts and slot voltages do not see."""


def field_values(record: Record, by_rule: bool) -> dict[str, Any]:
    """Values of all fields by dotted name; slots counted from 1 as in the file, or by the rule.

    Parameters
    ----------
    record : Record
    by_rule : bool
        Whether the rule of the slots counts, not the slots that it makes.
    """
    found: dict[str, Any] = {}
    _flatten(record.model_dump(by_alias=True, exclude={"slot", "slot_rule"}), "", found)
    if by_rule and record.slot_rule is not None:
        _flatten(record.slot_rule.model_dump(), "slot_rule.", found)
        return found
    for number, slot in enumerate(record.slots if record.slot_rule is not None else record.slot, start=1):
        _flatten(slot.model_dump(), f"slot.{number}.", found)
    return found


def _flatten(table: dict[str, Any], within: str, found: dict[str, Any]) -> None:
    for key, value in table.items():
        if isinstance(value, dict):
            _flatten(value, f"{within}{key}.", found)
        else:
            found[within + key] = value


def differences(one: Record, other: Record) -> dict[str, float] | None:
    """By how much each field of another record is greater, in the unit of its name.

    Fields without effect are left out. None where something differs that is no number, or where the slots are
    others.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("models/five-slot-2g45.toml")
    >>> differences(record, simharness.changed(record, {"feed.height_mm": record.feed.height_mm + 0.5}))
    {'feed.height_mm': 0.5}
    >>> differences(record, simharness.changed(record, {"guide.material": "silver"})) is None
    True
    """
    by_rule = one.slot_rule is not None and other.slot_rule is not None
    before, after = field_values(one, by_rule), field_values(other, by_rule)
    if before.keys() != after.keys():
        return None
    found = {}
    for name, value in after.items():
        old = before[name]
        if value == old or name in WITHOUT_EFFECT:
            continue
        if not (_smooth(name, value) and _smooth(name, old)):
            return None
        found[name] = value - old
    return found


def _smooth(name: str, value: Any) -> bool:
    """Whether a field is one that an antenna varies smoothly with."""
    return isinstance(value, float) and not name.startswith("band.")


def field_step(record: Record, name: str) -> float | None:
    """Step of the finite differences for a field, in its unit; None where it is not smooth.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("models/five-slot-2g45.toml")
    >>> round(field_step(record, "slot.2.length_mm"), 2), field_step(record, "slot_rule.count")
    (1.02, None)
    """
    by_rule = record.slot_rule is not None and not name.startswith("slot.")
    value = field_values(record, by_rule).get(name)
    if value is None or not _smooth(name, value):
        return None
    if not name.endswith("_mm"):
        return PLAIN_SHARE * abs(value) or None
    step = length_step(record)
    last = name.rsplit(".", 1)[-1]
    if last == "spacing_mm" and record.slot_rule is not None:
        return step / max(1.0, (record.slot_rule.count - 1) / 2)
    if name == f"guide.{record.guide.width_field}":
        return min(step, _width_step(record))
    if any(word in last for word in _SIZES):
        return min(step, SIZE_SHARE * value) or None
    return step


def length_step(record: Record) -> float:
    """Step of the finite differences for a place or a length, mm."""
    return 1e3 * C0 / record.band.centre * STEP_SHARE


def _width_step(record: Record) -> float:
    """Change of the width of the guide that turns the wave over its length by `WIDTH_TURN`, mm."""
    guide, centre = record.guide, record.band.centre
    below = (guide.cutoff / centre) ** 2
    if below >= 1:
        return length_step(record)
    phase = TWO_PI * centre / C0 * math.sqrt(1 - below) * guide.length
    return WIDTH_TURN / (phase * below / (1 - below)) * guide.width_mm


def smooth_fields(record: Record) -> tuple[str, ...]:
    """Names of all fields that can be predicted, those of the rule or of each slot."""
    names = field_values(record, by_rule=True)
    return tuple(
        name for name in names if name not in WITHOUT_EFFECT and field_step(record, name) is not None
    )
