"""The order of work, step by step, for one record."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.records import Record
from simharness.sheets.build.facts import Build
from simharness.sheets.build.feed_messages import UNDER_LAMINATE
from simharness.sheets.build.laminate import lay_laminate, rim_steps
from simharness.sheets.build.marking import cutting_steps
from simharness.sheets.build.section import listed
from simharness.sheets.flat.coax import mm
from simharness.sheets.flat.part import drill_table
from simharness.sheets.flat.walls import inside

VENT = (
    "Drill a hole of 1 mm in a corner of the {end}: this box has no other opening, and air that is heated "
    "in it must get out."
)


def order(build: Build) -> list[str]:
    """All steps from the printed sheet to the measurement."""
    return [
        *_paper(build),
        *_holes(build),
        *cutting_steps(build),
        *_bending(build),
        *build.feed.mounting_steps(build),
        *_closing(build),
        *_finish(build),
        *setup_steps(build.record),
    ]


def _paper(build: Build) -> Iterator[str]:
    first = (
        "Print at 100 %, measure both 100 mm bars on every sheet of paper, and join the tiles of parts that "
        "go over several sheets"
    )
    if build.folded:
        front = "" if build.laminate is None else ", that of the front wall to the board"
        if build.etched:
            front = (
                "; that of the front wall is artwork for the copper of the board, a film or a pattern to "
                "cut along"
            )
        if build.record.cover is not None:
            front += ", that of the cover to its plastic"
        kept = "; templates for tape stay loose" if build.record.tape else ""
        yield f"{first}; glue each drawing to its sheet of metal{front}{kept}."
        return
    yield f"{first}."
    yield "Saw the tube to length, square, and file its ends flat."
    yield from build.shape.marking_steps()
    if build.ends:
        yield f"Cut out {listed([f'the {build.end(end)}' for end in build.ends])}."


def _holes(build: Build) -> Iterator[str]:
    """Drilling of all holes but those of slots."""
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
    folded = "back and sides" + (f"; fold {listed([f'the {cap}' for cap in caps])}" if caps else "")
    if build.tabbed and build.tip_wall and not build.tip_on_board:
        folded += (
            f" (of the {build.end('near')} not yet the tab over the {build.tip_wall} wall, which waits for "
            "the wire)"
        )
    saw = "" if build.laminate is None else "; saw the board wet or with extraction, for its dust"
    yield f"Cut the outlines of all parts with snips or saw, with gloves{saw}."
    yield "Fold the test strip as under Bends, and measure it before you fold anything else."
    yield (
        f"Fold {folded}; check the inside with a caliper, {mm(x1 - x0)} wide and {mm(y1 - y0)} high, at both "
        "ends and in the middle."
    )
    if build.lips:
        yield "Fold the lips of the front wall; they are pressed to the sides when it is on."


def _closing(build: Build) -> Iterator[str]:
    if not build.folded:
        yield from build.feed.into_tube(build)
        yield from _ends(build)
    elif build.laminate is None:
        yield from _metal_box(build)
    else:
        yield from _laminate_box(build)


def _metal_box(build: Build) -> Iterator[str]:
    """Front wall of metal: laid on the sides, then the ends."""
    lips = ", press its lips to them" if build.lips else ""
    front = f"Lay the front wall on the edges of the sides{lips}, clamp it over the whole length"
    seams = "check that it is flat, and join both seams as under Joints"
    if build.solders:
        seams = "tack, check that it is flat, run both seams"
    yield from build.feed.lay_front(build, front, seams)
    yield from _ends(build)


def _ends(build: Build) -> Iterator[str]:
    """The ends not closed yet; last the one that ends access to the wire, or that holds the absorber."""
    left = [end for end in build.ends if not (end == "near" and build.tip_wall)]
    if build.feed.near_end_last:
        left.reverse()
    for end in left:
        if end == "far" and build.absorber:
            yield from _absorber(build)
            continue
        put = build.feed.put_near_end(build) if end == "near" else f"Put the {build.end(end)} on"
        yield f"{put}{build.press}; {build.join}."
    yield from _open(build)


def _absorber(build: Build) -> Iterator[str]:
    foil = ", over the foil of the board" if build.laminate is not None and build.solders else ""
    plate, screw = build.end("far"), "screw its tabs down" if build.tabbed else "screw it to the angles"
    if build.solders:
        if not build.tabbed:
            yield f"Solder angles to the outside at the far end, for the screws of the {plate}."
        yield "Wash the flux off inside, and let it dry before the absorber goes in."
    yield (
        f"Fix the absorber inside, its thin end towards the slots; put the {plate} on{foil} and {screw}, "
        "bright metal on bright metal: an absorber does not withstand the heat of soldering."
    )


def _open(build: Build) -> Iterator[str]:
    for end in ("near", "far"):
        if end not in build.ends:
            yield f"Leave the {end} end open: it is a port, to be joined flush to a guide of the same inside."


def _laminate_box(build: Build) -> Iterator[str]:
    """The board lies over sides and ends: it closes the box, and what is soldered inside comes first."""
    for end in build.under_laminate:
        if end == "near":
            yield build.feed.near_end_under_laminate(build)
        else:
            yield f"Put the {build.end(end)} on back and sides{build.press}; {build.join} {UNDER_LAMINATE}."
    yield from rim_steps(build)
    yield from build.feed.before_laminate(build)
    if build.sealed and build.solders and not build.absorber:
        yield (
            "Wash the flux off inside, and let it dry: nothing can be washed out later, so use little of it "
            "from now on."
        )
    yield lay_laminate(build)
    yield from build.feed.after_laminate(build)
    if build.absorber:
        yield from _absorber(build)
    yield from _open(build)


def _finish(build: Build) -> Iterator[str]:
    where = "" if build.sealed or build.absorber or not build.solders else ", inside too"
    wash = f"wash off the flux{where}; " if build.flux else ""
    lid = "cut the cover and put it on as under Cover; " if build.record.cover is not None else ""
    words = (
        f"{wash}{lid}measure the match before anything is glued, painted or sealed; 'simharness compare' "
        "tells what differs from the run."
    )
    yield words[0].upper() + words[1:]


def setup_steps(record: Record) -> Iterator[str]:
    """How it is put up: tilt, pole or wall, second antenna; none of it is on the sheets."""
    mast, pair, tilt = record.mast, record.pair, record.mounting.tilt_deg
    if pair is not None:
        apart = {
            "beside": f"from axis to axis {pair.distance_mm:g} mm",
            "above": f"{pair.distance_mm:g} mm between the ends that face each other",
            "back to back": f"{pair.distance_mm:g} mm between the outer faces of the backs",
        }[pair.place]
        fed = (
            "feed both in phase, through equal lengths of cable from a splitter"
            if pair.fed == "in phase"
            else "end the one that is not fed in a matched load"
        )
        yield f"Build a second one, equal to it, and mount it {pair.noun}: {apart}; {fed}."
    if mast is not None:
        size = f" of {mast.diameter_mm:g} mm" if mast.diameter_mm is not None else ""
        yield (
            f"Mount it parallel to the {mast.noun}{size}, {mast.distance_mm:g} mm clear of it, the "
            f"{mast.noun} {_where(mast.direction_deg)}; brackets and cable are not in "
            "the model: keep them off the slots."
        )
    if tilt:
        towards = "down" if tilt > 0 else "up"
        yield f"Tilt it so that its front looks {towards} by {abs(tilt):g} deg."


def _where(direction: float) -> str:
    if abs(direction) == 180:
        return "straight behind"
    if direction == 0:
        return "straight ahead"
    return f"{abs(direction):g} deg from the front towards {'+x' if direction > 0 else '-x'}"
