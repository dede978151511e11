"""Tape over the end of a slot, screws in the back wall; plates inside the ends are fields of the guide."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Literal

from pydantic import Field

from simharness.records.parts import Part, metres, mm
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


class Screw(Part):
    """A tuning screw through the back wall, opposite the front wall, in contact with it all round."""

    position_mm: float = mm("its axis, from the near end along the guide", ge=0)
    offset_mm: float = mm("its axis from the centre line of the wall; the sign is the side", default=0.0)
    diameter_mm: float = mm("across the thread, outside", ge=1, le=20)
    depth_mm: float = mm("how far its tip stands inside the guide", ge=0.1)

    position = metres()
    offset = metres()
    diameter = metres()
    depth = metres()


def open_slot(slot: Slot, tapes: Iterable[Tape], under_mm: float = 0.0) -> Slot:
    """What tape leaves open of a straight slot, as a rectangle with its edges where they are.

    A round end that is not covered counts as a square one of the same area, as everywhere; of one that is
    covered in part, what is left of its area counts. `under_mm`: how much farther than the edge of the tape
    it is to reach.
    """
    radius, half = _end_radius(slot), slot.length_mm / 2
    cover = {tape.end: max(0.0, tape.covers_mm - under_mm) for tape in tapes}
    low, high = (half - _beyond_edge(radius, cover.get(end, 0.0)) for end in ("near", "far"))
    return slot.model_copy(
        update={
            "position_mm": slot.position_mm + (high - low) / 2,
            "length_mm": low + high,
            "ends": "square",
        }
    )


def covering(slot: Slot, shorter_mm: float, under_mm: float) -> float:
    """How much of a straight slot's length tape covers at one end that takes so much off it as it acts, mm.

    Examples
    --------
    >>> slot = Slot(position_mm=50.0, offset_mm=5.0, length_mm=26.0, width_mm=3.0, ends="round")
    >>> tape = Tape(slot=1, end="near", covers_mm=covering(slot, 0.5, 0.7))
    >>> before, after = (open_slot(slot, tapes, 0.7).length_mm for tapes in ([], [tape]))
    >>> print(round(before - after, 6))
    0.5
    """
    from scipy.optimize import brentq  # here, since records are read before the solver starts

    radius = _end_radius(slot)
    wanted = _beyond_edge(radius, 0.0) + shorter_mm
    if wanted >= radius:
        return wanted + under_mm
    return float(brentq(lambda cover: _beyond_edge(radius, cover) - wanted, 0.0, radius)) + under_mm


def taken_off(slot: Slot, tape: Tape, under_mm: float) -> float:
    """What tape takes off one end of a straight slot as it acts, mm: `covering` the other way."""
    radius = _end_radius(slot)
    return _beyond_edge(radius, max(0.0, tape.covers_mm - under_mm)) - _beyond_edge(radius, 0.0)


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


def _end_radius(slot: Slot) -> float:
    """Of the ends of a straight slot, mm; 0: square."""
    return 0.0 if slot.ends == "square" else slot.width_mm / 2


def _beyond_edge(radius: float, cover: float) -> float:
    """From the tip of a slot to the edge of what is open, for an end of this radius, mm (0: square)."""
    if cover >= radius:
        return cover
    cap = radius**2 * math.acos(1 - cover / radius) - (radius - cover) * math.sqrt(
        cover * (2 * radius - cover)
    )
    return radius * (1 - math.pi / 4) + cap / (2 * radius)
