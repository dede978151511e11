"""The slots on the views, and the fields that they change when grabbed: their own, or those of their rule."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from simharness.em.slot.shape import MAX_ASIDE, arc_half_angle
from simharness.geometry import front_outline
from simharness.page.drawing.elements import Handle, Pair, Shape, View, record_move, wall_outline
from simharness.page.drawing.shapes import ViewedShape
from simharness.records import Guide, Record, Slot

_LENGTH_CHANGE = 0.01
"""Change of length by which the way of a tip is found, mm."""
_LONGEST = 5000.0
_ASIDE = "how far its centre line stands off the line between its tips"


@dataclass(frozen=True)
class _Field:
    """A field that follows a slot: `scale` mm of the slot for each mm of the field."""

    field: str
    scale: float
    label: str


@dataclass(frozen=True)
class SlotFields:
    """A slot, its name, and the fields that place it and shape it.

    `tab`, `tab_shape`: whether the keyboard stops at its middle, and where its length and its bend are held.
    """

    slot: Slot
    key: str
    name: str
    along: _Field
    across: _Field
    length: _Field
    aside: _Field
    tab: bool = True
    tab_shape: bool = True


def slot_fields(record: Record) -> Iterator[SlotFields]:
    """Every slot with its fields; single slots as listed in the file, those of a rule wall by wall."""
    if record.slot_rule is None:
        yield from _single(record)
        return
    for face in ("front", "back"):
        row = [slot for slot in record.slots if slot.face == face]
        yield from (_ruled(record, slot, i) for i, slot in enumerate(row))


def _single(record: Record) -> Iterator[SlotFields]:
    for number, slot in enumerate(record.slot, 1):
        key, wall = f"slot.{number}", " of the back wall" if slot.face == "back" else ""
        name = f"slot {number}{wall}"
        yield SlotFields(
            slot,
            key,
            name,
            _Field(f"{key}.position_mm", 1.0, f"{name}: distance from the near end to its centre"),
            _Field(f"{key}.offset_mm", 1.0, f"{name}: offset from the centre line"),
            _Field(f"{key}.length_mm", 1.0, f"{name}: length"),
            _Field(f"{key}.aside_mm", 1.0, f"{name}: {_ASIDE}"),
        )


def _ruled(record: Record, slot: Slot, i: int) -> SlotFields:
    """The slot that follows `i` others in its wall; the first moves the row, another one stretches it."""
    rule = record.slot_rule
    assert rule is not None
    back = slot.face == "back"
    wall = " of the back wall" if back else ""
    own_first, own_offset = back and rule.back_first_mm is not None, back and rule.back_offset_mm is not None
    first = "back_first_mm" if own_first else "first_mm"
    offset = "back_offset_mm" if own_offset else "offset_mm"
    side = -1.0 if rule.alternate and i % 2 else 1.0
    mirror = -1.0 if own_offset and getattr(rule, offset) * rule.offset_mm < 0 else 1.0
    along = (
        _Field("slot_rule.spacing_mm", i, "distance between the centres of neighbouring slots")
        if i
        else _Field(
            f"slot_rule.{first}",
            1.0,
            f"distance from the near end to the centre of the first slot{wall if own_first else ''}",
        )
    )
    return SlotFields(
        slot,
        f"{slot.face}.{i + 1}",
        f"slot {i + 1}{wall}",
        along,
        _Field(
            f"slot_rule.{offset}",
            side,
            f"offset of the slots{wall if own_offset else ''} from the centre line",
        ),
        _Field("slot_rule.length_mm", 1.0, "length of every slot"),
        _Field("slot_rule.aside_mm", side * mirror, f"every slot: {_ASIDE}"),
        tab=(i < 2 and not back) or (i == 0 and (own_first or own_offset)),
        tab_shape=i == 0 and not back,
    )


def add_front(view: View, record: Record, shape: ViewedShape) -> None:
    """Slots on the front view; those of the back wall as hidden edges."""
    for each in slot_fields(record):
        slot = each.slot
        middle = slot.position_mm, -shape.across(slot.offset_mm)
        kind = "slot" if slot.face == "front" else "slot hidden"
        view.shapes[each.key] = Shape(_outline(record.guide, slot, middle), kind, middle)
        view.handles |= _handles(record, shape, each)


@lru_cache(maxsize=256)
def _outline(guide: Guide, slot: Slot, middle: Pair) -> str:
    """Path of a slot about its middle; kept, since most slots stay while one is dragged."""
    return wall_outline(front_outline(guide, slot), middle)


def _handles(record: Record, shape: ViewedShape, each: SlotFields) -> Iterator[tuple[str, Handle]]:
    slot, guide = each.slot, record.guide
    along = record_move(
        record, each.along.field, "u", each.along.scale, each.along.label, "along", (0.0, guide.length_mm)
    )
    reach = shape.widest_offset_mm
    across = record_move(
        record,
        each.across.field,
        "v",
        -each.across.scale,
        each.across.label,
        "across",
        (-reach, reach),
        shape.bend_mm,
    )
    middle = slot.position_mm, -shape.across(slot.offset_mm)
    yield (
        f"{each.key}.body",
        Handle(middle, each.name, (along, across), (each.key,), room=slot.length_mm, tab=each.tab),
    )
    for sign, end in ((-1, "near"), (1, "far")):
        yield f"{each.key}.{end}-tip", _tip(record, each, middle, sign)
    if slot.shape != "straight":
        yield f"{each.key}.bend", _bend(record, each, middle)


def _tip(record: Record, each: SlotFields, middle: Pair, sign: int) -> Handle:
    """One end of a slot: it makes the slot longer on both sides of its middle."""
    slot = each.slot
    half = tip_reach(slot)
    longer = slot.model_copy(update={"length_mm": slot.length_mm + _LENGTH_CHANGE})
    way = (tip_reach(longer) - half) / _LENGTH_CHANGE
    move = record_move(
        record,
        each.length.field,
        "u",
        sign * way,
        each.length.label,
        "length",
        (1.0, min(_LONGEST, record.guide.length_mm)),
    )
    return Handle(
        (middle[0] + sign * half, middle[1]),
        f"{each.name}, {'far' if sign > 0 else 'near'} end",
        (move,),
        (each.key,),
        anchor=middle,
        room=slot.length_mm,
        tab=each.tab_shape and sign > 0,
    )


def _bend(record: Record, each: SlotFields, middle: Pair) -> Handle:
    """Where the centre line is farthest off the line between the tips; of an S, on its first arc."""
    slot = each.slot
    most = MAX_ASIDE[slot.shape] * slot.length_mm
    name, label, scale = each.aside.field, each.aside.label, -each.aside.scale
    move = record_move(record, name, "v", scale, label, "aside", (-most, most))
    along = tip_reach(slot) / 2 if slot.shape == "s" else 0.0
    place = middle[0] - along, middle[1] - slot.aside_mm
    return Handle(place, f"{each.name}, bend", (move,), room=slot.length_mm, tab=each.tab_shape)


def tip_reach(slot: Slot) -> float:
    """From the middle of the chord of a slot to either of its tips, along the guide, mm.

    Half the chord of an arc of length L and half angle t is L sin(t) / (2 t); an S is two such arcs.
    """
    turn = arc_half_angle(slot.shape, slot.length, slot.aside) if slot.shape != "straight" else 0.0
    return slot.length_mm / 2 * (math.sin(turn) / turn if turn else 1.0)
