"""Tables of slots, holes and bends, with what their numbers count from."""

from __future__ import annotations

from simharness.sheets.build.facts import Build
from simharness.sheets.build.section import Section
from simharness.sheets.build.slot_messages import curve_words
from simharness.sheets.flat.parts import Part, drill_table

STRIP = 40e-3
"""Length of the test strip for bends, m; a choice."""


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
    line = "front line, as an arc on the outside of the tube" if build.round else "centre line"
    return Section(
        "Slots",
        (
            f"In mm. From, to, centre: along the guide from the {_zero(build)}. Across: middle of the slot from the {line}; + is up when the near "
            f"end is on the left and {side} towards you.",
            *curve_words(build),
        ),
        tuple(rows),
    )


def _zero(build: Build) -> str:
    """Where lengths along the guide count from."""
    return f"inner face of the {build.end('near')}" if "near" in build.ends else "open near end"


def _across(part: Part, v: float) -> str:
    """A place across as it is in the record, whichever way the part is drawn."""
    return f"{(-1 if part.mirrored else 1) * v * 1e3 + 0.0:+.2f}"


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
    if any(part.name == "tube-back" for part in build.parts):
        sentences.append(
            "On the back face, across counts as seen from outside: + is up when the near end is on the left."
        )
    return Section("Holes", tuple(sentences), tuple(rows))


def _place(part: Part, u: float, v: float, height: float) -> tuple[str, str]:
    """Of a hole: along the guide and across it; on an end, across it and above the inner face of the back wall."""
    if part.centre_line:
        return _mm(u), _across(part, v)
    return f"end, {_mm(v + height)} above the back", f"{u * 1e3:+.2f}"


def bends(build: Build) -> Section:
    """Bends, and the strip that tests them."""
    rows = [("part", "bends", "inside radius, mm", "K", "allowance, mm")]
    folds = {}
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
    sentences = ["All bends 90 degrees, and all dimensions in the record are inside dimensions."]
    for fold in folds:
        leg = (STRIP - fold.allowance) / 2 + fold.radius
        sentences.append(
            f"Test first: fold a strip of the {fold.thickness * 1e3:g} mm sheet, {_mm(STRIP, 1)} mm long, in its middle. Its inside legs must "
            f"be {_mm(leg)} mm. Where they are not, your tool bends with another radius or K: each 0.1 mm on the mean of both legs is "
            f"0.2 mm of allowance. Give the radius of your tool with --inside-radius, and K with --k-factor."
        )
    return Section("Bends", tuple(sentences), tuple(rows))
