"""Tables of slots, holes and bends with what their numbers count from, and how the slots are cut."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.em.slot.shape import bend_radius
from simharness.records import Slot
from simharness.sheets.build.facts import Build
from simharness.sheets.build.laminate import cutter_message, slot_steps
from simharness.sheets.build.section import Section
from simharness.sheets.flat.fabrication import Fold
from simharness.sheets.flat.part import Part, drill_table

STRIP = 40e-3
"""Length of the test strip for bends, m; a choice."""
_SQUARE = 90.0


def _mm(length: float, digits: int = 2) -> str:
    return f"{length * 1e3:.{digits}f}"


def slots(build: Build) -> Section:
    """Where every slot lies, and how large it is."""
    several = sum(any(o.kind == "slot" for o in part.openings) for part in build.parts) > 1
    rows = [
        ("slot", "from", "to", "centre", "across", "length", "width", "ends", *(["part"] if several else []))
    ]
    for part in build.parts:
        for o in part.openings:
            if o.kind == "slot":
                u = o.centre[0]
                rows.append(
                    (
                        str(o.number),
                        _mm(u - o.length / 2),
                        _mm(u + o.length / 2),
                        _mm(u),
                        _across(part, o.centre[1]),
                        _mm(o.length),
                        _mm(o.width),
                        o.ends or "as drawn",
                        *([part.title] if several else []),
                    )
                )
    if len(rows) == 1:
        return Section("Slots")
    side = "the side of the part that its drawing shows" if several else "the slotted side"
    return Section(
        "Slots",
        (
            f"In mm. From, to, centre: along the guide from the {_zero(build)}. Across: middle of the slot "
            f"from the {build.shape.line}; + is up when the near end is on the left and {side} towards you.",
            *curved_slots(build),
        ),
        tuple(rows),
    )


def _zero(build: Build) -> str:
    """Where lengths along the guide count from."""
    return f"inner face of the {build.end('near')}" if "near" in build.ends else "open near end"


def _across(part: Part, v: float) -> str:
    """A place across as it is in the record, whichever way the part is drawn."""
    return f"{(-1 if part.mirrored else 1) * v * 1e3 + 0.0:+.2f}"


def curved_slots(build: Build) -> Iterator[str]:
    """What the numbers of curved and tapered slots mean, a sentence each."""
    curved = [slot for slot in build.record.slots if slot.shape != "straight"]
    if curved:
        radii = sorted({round(bend_radius(slot.shape, slot.length_mm, slot.aside_mm), 1) for slot in curved})
        double = ", an S two of them" if any(slot.shape == "s" for slot in curved) else ""
        yield (
            "Curved slots: length and width in the table are those over all; the cut itself is "
            f"{_lengths(sorted({slot.width_mm for slot in curved}))} wide. Their centre lines are arcs of "
            f"{_lengths(radii)} radius{double}."
        )
    tips = sorted({slot.tip_mm for slot in build.record.slots if slot.tip_mm is not None})
    if tips:
        yield f"Tapered tips run to a point over {_lengths(tips)}."


def cutting_steps(build: Build) -> Iterator[str]:
    """How the slots are made."""
    slots = build.record.slots
    if not slots:
        return
    if build.laminate is not None:
        yield from slot_steps(build)
        slots = tuple(slot for slot in slots if slot.face == "back")
    if slots:
        wall = " of the back wall" if build.laminate is not None else ""
        words = "; ".join(
            [f"mill the slots{wall}{cutter_message(build)}"] if build.cutter else _by_hand(slots, wall)
        )
        yield f"{words[0].upper()}{words[1:]}; take the burr off, inside too."
    yield "Check the length of every slot with a caliper; 'simharness tolerance' tells how far off it may be."


def _by_hand(slots: tuple[Slot, ...], wall: str) -> Iterator[str]:
    """A piece of a sentence for each kind of slot."""
    kinds = {(slot.shape != "straight", slot.ends) for slot in slots}
    if (False, "round") in kinds:
        yield (
            f"drill both ends of every straight slot{wall} (a and b in the table of holes), saw or mill "
            "between them, file straight"
        )
    if (False, "square") in kinds:
        yield (
            f"saw the square slots{wall} from holes drilled inside them, file their sides straight and their "
            "corners out"
        )
    if (False, "tapered") in kinds:
        yield (
            f"saw the tapered slots{wall} from a hole in their middle along both lines, finish their tips "
            "with a knife file"
        )
    if any(curved for curved, _ in kinds):
        tips = ", the tapered tips with a knife file" if (True, "tapered") in kinds else ""
        yield (
            f"scribe the curved slots{wall} with dividers, drill a row of holes along them, saw the webs out "
            f"and finish with a half-round file{tips}; or have them milled or cut by laser from the DXF"
        )


def _lengths(lengths: list[float]) -> str:
    return " and ".join(f"{length:g} mm" for length in lengths)


def holes(build: Build) -> Section:
    """Everything to be drilled."""
    rows = [("part", "hole", "along, mm", "across, mm", "drill, mm")]
    for part in build.parts:
        rows += [
            (part.title, name, *_place(part, u, v, build.guide.height), _mm(d))
            for name, (u, v), d in drill_table(part)
        ]
    if len(rows) == 1:
        return Section("Holes")
    sentences = ["Punch the middle of each cross."]
    if any(name.startswith("slot") for _, name, *_ in rows):
        sentences.append("The two ends of a slot with round ends are a and b.")
    if any(part.place == "back" and part.reversed for part in build.parts):
        sentences.append(
            "On the back face, across counts as seen from outside: + is up when the near end is on the left."
        )
    return Section("Holes", tuple(sentences), tuple(rows))


def _place(part: Part, u: float, v: float, height: float) -> tuple[str, str]:
    """Place of a hole: along the guide and across; on an end, above the inner face of the back and across."""
    if part.centre_line:
        return _mm(u), _across(part, v)
    return f"end, {_mm(v + height)} above the back", f"{u * 1e3:+.2f}"


def bends(build: Build) -> Section:
    """Bends, and the strip that tests them."""
    rows = [("part", "bends", "inside radius, mm", "K", "allowance, mm")]
    folds: dict[Fold, None] = {}
    for part in build.parts:
        if part.bends:
            fold = part.bends[0].fold
            folds[fold] = None
            rows.append(
                (
                    part.title,
                    str(len(part.bends)),
                    f"{fold.radius * 1e3:g}",
                    f"{fold.neutral:.3f}",
                    f"{fold.allowance * 1e3:.3f}",
                )
            )
    if not folds:
        return Section("Bends")
    others = sorted({fold.angle for fold in folds if fold.angle != _SQUARE})
    wings = "".join(f" but those of the wings, {angle:g} degrees" for angle in others)
    sentences = [f"All bends 90 degrees{wings}, and all dimensions in the record are inside dimensions."]
    for fold in folds:
        leg = (STRIP - fold.allowance) / 2 + fold.setback(outside=False)
        by, to = (
            ("", "") if fold.angle == _SQUARE else (f" by {fold.angle:g} degrees", ", to where they meet")
        )
        sentences.append(
            f"Test first: fold a strip of the {fold.thickness * 1e3:g} mm sheet, {_mm(STRIP, 1)} mm long, in "
            f"its middle{by}. Its inside legs must be {_mm(leg)} mm{to}. Where they are not, your tool bends "
            "with another radius or K: each 0.1 mm on the mean of both legs is 0.2 mm of allowance. Give the "
            "radius of your tool with --inside-radius, and K with --k-factor."
        )
    return Section("Bends", tuple(sentences), tuple(rows))
