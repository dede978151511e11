"""The slots of a record, one by one or by a rule."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

from pydantic import Field

from simharness.records.parts import Part, mm


class Slot(Part):
    """One longitudinal slot in a broad wall."""

    position_mm: float = mm("centre of the slot, from the near end along the guide", ge=0)
    offset_mm: float = mm("centre of the slot from the centre line of the wall; the sign is the side")
    length_mm: float = mm("overall length along the guide, end to end", gt=0)
    width_mm: float = mm("width across", gt=0)
    ends: Literal["square", "round"] = "round"
    face: Literal["front", "back"] = "front"


class SlotRule(Part):
    """Equal slots at equal spacing, in one broad wall or the same number in each."""

    count: int = Field(strict=True, ge=1, le=40, description="number of slots")
    first_mm: float = mm("centre of the first slot, from the near end", ge=0)
    spacing_mm: float = mm("distance between centres of neighbours", gt=0)
    offset_mm: float = mm("offset of the first slot from the centre line")
    alternate: bool = Field(True, strict=True, description="neighbours lie on opposite sides of the centre line")
    length_mm: float = mm("overall length of each slot, end to end", gt=0)
    width_mm: float = mm("width of each slot", gt=0)
    ends: Literal["square", "round"] = "round"
    faces: Literal["front", "both"] = Field("front", description="the wall or walls with this row of slots")
    back_first_mm: float | None = mm("centre of the first slot of the back wall; the others follow", ge=0, default=None)
    back_offset_mm: float | None = mm("offset of that slot from the centre line", default=None)

    @property
    def slots(self) -> tuple[Slot, ...]:
        """The slots one by one, in order along the guide, those of the front first at the same place."""
        rows = [*self._row("front", self.first_mm, self.offset_mm)]
        if self.faces == "both":
            first = self.first_mm if self.back_first_mm is None else self.back_first_mm
            offset = self.offset_mm if self.back_offset_mm is None else self.back_offset_mm
            rows += self._row("back", first, offset)
        return along_guide(rows)

    def _row(self, face: Literal["front", "back"], first_mm: float, offset_mm: float) -> Iterator[Slot]:
        for i in range(self.count):
            yield Slot(
                position_mm=first_mm + i * self.spacing_mm,
                offset_mm=-offset_mm if self.alternate and i % 2 else offset_mm,
                length_mm=self.length_mm,
                width_mm=self.width_mm,
                ends=self.ends,
                face=face,
            )


def along_guide(slots: Iterable[Slot]) -> tuple[Slot, ...]:
    """Slots in order along the guide; at the same place those of the front wall come first."""
    return tuple(sorted(slots, key=lambda slot: (slot.position_mm, slot.face == "back")))


def slot_clearance(slots: Sequence[Slot]) -> float:
    """Smallest metal bridge between slots of one wall, mm; infinity where no wall has two."""
    gaps = [
        math.hypot(
            max(0.0, abs(p.position_mm - q.position_mm) - (p.length_mm + q.length_mm) / 2),
            max(0.0, abs(p.offset_mm - q.offset_mm) - (p.width_mm + q.width_mm) / 2),
        )
        for i, p in enumerate(slots)
        for q in slots[i + 1 :]
        if p.face == q.face
    ]
    return min(gaps, default=math.inf)
