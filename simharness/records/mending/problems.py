"""What contradicts tape and plates: (field, value, what would be allowed)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from simharness.constants import MM
from simharness.errors import InputError
from simharness.records.feeds import BentProbe, Feed, Probe
from simharness.records.guide import Guide
from simharness.records.mending.parts import Tape, open_slot
from simharness.records.outlines import slot_outline
from simharness.records.problems import Problem, rounded_down
from simharness.records.slots import Slot


def plate_problems(guide: Guide, slots: Sequence[Slot], feed: Feed) -> Iterator[Problem]:
    """Plates against the ends, each other, feed and slots."""
    near, far = guide.near_plate_mm, guide.far_plate_mm
    if near is None and far is None:
        return
    if near is not None and guide.near_end != "short":
        yield "guide.near_plate_mm", near, f"only with near_end = 'short'; here it is '{guide.near_end}'"
        return
    if far is not None and guide.far_end != "short":
        yield "guide.far_plate_mm", far, f"only with far_end = 'short'; here it is '{guide.far_end}'"
        return
    if near is not None and isinstance(feed, BentProbe):
        yield "guide.near_plate_mm", near, "the coax comes through the near end; leave the plate out"
    if (near or 0.0) + (far or 0.0) >= guide.length_mm:
        field = "guide.near_plate_mm" if near is not None else "guide.far_plate_mm"
        yield field, near if near is not None else far, f"must stay within length_mm {guide.length_mm:g}"
        return
    things = [(f"slot {i}", *_along(slot)) for i, slot in enumerate(slots, 1) if _can_be_cut(slot)]
    if isinstance(feed, Probe):
        reach = max(feed.coax_outer_mm, feed.wire_diameter_mm) / 2
        things.append(("the feed hole", feed.position_mm - reach, feed.position_mm + reach))
    elif isinstance(feed, BentProbe):
        things.append(("the probe", 0.0, feed.run_mm + feed.wire_diameter_mm / 2))
    what, low, _ = min(things, key=lambda thing: thing[1], default=("", math.inf, 0.0))
    if near is not None and near > low:
        yield "guide.near_plate_mm", near, f"the plate lies beyond {what}; at most {_most(low)}"
    what, _, high = max(things, key=lambda thing: thing[2], default=("", 0.0, -math.inf))
    if far is not None and guide.length_mm - far < high:
        most = _most(guide.length_mm - high)
        yield "guide.far_plate_mm", far, f"the plate lies beyond {what}; at most {most}"


def _can_be_cut(slot: Slot) -> bool:
    """Whether it has an outline; one that has none is refused itself."""
    try:
        return not slot_outline(slot).is_empty
    except InputError:
        return False


def _along(slot: Slot) -> tuple[float, float]:
    """Ends of a slot along the guide, mm."""
    _, low, _, high = (value / MM for value in slot_outline(slot).bounds)
    return low, high


def _most(room_mm: float) -> str:
    return f"{max(0.0, rounded_down(room_mm)):g}"


def tape_problems(
    guide: Guide, slots: Sequence[Slot], tapes: Sequence[Tape], covered: bool
) -> Iterator[Problem]:
    """Tape against its slot, against other tape and a cover; `slots` along the guide."""
    if tapes and guide.shape != "rectangular":
        yield "tape", len(tapes), "tape on a round tube is not modelled; leave it out"
        return
    if tapes and covered:
        yield "tape", len(tapes), "tape under a cover is not modelled; leave out [cover] or the tape"
        return
    told = False
    by_slot: dict[int, list[tuple[int, Tape]]] = {}
    for i, tape in enumerate(tapes, 1):
        if tape.slot > len(slots):
            told = True
            yield f"tape {i} slot", tape.slot, f"there is no such slot; must be 1 to {len(slots)}"
            continue
        own = by_slot.setdefault(tape.slot, [])
        twin = next((j for j, other in own if other.end == tape.end), None)
        if twin is not None:
            told = True
            yield f"tape {i} end", tape.end, f"tape {twin} covers that end of slot {tape.slot} already"
        own.append((i, tape))
    if told:
        return
    for number, own in by_slot.items():
        problems = list(_tape_on_slot(guide, slots[number - 1], number, own))
        yield from problems
        told = told or bool(problems)
    if not told:
        yield from _order(slots, by_slot)


def _tape_on_slot(
    guide: Guide, slot: Slot, number: int, own: Sequence[tuple[int, Tape]]
) -> Iterator[Problem]:
    i, tape = own[-1]
    if slot.off_grid:
        yield f"tape {i} slot", number, "tape on a curved or tapered slot is not modelled; leave it out"
        return
    if slot.face == "front" and guide.substrate is not None:
        yield f"tape {i} slot", number, "the copper lies under the laminate, out of reach; leave it out"
        return
    others = sum(other.covers_mm for _, other in own[:-1])
    room = slot.length_mm - slot.width_mm - others
    if tape.covers_mm >= room:
        also = f" besides {others:g} at its other end" if others else ""
        yield (
            f"tape {i} covers_mm",
            tape.covers_mm,
            f"slot {number} of {slot.length_mm:g} mm must stay open over more than its width{also}; "
            f"less than {max(0.0, room):g}",
        )


def _order(slots: Sequence[Slot], by_slot: dict[int, list[tuple[int, Tape]]]) -> Iterator[Problem]:
    """Slots beside each other of which so much is covered that the later one lies first."""
    left = [
        open_slot(slot, [tape for _, tape in by_slot[n]]) if n in by_slot else slot
        for n, slot in enumerate(slots, 1)
    ]
    for n, own in by_slot.items():
        for m, other in enumerate(left, 1):
            first, second = (left[n - 1], other) if n < m else (other, left[n - 1])
            apart = first.position_mm - second.position_mm - (first.length_mm + second.length_mm) / 2
            if n != m and apart >= 0:
                i, tape = own[-1]
                yield (
                    f"tape {i} covers_mm",
                    tape.covers_mm,
                    f"what is left of slots {n} and {m} lies the other way round; cover less",
                )
                return
