"""Which slot of one antenna is which of another, whose slots have moved."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simharness.records import Record, Slot


def same_order(drawn: Record, record: Record, voltages: NDArray, covered: int | None = None) -> NDArray:
    """Voltages of a record's slots in the order in which the same slots lie along the antenna as drawn.

    A slot that moved past the one opposite keeps its place. Slots of a list are the same by their place in
    it, those of a rule by their place in their wall.

    Parameters
    ----------
    drawn, record : Record
    voltages : (n,) complex array
        In order along the guide of `record`.
    covered : int or None
        Which slot of the list of the record as drawn is missing in this one: its voltage is 0.
    """
    by_rule = drawn.slot_rule is not None and record.slot_rule is not None
    first = _listed(drawn, by_rule)
    number = dict(zip(record.slots, voltages))
    there = [number[slot] for slot in _listed(record, by_rule)]
    if covered is not None:
        there.insert(covered, 0.0)
    place = {slot: i for i, slot in enumerate(first)}
    return np.array([there[place[slot]] for slot in drawn.slots])


def _listed(record: Record, by_rule: bool) -> tuple[Slot, ...]:
    """The slots of a record in an order that moving them does not change."""
    if by_rule:
        return tuple(sorted(record.slots, key=lambda slot: slot.face == "back"))
    return record.slots if record.slot_rule is not None else record.slot
