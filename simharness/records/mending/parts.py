"""Tape over the end of a slot; plates inside the ends are fields of the guide."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Literal

from pydantic import Field

from simharness.records.parts import Part, mm
from simharness.records.slots import MAX_IN_A_WALL, Slot


class Tape(Part):
    """Copper tape over one end of a slot, joined to the wall all round: the slot ends at its edge."""

    slot: int = Field(
        strict=True,
        ge=1,
        le=2 * MAX_IN_A_WALL,
        description="number of the slot, counted from the near end; at the same place the front wall's "
        "comes first",
    )
    end: Literal["near", "far"] = Field(
        description="which end of that slot: the one towards the near or the far end of the guide"
    )
    covers_mm: float = mm("how much of the slot's length it covers", gt=0)


def open_slot(slot: Slot, tapes: Iterable[Tape], under_mm: float = 0.0) -> Slot:
    """What tape leaves open of a straight slot, as a rectangle with its edges where they are.

    A round end that is not covered counts as a square one of the same area, as everywhere; of one that is
    covered in part, what is left of its area counts. `under_mm`: how much farther than the edge of the tape
    it is to reach.
    """
    square, half = slot.ends == "square", slot.length_mm / 2
    cover = {tape.end: max(0.0, tape.covers_mm - under_mm) for tape in tapes}
    low, high = (
        half - _beyond_edge(0.0 if square else slot.width_mm / 2, cover.get(end, 0.0))
        for end in ("near", "far")
    )
    return slot.model_copy(
        update={
            "position_mm": slot.position_mm + (high - low) / 2,
            "length_mm": low + high,
            "ends": "square",
        }
    )


def renumbered(
    tapes: Iterable[Mapping[str, Any]],
    before: Sequence[Mapping[str, Any]],
    after: Sequence[Mapping[str, Any]],
) -> Iterator[dict[str, Any]]:
    """Pieces of tape, as in a file, that follow their slots where some are added or left out.

    Parameters
    ----------
    tapes : iterable of mapping
    before, after : sequence of mapping
        The slots, as in a file, in any order; what tape lies on is left out with its slot.
    """
    old, new = ([*map(_place, sorted(slots, key=_place))] for slots in (before, after))
    for tape in tapes:
        number = tape["slot"]
        if not 1 <= number <= len(old):
            yield dict(tape)
        elif old[number - 1] in new:
            yield {**tape, "slot": new.index(old[number - 1]) + 1}


def _place(slot: Mapping[str, Any]) -> tuple[float, bool]:
    """By which slots are numbered."""
    return slot["position_mm"], slot.get("face", "front") == "back"


def _beyond_edge(radius: float, cover: float) -> float:
    """From the tip of a slot to the edge of what is open, for an end of this radius, mm (0: square)."""
    if cover >= radius:
        return cover
    cap = radius**2 * math.acos(1 - cover / radius) - (radius - cover) * math.sqrt(
        cover * (2 * radius - cover)
    )
    return radius * (1 - math.pi / 4) + cap / (2 * radius)
