"""The slots of a record, one by one or by a rule."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from simharness.records.parts import Part, mm


class Slot(Part):
    """One longitudinal slot in the front wall."""

    position_mm: float = mm("centre of the slot, from the near end along the guide", ge=0)
    offset_mm: float = mm("centre of the slot from the centre line of the wall; the sign is the side")
    length_mm: float = mm("overall length along the guide, end to end", gt=0)
    width_mm: float = mm("width across", gt=0)
    ends: Literal["square", "round"] = "round"


class SlotRule(Part):
    """Equal slots at equal spacing."""

    count: int = Field(strict=True, ge=1, le=40, description="number of slots")
    first_mm: float = mm("centre of the first slot, from the near end", ge=0)
    spacing_mm: float = mm("distance between centres of neighbours", gt=0)
    offset_mm: float = mm("offset of the first slot from the centre line")
    alternate: bool = Field(True, strict=True, description="neighbours lie on opposite sides of the centre line")
    length_mm: float = mm("overall length of each slot, end to end", gt=0)
    width_mm: float = mm("width of each slot", gt=0)
    ends: Literal["square", "round"] = "round"

    @property
    def slots(self) -> tuple[Slot, ...]:
        """The slots one by one, in order along the guide."""
        return tuple(
            Slot(
                position_mm=self.first_mm + i * self.spacing_mm,
                offset_mm=-self.offset_mm if self.alternate and i % 2 else self.offset_mm,
                length_mm=self.length_mm,
                width_mm=self.width_mm,
                ends=self.ends,
            )
            for i in range(self.count)
        )


def slot_clearance(slots: Sequence[Slot]) -> float:
    """Smallest metal bridge between neighbouring slots, mm; infinity for one slot."""
    gaps = [
        math.hypot(
            max(0.0, abs(p.position_mm - q.position_mm) - (p.length_mm + q.length_mm) / 2),
            max(0.0, abs(p.offset_mm - q.offset_mm) - (p.width_mm + q.width_mm) / 2),
        )
        for i, p in enumerate(slots)
        for q in slots[i + 1 :]
    ]
    return min(gaps, default=math.inf)
