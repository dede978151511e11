"""What to buy, cut, drill, fold and join, in which order, and with what care; plain text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from simharness.advice import CAUTIONS
from simharness.em.centre_line import bend_radius
from simharness.records import Record
from simharness.scene import Scene
from simharness.sheets.board import board_cautions, board_joints, board_name, front_steps, unmodelled
from simharness.sheets.connector import has_screws
from simharness.sheets.feed import FeedPart
from simharness.sheets.feed_words import (
    closing_words, connector_joints, connector_words, feed_cautions, mounting_steps, unseen_words,
)
from simharness.sheets.hollow import absorber_steps, absorber_unmodelled, absorber_words, inside
from simharness.sheets.parts import Making, Part, drill_table, seam_lengths
from simharness.sheets.round_parts import tube_wall

SPARE = 5e-3
"""Added on each side of a blank for clamping and sawing, m; a choice."""
STRIP = 40e-3
"""Length of the test strip for bends, m; a choice."""
_ROUND_STEPS = (
    "Saw the tube to length, square, and file its ends flat.",
    "Scribe the front line along the tube, laid in an angle iron, and the back line half-way round from the same set-up: the probe on the back "
    "line decides in which direction the wave stands, and the slots count from the front line.",
    "Wrap the template around the tube, its front line on the scribed one, and check that the back lines meet too.",
)


@dataclass(frozen=True)
class Section:
    """A heading, sentences, and a table with its head in the first row."""

    title: str
    sentences: tuple[str, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()


def build_list(
    record: Record, scene: Scene, making: Making, parts: tuple[Part, ...], probe: FeedPart | None
) -> tuple[Section, ...]:
    """Everything that the builder needs beside the drawings, in the order of use."""
    found = [_materials(record, scene, making, parts, probe), _slots(record, parts), _drilling(parts, record.guide.height_mm * 1e-3)]
    if any(part.bends for part in parts):
        found.append(_bending(parts))
    if probe is not None:
        found.append(Section("Probe", probe.words()))
    return (*found, _joints(record, scene, making, parts, probe), _order(record, scene, making, parts, probe),
            _modelled(record, scene, making, parts), _cautions(record))


def as_text(title: str, sections: tuple[Section, ...]) -> str:
    """The list as plain text, tables in columns."""
    lines = [title, "=" * len(title)]
    for section in sections:
        lines += ["", section.title, "-" * len(section.title)]
        lines += [sentence if sentence[0].isdigit() else f"- {sentence}" for sentence in section.sentences]
        if section.table:
            widths = [max(map(len, column)) for column in zip(*section.table)]
            lines += [""] * bool(section.sentences)
            lines += ["  ".join(cell.ljust(w) for cell, w in zip(row, widths)).rstrip() for row in section.table]
    return "\n".join(lines) + "\n"


def _mm(length: float, digits: int = 2) -> str:
    return f"{length * 1e3:.{digits}f}"


def sheet_material(record: Record) -> str:
    """Name of the metal to buy."""
    return "sheet" if record.guide.material == "perfect" else record.guide.material


def _materials(record: Record, scene: Scene, making: Making, parts: tuple[Part, ...], probe: FeedPart | None) -> Section:
    metal = sheet_material(record)
    rows = [("part", "sheet, mm", "blank, mm", "area, cm2", "buy at least, mm")]
    for part in parts:
        if part.outline.layer == "cut":
            length, width = part.size
            rows.append((
                part.title, f"{part.thickness * 1e3:g}", f"{_mm(length)} x {_mm(width)}", f"{length * width * 1e4:.1f}",
                f"{_mm(length + 2 * SPARE, 0)} x {_mm(width + 2 * SPARE, 0)}",
            ))
    board = f" Front wall: {board_name(record.guide)}." if board_name(record.guide) else ""
    sentences = [f"Metal: {metal}.{board} 'Buy at least' adds {_mm(SPARE, 0)} mm on each side for clamping and sawing."]
    if scene.bore:
        sentences.append(_round_stock(scene, metal))
    elif making.make == "tube":
        x0, x1, y0, y1, z0, z1 = inside(scene)
        t = parts[0].thickness
        sentences.append(
            f"Stock tube, {metal}: inside {_mm(x1 - x0)} x {_mm(y1 - y0)} mm, outside {_mm(x1 - x0 + 2 * t)} x {_mm(y1 - y0 + 2 * t)} mm, "
            f"wall {t * 1e3:g} mm, sawn square to {_mm(z1 - z0)} mm. Measure its inside at both ends before you cut: where it differs "
            f"from the record, put the measured size into the record and start again."
        )
    sentences += absorber_words(scene)
    if probe is not None:
        piece = f"; wire or tube of {_mm(probe.wire)} mm, {_mm(probe.wire_length)} mm of it" if probe.wire_length else ""
        sentences.append(
            f"{connector_words(record.feed)}: pin {_mm(probe.pin)} mm, insulator {_mm(probe.hole)} mm, pin at least "
            f"{_mm(probe.pin_length)} mm long from its face{piece}."
        )
    return Section("Materials", tuple(sentences), tuple(rows) if len(rows) > 1 else ())


def _round_stock(scene: Scene, metal: str) -> str:
    """The tube to buy."""
    *_, z0, z1 = inside(scene)
    wall = tube_wall(scene)
    return (
        f"Round tube, {metal}: inside {_mm(2 * wall.inner)} mm, outside {_mm(2 * wall.outer)} mm, wall {(wall.outer - wall.inner) * 1e3:g} mm, "
        f"sawn square to {_mm(z1 - z0)} mm. Measure its inside across two ways at both ends before you cut: where the mean differs from the "
        f"record, put it into the record and start again; where the two ways differ, the tube turns the wave in it ('simharness check' says "
        f"how much is too much)."
    )


def _slots(record: Record, parts: tuple[Part, ...]) -> Section:
    several = sum(any(o.kind == "slot" for o in part.openings) for part in parts) > 1
    rows = [("slot", "from", "to", "centre", "across", "length", "width", "ends", *(["part"] if several else []))]
    for part in parts:
        for o in part.openings:
            if o.kind == "slot":
                u = o.centre[0]
                rows.append((
                    str(o.number), _mm(u - o.length / 2), _mm(u + o.length / 2), _mm(u),
                    f"{(-1 if part.mirrored else 1) * o.centre[1] * 1e3:+.2f}", _mm(o.length),
                    _mm(o.width), o.ends or "as drawn", *([part.title] if several else []),
                ))
    side = "the side of the part that its drawing shows" if several else "the slotted side"
    return Section("Slots", (
        "In mm. From, to, centre: along the guide from the near end, the inner face of its cap or plate. Across: middle of the slot "
        f"from the centre line; + is up when the near end is on the left and {side} towards you.",
        *(("Across is the arc on the outside of the tube from its front line.",) if parts[0].name == "wrap" else ()),
        *_curves(record),
    ), tuple(rows))


def _curves(record: Record) -> Iterator[str]:
    """How to mark and cut slots that are no rectangles."""
    curved = [slot for slot in record.slots if slot.shape != "straight"]
    radii = sorted({round(bend_radius(slot.shape, slot.length_mm, slot.aside_mm), 1) for slot in curved})
    widths = " and ".join(f"{width:g} mm" for width in sorted({slot.width_mm for slot in curved}))
    board = record.guide.laminate
    cut = "" if board is not None and board.slots == "etched" else (
        ": scribe them with dividers, drill a row of holes along them, and file with a half-round file; or mill or laser them from the DXF"
    )
    double = ", an S two of them" if any(slot.shape == "s" for slot in curved) else ""
    if radii:
        yield (
            f"Curved slots: length and width in the table are those over all; the cut itself is {widths} wide. Their centre lines are arcs of "
            f"{' and '.join(f'{radius:g} mm' for radius in radii)} radius{double}{cut}."
        )
    tips = sorted({slot.tip_mm for slot in record.slots if slot.tip_mm is not None})
    if tips:
        yield f"Tapered tips run to a point over {' and '.join(f'{tip:g} mm' for tip in tips)}{': saw along both lines, file with a knife file' if cut else ''}."


def _drilling(parts: tuple[Part, ...], height: float) -> Section:
    """`height`: inner height of the guide, m."""
    rows = [("part", "hole", "along, mm", "across, mm", "drill, mm")]
    for part in parts:
        rows += [
            (part.title, name, *_place(part, u, v, height), _mm(diameter)) for name, (u, v), diameter in drill_table(part)
        ]
    sentences = ["Punch the middles of the crosses. a and b are the two ends of a slot: drill both, saw or mill between them, file straight."]
    if any(o.kind == "slot" and o.ends == "square" and o.path.layer == "cut" for part in parts for o in part.openings):
        sentences.append("Square slots have no drills here: cut them with a blade, or drill inside them and file the corners out.")
    if any(part.name == "tube-back" for part in parts):
        sentences.append("On the back face, across counts as seen from outside: + is up when the near end is on the left.")
    return Section("Holes", tuple(sentences), tuple(rows) if len(rows) > 1 else ())


def _place(part: Part, u: float, v: float, height: float) -> tuple[str, str]:
    """Of a hole: along the guide and across it; on an end, across it and above the inner face of the back wall."""
    if part.centre_line:
        return _mm(u), f"{v * 1e3:+.2f}"
    return f"end, {_mm(v + height)} above the back", f"{u * 1e3:+.2f}"


def _bending(parts: tuple[Part, ...]) -> Section:
    rows = [("part", "bends", "inside radius, mm", "K", "allowance, mm")]
    folds = {}
    for part in parts:
        if part.bends:
            fold = part.bends[0].fold
            folds[fold] = None
            rows.append((part.title, str(len(part.bends)), f"{fold.radius * 1e3:g}", f"{fold.neutral:.3f}", f"{fold.allowance * 1e3:.3f}"))
    sentences = ["All bends 90 degrees, and all dimensions in the record are inside dimensions."]
    for fold in folds:
        leg = (STRIP - fold.allowance) / 2 + fold.radius
        sentences.append(
            f"Test first: fold a strip of the {fold.thickness * 1e3:g} mm sheet, {_mm(STRIP, 1)} mm long, in its middle. Its inside legs must "
            f"be {_mm(leg)} mm. Where they are not, your tool bends with another radius or K: each 0.1 mm on the mean of both legs is "
            f"0.2 mm of allowance. Give the radius of your tool with --inside-radius, and K with --k-factor."
        )
    return Section("Bends", tuple(sentences), tuple(rows))


def _joints(record: Record, scene: Scene, making: Making, parts: tuple[Part, ...], probe: FeedPart | None) -> Section:
    sentences = [f"{name.capitalize()}: {_mm(length, 0)} mm of joint." for name, length in seam_lengths(scene, making).items()]
    sentences += [
        "Every joint must be closed all round: a gap radiates, and spoils match and pattern. Clean, flux, tack at a few points, measure, "
        "then run the joint. Keep solder out of the inside; what gets in counts as metal.",
    ]
    sentences += board_joints(record)
    if record.guide.material == "aluminium":
        sentences.append(
            "Aluminium does not take soft solder with the usual fluxes: have it welded, or screw and rivet with contacts closer than a "
            "twentieth of a wavelength (a rule of thumb). Where this list says tin or solder, screw down on bright metal instead."
        )
    if probe is not None:
        sentences += connector_joints(record.feed, has_screws(parts))
    return Section("Joints", tuple(sentences))


def _order(record: Record, scene: Scene, making: Making, parts: tuple[Part, ...], probe: FeedPart | None) -> Section:
    steps = ["Print at 100 %, measure both 100 mm bars on every sheet of paper, join the tiles, glue them to the metal."]
    if parts[0].name == "wrap":
        steps += _ROUND_STEPS
    elif making.make == "tube":
        steps.append("Saw the tube to length, square, and file its ends flat.")
        steps.append("Scribe the centre line on the front face; measure it from both edges, since stock is rarely true.")
    steps += front_steps(record)
    if any(part.bends for part in parts):
        steps.append("Cut the outlines; fold the test strip, then the blanks; check the inside width at both ends and in the middle.")
    if _folded(making, parts):
        if making.lip:
            steps.append("Fold the lips of the front wall; press them to the sides when it is on.")
    if probe is not None:
        steps += mounting_steps(record.feed)
    if _folded(making, parts):
        steps.append("Lay the front wall on the edges of the sides, clamp over the whole length, tack, check it is flat, run both seams.")
    steps += absorber_steps(scene)
    press = "; bend the tabs a little past square, so that they press on the outside of the box" if _tabbed(parts) else ""
    steps.append(f"{closing_words(record.feed)}{press}.")
    steps.append("Wash off the flux; measure the match before anything is glued, painted or sealed.")
    return Section("Order of work", tuple(f"{i}. {step}" for i, step in enumerate(steps, 1)))


def _folded(making: Making, parts: tuple[Part, ...]) -> bool:
    """Whether the guide itself is folded."""
    return making.make == "folded" and parts[0].name != "wrap"


def _tabbed(parts: tuple[Part, ...]) -> bool:
    """Whether an end cap has tabs."""
    return any(part.bends for part in parts if part.name.endswith("end"))


def _modelled(record: Record, scene: Scene, making: Making, parts: tuple[Part, ...]) -> Section:
    sentences = ["Walls, slots, feed hole and ends are those that the field solver computes, from the same record."]
    radius = max((b.fold.radius for p in parts if p.name == "back-and-sides" for b in p.bends), default=0.0)
    if radius:
        sentences.append(f"Not in its model: the inside radius of {radius * 1e3:g} mm along the two back edges, where it has sharp corners.")
    extra = [name for name, there in (("tabs", _tabbed(parts)), ("lips", _folded(making, parts) and making.lip > 0)) if there]
    if extra:
        sentences.append(f"Not in its model: {' and '.join(extra)}, which lie on the outside of the box.")
    if parts[0].name == "wrap":
        sentences.append("In its model the curved wall is stairs whose wave has the cutoff of the round tube; no dents, and round everywhere.")
    elif making.make == "tube":
        sentences.append("Not in its model: the rounded inner corners that drawn tube has.")
    sentences += [*absorber_unmodelled(scene), *unmodelled(record)]
    return Section("What the solver did not see", (*sentences, *unseen_words(record.feed, has_screws(parts))))


def _cautions(record: Record) -> Section:
    more = [
        "Eye protection whenever you drill, saw, mill or file; clamp thin sheet between wood; no gloves near what turns.",
        "Flux fumes harm the lungs: work with extraction or in the open. Lead belongs neither on hands nor on food.",
        "Dust of laminates and of metal: cut wet or with extraction, and wear a mask that is made for it.",
        "A closed box must be open somewhere while it is heated.",
    ]
    if record.guide.material == "zinc-coated steel":
        more.insert(0, "This record is for zinc-coated sheet: take the zinc off around every joint before heat comes near, or rivet and screw.")
    more += board_cautions(record)
    more += feed_cautions(record.feed)
    return Section("Cautions", (*more, *CAUTIONS, "Local rules and licensed practice decide; this list does not replace them."))
