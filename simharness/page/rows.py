"""Slots added to a record, taken out of it, written out one by one; and the smallest record of all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simharness.constants import C0, MM
from simharness.errors import InputError
from simharness.page.companions import bare_coax, guide_wavelength_mm, probe_lengths

if TYPE_CHECKING:
    from simharness.records import Record

Data = dict[str, Any]

_THIN = 0.5e-3
"""Sheet of an empty box, m."""
_SLOT = 0.491
"""Of a wavelength: its resonance, so far aside and with walls that thin, by the method of moments."""
_ASIDE = 0.2
"""Of the one slot of an empty box, over the width: it loads the guide nearly alone."""
_END = 0.25
"""From the last slot to the far end, guide wavelengths: a peak of the standing wave."""


def smallest() -> Data:
    """An empty box: a folded guide for the first band of the questions, one slot and a probe.

    The slot lies on a peak of the standing wave, half a guide wavelength past the probe, and is as long as
    half a wave less a few per cent.
    """
    from simharness.design.questions import QUESTIONS
    from simharness.design.stock import cutter_width, folded_box
    from simharness.em.guide.rectangular import guide_wavelength

    centre = float(QUESTIONS[0].default(None))
    box, wave = folded_box(centre * 1e9, _THIN), C0 / centre / 1e9 / MM
    along = float(guide_wavelength(box.a, centre * 1e9)) / MM
    probe = probe_lengths(wave, along, box.b / MM)
    position = round(probe["position_mm"] + along / 2, 1)
    return {
        "schema": 1,
        "name": "new-antenna",
        "band": {
            "low_ghz": round(0.995 * centre, 3),
            "centre_ghz": centre,
            "high_ghz": round(1.005 * centre, 3),
        },
        "mounting": {"axis": "vertical"},
        "guide": {
            "a_mm": round(box.a / MM, 1),
            "b_mm": round(box.b / MM, 1),
            "length_mm": round(position + _END * along, 1),
            "front_wall_mm": round(_THIN / MM, 2),
            "other_walls_mm": round(_THIN / MM, 2),
            "material": box.material,
        },
        "slot": [
            {
                "position_mm": position,
                "offset_mm": round(_ASIDE * box.a / MM, 1),
                "length_mm": round(_SLOT * wave, 1),
                "width_mm": round(cutter_width(centre * 1e9) / MM, 1),
            }
        ],
        "feed": {"kind": "probe", "wall": "back"} | probe | bare_coax({}),
    }


def rule_as_slots(data: Data, record: Record) -> Data:
    """The data with every slot of its rule by itself.

    Raises
    ------
    InputError
        The rule is refused; its slots cannot be told.
    """
    if "slot_rule" not in data:
        return data
    from simharness.records import parse_record
    from simharness.records.text import plain_data

    try:
        # The rule that is there, beside all else that is valid.
        rows = plain_data(parse_record(plain_data(record) | {"slot_rule": data["slot_rule"]}), rule=False)[
            "slot"
        ]
    except InputError:
        raise InputError(
            "slot_rule", "refused", "mend its fields first, then its slots can be written out"
        ) from None
    found = {}
    for name, value in data.items():
        if name == "slot_rule":
            found["slot"] = [_short(row) for row in rows]
        elif name != "slot":
            found[name] = value
    return found


def _short(row: Data) -> Data:
    """A slot without what goes without saying."""
    usual = {"shape": "straight", "aside_mm": 0.0, "face": "front"}
    return {name: value for name, value in row.items() if name not in usual or value != usual[name]}


def with_slot(data: Data, record: Record) -> Data:
    """The data with one slot more behind the last, the spacing or half a guide wavelength on, and mirrored.

    The guide becomes longer by the same length, so that its end lies behind the last slot as before.
    """
    if "slot_rule" in data:
        rule = data["slot_rule"]
        step = record.slot_rule.spacing_mm if record.slot_rule else guide_wavelength_mm(record) / 2
        count = rule.get("count")
        if isinstance(count, bool) or not isinstance(count, int):
            raise InputError("slot_rule.count", count, "must be a whole number before a slot can be added")
        made = data | {"slot_rule": rule | {"count": count + 1}}
        if "tape" in data and record.slot_rule is not None:
            longer = record.slot_rule.model_copy(update={"count": record.slot_rule.count + 1})
            before, after = ([dict(slot) for slot in slots] for slots in (record.slots, longer.slots))
            made["tape"] = _taped(data | {"slot": before}, data | {"slot": after})["tape"]
        return _longer(made, record, step)
    rows = list(data.get("slot", ()))
    listed = [slot for slot in record.slots if slot.face == "front"] or list(record.slots)
    if not listed:
        return data | {"slot": [*rows, smallest()["slot"][0]]}
    step = guide_wavelength_mm(record) / 2
    if len(listed) > 1:
        step = listed[-1].position_mm - listed[-2].position_mm or step
    last = next(
        (row for row in rows if row.get("position_mm") == listed[-1].position_mm), rows[-1] if rows else {}
    )
    new = dict(last) | {
        "position_mm": round(listed[-1].position_mm + step, 1),
        "offset_mm": -listed[-1].offset_mm or 0.0,
    }
    if "aside_mm" in new:
        new["aside_mm"] = -listed[-1].aside_mm or 0.0
    return _longer(_taped(data, data | {"slot": [*rows, new]}), record, step)


def _longer(data: Data, record: Record, step_mm: float) -> Data:
    """A guide that is longer by a step, so that its end lies behind the last slot as before."""
    longer = {"length_mm": round(record.guide.length_mm + step_mm, 1)}
    return data | {"guide": data["guide"] | longer}


def without_slot(data: Data, number: int, record: Record) -> Data:
    """The data without the slot of this number, from 1 as listed; a rule is written out first.

    Raises
    ------
    InputError
        There is no such slot.
    """
    data = rule_as_slots(data, record)
    rows = list(data.get("slot", ()))
    if not 1 <= number <= len(rows):
        raise InputError("slot", number, f"there are {len(rows)} slots")
    return _taped(data, data | {"slot": [*rows[: number - 1], *rows[number:]]})


def _taped(before: Data, after: Data) -> Data:
    """The data with other slots, and tape that lies on the same ones as before."""
    if "tape" not in before:
        return after
    from simharness.records.mending.parts import renumbered

    try:
        return after | {"tape": list(renumbered(before["tape"], before["slot"], after["slot"]))}
    except (KeyError, TypeError):  # a number that is refused itself
        return after
