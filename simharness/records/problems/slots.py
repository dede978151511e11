"""What contradicts a slot: its own fields, the guide, its neighbours."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from simharness.constants import MM
from simharness.em.slot.shape import MAX_ASIDE, bend_radius
from simharness.records.guide import Guide
from simharness.records.outlines import slot_outline
from simharness.records.problems import ROUNDING_MM, Problem, rounded_down
from simharness.records.problems.shapes import shape_problems
from simharness.records.slots import MAX_IN_A_WALL, Slot, slot_gap


def slot_problems(guide: Guide, slots: Sequence[Slot]) -> Iterator[Problem]:
    """Slots against the guide and each other; `slots` in the order of the file."""
    for wall in ("front", "back"):
        if (count := sum(slot.face == wall for slot in slots)) > MAX_IN_A_WALL:
            yield (
                "slot",
                count,
                f"so many lie in the {wall} wall; at most {MAX_IN_A_WALL} slots in one wall can be computed",
            )
            return
    whole = []
    for i, slot in enumerate(slots):
        where = f"slot {i + 1}"
        own = [(f"{where} {field}", value, allowed) for field, value, allowed in outline_problems(slot)]
        yield from own
        whole.append(not own)
        if slot.length_mm <= slot.width_mm:
            yield f"{where} length_mm", slot.length_mm, f"must be greater than width_mm {slot.width_mm:g}"
        if not own:
            yield from shape_problems(guide).slot_across(where, slot)
            yield from (_outline_along if slot.off_grid else _along)(where, guide, slot)
    for i in range(len(slots)):
        for j in range(i + 1, len(slots)):
            one, two = slots[i], slots[j]
            if whole[i] and whole[j] and one.face == two.face and slot_gap(one, two) == 0:
                yield (
                    f"slot {j + 1} position_mm",
                    two.position_mm,
                    f"overlaps slot {i + 1} at {one.position_mm:g}; leave metal between them",
                )


def outline_problems(slot: Slot) -> Iterator[Problem]:
    """Fields of one slot that contradict each other."""
    if slot.taper_mm is not None and slot.ends != "tapered":
        yield "taper_mm", slot.taper_mm, "belongs to ends = 'tapered' only; leave it out"
    elif slot.tip_mm is not None and slot.tip_mm > slot.length_mm / 2:
        yield "taper_mm", slot.taper_mm, f"each tip may take half the length, {slot.length_mm / 2:g}, at most"
    if slot.shape == "straight":
        if slot.aside_mm != 0:
            yield "aside_mm", slot.aside_mm, "must be 0 for a straight slot; give shape = 'bent' or 's'"
        return
    most = MAX_ASIDE[slot.shape] * slot.length_mm
    if not 0 < abs(slot.aside_mm) <= most:
        yield (
            "aside_mm",
            slot.aside_mm,
            f"must not be 0 with shape = '{slot.shape}', and {rounded_down(most):g} at most: half a circle",
        )
    elif (radius := bend_radius(slot.shape, slot.length_mm, slot.aside_mm)) <= slot.width_mm / 2:
        yield (
            "aside_mm",
            slot.aside_mm,
            f"bends the slot to a radius of {radius:.2f} mm, which must be more than half its width_mm "
            f"{slot.width_mm:g}",
        )


def _along(where: str, guide: Guide, slot: Slot) -> Iterator[Problem]:
    """A straight slot against the ends of the guide."""
    along = slot.length_mm / 2
    if slot.length_mm > guide.length_mm:
        yield (
            f"{where} length_mm",
            slot.length_mm,
            f"must be less than the guide's length_mm {guide.length_mm:g}",
        )
    elif not along - ROUNDING_MM <= slot.position_mm <= guide.length_mm - along + ROUNDING_MM:
        yield (
            f"{where} position_mm",
            slot.position_mm,
            f"the slot runs past an end of the guide; allowed {along:g} to {guide.length_mm - along:g}",
        )


def _outline_along(where: str, guide: Guide, slot: Slot) -> Iterator[Problem]:
    """The outline of a curved or tapered slot against the ends of the guide."""
    _, first, _, last = (v / MM for v in slot_outline(slot).bounds)
    if first < -ROUNDING_MM or last > guide.length_mm + ROUNDING_MM:
        yield (
            f"{where} position_mm",
            slot.position_mm,
            f"the slot runs past an end of the guide; allowed {slot.position_mm - first:.2f} to "
            f"{guide.length_mm - last + slot.position_mm:.2f}",
        )
