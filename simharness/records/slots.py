"""The slots of a record, one by one or by a rule."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Literal

from pydantic import Field

from simharness.constants import MM
from simharness.records.outlines import slot_outline
from simharness.records.parts import Part, metres, mm

ENDS = Literal["square", "round", "tapered"]
SHAPES = Literal["straight", "bent", "s"]
MAX_IN_A_WALL = 40
"""Slots in one wall: the time of an estimate grows with the square of their number."""
TAPER_WIDTHS = 2.0
"""Length of a tapered tip where none is given, in widths of the slot."""


def _taper() -> Any:
    return mm(
        "length of each tapered tip, along the centre line; only with tapered ends, two widths if left out",
        default=None,
        gt=0,
    )


def _aside() -> Any:
    return mm(
        "how far the centre line stands off the chord between the tips; the sign is the side", default=0.0
    )


def _ends() -> Any:
    return Field("round", description="round as a cutter leaves them, filed square, or tapered to a point")


def _shape() -> Any:
    return Field("straight", description="shape of the centre line")


class Slot(Part):
    """One slot in a broad wall, of constant width about a centre line whose tips lie along the guide.

    `position_mm` and `offset_mm` are those of the middle of the chord between the tips. A bent slot is a
    circular arc that stands `aside_mm` off its chord; an S is two arcs that do so to either side.
    """

    position_mm: float = mm("centre of the slot, from the near end along the guide", ge=0)
    offset_mm: float = mm("centre of the slot from the centre line of the wall; the sign is the side")
    length_mm: float = mm("overall length along its centre line, end to end; round ends included", gt=1)
    width_mm: float = mm("width across", gt=0.05)
    ends: ENDS = _ends()
    taper_mm: float | None = _taper()
    shape: SHAPES = _shape()
    aside_mm: float = _aside()
    face: Literal["front", "back"] = Field(
        "front", description="the broad wall that it is cut into; offsets count towards +x on both"
    )

    position = metres()
    offset = metres()
    length = metres()
    width = metres()
    aside = metres()

    @property
    def off_grid(self) -> bool:
        """Whether its edges leave the mesh lines, which run along the guide and across it."""
        return self.shape != "straight" or self.ends == "tapered"

    @property
    def tip_mm(self) -> float | None:
        """Length of a tapered tip, mm; None for other ends."""
        if self.ends != "tapered":
            return None
        return (
            self.taper_mm
            if self.taper_mm is not None
            else min(TAPER_WIDTHS * self.width_mm, self.length_mm / 2)
        )


class SlotRule(Part):
    """Equal slots at equal spacing, in one broad wall or the same number in each.

    Across the centre line, and where the row of the back wall begins on the other side, they are mirrored.
    """

    count: int = Field(strict=True, ge=1, le=MAX_IN_A_WALL, description="number of slots")
    first_mm: float = mm("centre of the first slot, from the near end", ge=0)
    spacing_mm: float = mm("distance between centres of neighbours", gt=0)
    offset_mm: float = mm("offset of the first slot from the centre line; the sign is the side")
    alternate: bool = Field(
        True, strict=True, description="neighbours lie on opposite sides of the centre line"
    )
    length_mm: float = mm(
        "overall length of each slot along its centre line, end to end; round ends included", gt=1
    )
    width_mm: float = mm("width of each slot", gt=0.05)
    ends: ENDS = _ends()
    taper_mm: float | None = _taper()
    shape: SHAPES = _shape()
    aside_mm: float = _aside()
    faces: Literal["front", "both"] = Field(
        "front",
        description="the wall or walls with this row of slots; 'both': as many slots again in the back wall",
    )
    back_first_mm: float | None = mm(
        "centre of the first slot of the back wall; left out: behind that of the front", ge=0, default=None
    )
    back_offset_mm: float | None = mm(
        "offset of that slot from the centre line; left out: that of the front, as if both walls were "
        "sawn through at once",
        default=None,
    )

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
        aside_mm = self.aside_mm if offset_mm * self.offset_mm >= 0 else -self.aside_mm
        for i in range(self.count):
            yield Slot(
                position_mm=first_mm + i * self.spacing_mm,
                offset_mm=-offset_mm if self.alternate and i % 2 else offset_mm,
                length_mm=self.length_mm,
                width_mm=self.width_mm,
                ends=self.ends,
                taper_mm=self.taper_mm,
                shape=self.shape,
                aside_mm=(-aside_mm if self.alternate and i % 2 else aside_mm) or 0.0,
                face=face,
            )


def along_guide(slots: Iterable[Slot]) -> tuple[Slot, ...]:
    """Slots in order along the guide; at the same place those of the front wall come first."""
    return tuple(sorted(slots, key=lambda slot: (slot.position_mm, slot.face == "back")))


def slot_clearance(slots: Sequence[Slot]) -> float:
    """Smallest metal bridge between slots of one wall, mm; infinity where no wall has two."""
    gaps = (slot_gap(p, q) for i, p in enumerate(slots) for q in slots[i + 1 :] if p.face == q.face)
    return min(gaps, default=math.inf)


def slot_gap(one: Slot, two: Slot) -> float:
    """Metal between two slots of one wall, mm; 0 when they touch. Straight ones count with square ends."""
    if one.off_grid or two.off_grid:
        return slot_outline(one).distance(slot_outline(two)) / MM
    return math.hypot(
        max(0.0, abs(one.position_mm - two.position_mm) - (one.length_mm + two.length_mm) / 2),
        max(0.0, abs(one.offset_mm - two.offset_mm) - (one.width_mm + two.width_mm) / 2),
    )
