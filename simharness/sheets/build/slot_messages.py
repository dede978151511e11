"""How slots are marked and cut, by their shape and by what they are cut into."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.em.slot.shape import bend_radius
from simharness.records import Slot
from simharness.sheets.build.facts import Build
from simharness.sheets.build.laminate import cutter_words, slot_steps


def curve_words(build: Build) -> Iterator[str]:
    """What the numbers of slots that are no rectangles mean."""
    curved = [slot for slot in build.record.slots if slot.shape != "straight"]
    if curved:
        radii = sorted({round(bend_radius(slot.shape, slot.length_mm, slot.aside_mm), 1) for slot in curved})
        double = ", an S two of them" if any(slot.shape == "s" for slot in curved) else ""
        yield (
            f"Curved slots: length and width in the table are those over all; the cut itself is {_widths(curved)} wide. Their centre lines "
            f"are arcs of {_listed(radii)} radius{double}."
        )
    tips = sorted({slot.tip_mm for slot in build.record.slots if slot.tip_mm is not None})
    if tips:
        yield f"Tapered tips run to a point over {_listed(tips)}."


def cutting_steps(build: Build) -> Iterator[str]:
    """How the slots are made."""
    slots = build.record.slots
    if not slots:
        return
    if build.board is not None:
        yield from slot_steps(build)
        slots = tuple(slot for slot in slots if slot.face == "back")
    if slots:
        wall = " of the back wall" if build.board is not None else ""
        words = "; ".join(
            [f"mill the slots{wall}{cutter_words(build)}"] if build.cutter else _by_hand(slots, wall)
        )
        yield f"{words[0].upper()}{words[1:]}; take the burr off, inside too."
    yield "Check the length of every slot with a caliper; 'simharness tolerance' tells how far off it may be."


def _by_hand(slots: tuple[Slot, ...], wall: str) -> Iterator[str]:
    """A piece of a sentence for each kind of slot."""
    kinds = {(slot.shape != "straight", slot.ends) for slot in slots}
    if (False, "round") in kinds:
        yield f"drill both ends of every straight slot{wall} (a and b in the table of holes), saw or mill between them, file straight"
    if (False, "square") in kinds:
        yield f"saw the square slots{wall} from holes drilled inside them, file their sides straight and their corners out"
    if (False, "tapered") in kinds:
        yield f"saw the tapered slots{wall} from a hole in their middle along both lines, finish their tips with a knife file"
    if any(curved for curved, _ in kinds):
        tips = ", the tapered tips with a knife file" if (True, "tapered") in kinds else ""
        yield (
            f"scribe the curved slots{wall} with dividers, drill a row of holes along them, saw the webs out and finish with a half-round "
            f"file{tips}; or have them milled or cut by laser from the DXF"
        )


def _widths(slots: list[Slot]) -> str:
    return _listed(sorted({slot.width_mm for slot in slots}))


def _listed(lengths: list[float]) -> str:
    return " and ".join(f"{length:g} mm" for length in lengths)
