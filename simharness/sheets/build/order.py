"""The order of work: what a fitter does, step by step, for this record and no other."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.advice.solder import lifting_room
from simharness.sheets.build.facts import Build
from simharness.sheets.build.feed_messages import mounting_steps
from simharness.sheets.build.laminate import board_on, rim_steps
from simharness.sheets.build.section import listed
from simharness.sheets.build.slot_messages import cutting_steps
from simharness.sheets.flat.interior import inside
from simharness.sheets.flat.parts import drill_table
from simharness.sheets.flat.probe import mm

VENT = "Drill a hole of 1 mm in a corner of the {end}: this box has no other opening, and air that is heated in it must get out."
_ROUND = (
    "Scribe the front line along the tube, laid in an angle iron, and the back line half-way round from the same set-up: the back line "
    "decides in which direction the wave stands, and the slots count from the front line.",
    "Wrap the template around the tube, its front line on the scribed one, and check that the back lines meet too.",
)


def order(build: Build) -> list[str]:
    """All steps from the printed sheet to the measurement."""
    return [
        *_paper(build),
        *_holes(build),
        *cutting_steps(build),
        *_bending(build),
        *mounting_steps(build),
        *_closing(build),
        *_finish(build),
    ]


def _paper(build: Build) -> Iterator[str]:
    first = "Print at 100 %, measure both 100 mm bars on every sheet of paper, and join the tiles of parts that go over several sheets"
    if build.folded:
        front = "" if build.board is None else ", that of the front wall to the board"
        if build.etched:
            front = "; that of the front wall is artwork for the copper of the board, a film or a pattern to cut along"
        yield f"{first}; glue each drawing to its sheet of metal{front}."
        return
    yield f"{first}."
    yield "Saw the tube to length, square, and file its ends flat."
    if build.round:
        yield from _ROUND
    else:
        yield (
            "Scribe the centre line on each face that is cut; measure it from both edges, since stock is rarely true. Glue the drawings on "
            "along it."
        )
    if build.ends:
        yield f"Cut out {listed([f'the {build.end(end)}' for end in build.ends])}."


def _holes(build: Build) -> Iterator[str]:
    """All round holes that are no slots."""
    counted: dict[tuple[str, float], int] = {}
    for part in build.parts:
        for name, _, diameter in drill_table(part):
            if not name.startswith("slot"):
                counted[name, diameter] = counted.get((name, diameter), 0) + 1
    words = [
        f"the {name} of {mm(diameter)}" if count == 1 else f"{count} {name}s of {mm(diameter)}"
        for (name, diameter), count in counted.items()
    ]
    if words:
        fit = "; open the hole for the tip until the wire just passes" if build.tip_wall else ""
        yield f"Punch, then drill {listed(words)} (see Holes){fit}; take the burr off, inside too."
    if build.sealed:
        yield VENT.format(end=build.end("far"))


def _bending(build: Build) -> Iterator[str]:
    if not build.folded:
        return
    x0, x1, y0, y1, *_ = inside(build.scene)
    caps = [build.end(end) for end in build.ends if build.tabbed]
    blanks = "back and sides" + (f"; fold {listed([f'the {cap}' for cap in caps])}" if caps else "")
    if build.tabbed and build.tip_wall and not build.tip_on_board:
        blanks += f" (of the {build.end('near')} not yet the tab over the {build.tip_wall} wall, which waits for the wire)"
    saw = "" if build.board is None else "; saw the board wet or with extraction, for its dust"
    yield f"Cut the outlines of all parts with snips or saw, with gloves{saw}."
    yield "Fold the test strip as under Bends, and measure it before you fold anything else."
    yield f"Fold {blanks}; check the inside with a caliper, {mm(x1 - x0)} wide and {mm(y1 - y0)} high, at both ends and in the middle."
    if build.lips:
        yield "Fold the lips of the front wall; they are pressed to the sides when it is on."


def _closing(build: Build) -> Iterator[str]:
    if not build.folded:
        yield from _tube_ends(build)
    elif build.board is None:
        yield from _metal_box(build)
    else:
        yield from _board_box(build)


def _join(build: Build) -> str:
    """What is done with a joint."""
    return "solder all round" if build.solders else "join all round as under Joints"


def _press(build: Build) -> str:
    return (
        ", its tabs bent a little past square so that they press on the outside of the box"
        if build.tabbed
        else ""
    )


def _tip(build: Build) -> str:
    """Soldering the tip from outside, the end of a sentence."""
    into = "all round from outside" if build.solders else "into its brass plate"
    return f"solder the tip {into} and file it flush"


def _metal_box(build: Build) -> Iterator[str]:
    """Front wall of metal: laid on the sides, then the ends; a soldered tip goes through its wall on the way."""
    front = f"Lay the front wall on the edges of the sides{', press its lips to them' if build.lips else ''}, clamp it over the whole length"
    seams = (
        "tack, check that it is flat, run both seams"
        if build.solders
        else "check that it is flat, and join both seams as under Joints"
    )
    if build.tip_wall:
        if build.tip_wall == "back":
            yield f"{_wire_through_back(build)}; {_join(build)} but along the front; {_tip(build)}."
            yield f"{front}; {seams}, and the near end along the front."
        else:
            straight = ", its tab over the front wall still unbent" if build.tabbed else ""
            bend = "bend that tab down; " if build.tabbed else ""
            yield f"Put the {build.end('near')} on back and sides{straight}, and {'tack' if build.solders else 'hold'} it."
            yield f"{front}, the wire through its hole; {seams}."
            yield f"At the near end, {bend}{_join(build)}; {_tip(build)}."
    else:
        yield f"{front}; {seams}."
    yield from _ends(build)


def _wire_through_back(build: Build) -> str:
    """The near end put on, its wire through the back wall; the beginning of a sentence."""
    if not build.tabbed:
        return f"Put the {build.end('near')} on back and sides, the wire through its hole in the back wall"
    return (
        f"Put the {build.end('near')} on back and sides, its tab over the back wall still unbent, until the wire is through its hole in that "
        f"wall; then bend the tab onto it"
    )


def _ends(build: Build) -> Iterator[str]:
    """Those that are not closed yet: the one last that gives no access to the wire, or that holds the absorber."""
    left = [end for end in build.ends if not (end == "near" and build.tip_wall)]
    if build.straight is not None and not build.absorber:
        left.reverse()
    for end in left:
        if end == "far" and build.absorber:
            yield from _absorber(build)
            continue
        look = (
            "Look once more at the height of the tip; put"
            if end == "near" and build.straight is not None
            else "Put"
        )
        wire = ", with its wire" if end == "near" and build.bent is not None else ""
        yield f"{look} the {build.end(end)} on{wire}{_press(build)}; {_join(build)}."
    yield from _open(build)


def _absorber(build: Build) -> Iterator[str]:
    foil = ", over the foil of the board" if build.board is not None and build.solders else ""
    plate, screw = build.end("far"), "screw its tabs down" if build.tabbed else "screw it to the angles"
    if build.solders:
        if not build.tabbed:
            yield f"Solder angles to the outside at the far end, for the screws of the {plate}."
        yield "Wash the flux off inside, and let it dry before the absorber goes in."
    yield (
        f"Fix the absorber inside, its thin end towards the slots; put the {plate} on{foil} and {screw}, bright metal on bright metal: an "
        f"absorber does not stand the heat of soldering."
    )


def _open(build: Build) -> Iterator[str]:
    for end in ("near", "far"):
        if end not in build.ends:
            yield f"Leave the {end} end open: it is a port, to be joined flush to a guide of the same inside."


def _board_box(build: Build) -> Iterator[str]:
    """The board lies over sides and ends: it closes the box, and what is soldered inside comes first."""
    for end in build.under_board:
        if end == "near" and build.tip_wall == "back":
            yield f"{_wire_through_back(build)}; {_join(build)} but for its edge under the board; {_tip(build)}."
            continue
        wire = ", with its wire" if end == "near" and build.bent is not None else ""
        yield f"Put the {build.end(end)} on back and sides{wire}{_press(build)}; {_join(build)} but for its edge under the board."
    yield from rim_steps(build)
    if build.tip_on_board:
        yield from _tip_inside(build)
    if build.sealed and build.solders and not build.absorber:
        yield "Wash the flux off inside, and let it dry: nothing can be washed out later, so use little of it from now on."
    yield board_on(build)
    if build.tip_on_board:
        yield f"{'Solder' if build.solders else 'Join as under Joints'} the {build.end('near')} all round to back and sides."
        if build.lined:
            yield "Solder the tip to the copper outside and file it flush."
        else:
            yield "File the tip flush outside with the bare board."
    if build.absorber:
        yield from _absorber(build)
    yield from _open(build)


def _tip_inside(build: Build) -> Iterator[str]:
    """The near end is joined to the board before either is joined to the box."""
    yield (
        f"Stand the {build.end('near')} upright on the copper of the board, at its near end, the wire through its hole; check the right angle and "
        f"the run of {mm(build.probe.run)}; solder the tip to the copper inside all round."  # type: ignore[union-attr]
    )
    if build.solders:
        yield (
            f"Solder the {build.end('near')} to the copper from inside, along its whole edge; look at both joints now, since nobody sees "
            f"them later."
        )


def _tube_ends(build: Build) -> Iterator[str]:
    if build.tip_wall:
        away = "nearer to the back" if build.tip_wall == "front" else "nearer to the front"
        through = mm(build.probe.through)  # type: ignore[union-attr]
        lack = lifting_room(build.record, build.bent)  # type: ignore[arg-type]
        room = (
            f" There is no room for this, {lack:.1f} mm too little: move the run, as 'simharness check' says."
            if lack > 0
            else ""
        )
        yield (
            f"Bring the {build.end('near')} up with its wire {through} {away} than its place, until the wire is under its hole in the "
            f"{build.wall(build.tip_wall)}; then move it into place.{room}"
        )
        yield f"At the near end, {_join(build)}; {_tip(build)}."
    yield from _ends(build)


def _finish(build: Build) -> Iterator[str]:
    where = "" if build.sealed or build.absorber or not build.solders else ", inside too"
    wash = f"wash off the flux{where}; " if build.flux else ""
    words = f"{wash}measure the match before anything is glued, painted or sealed; 'simharness compare' tells what differs from the run."
    yield words[0].upper() + words[1:]
