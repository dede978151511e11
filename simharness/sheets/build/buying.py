"""What to buy, with amounts."""

from __future__ import annotations

from simharness.geometry.mending import TAPE_OVERLAP
from simharness.sheets.build.facts import Build
from simharness.sheets.build.laminate import foil_to_buy, laminate_name
from simharness.sheets.build.section import Section
from simharness.sheets.flat.walls import PITCHES, absorber_room, is_tapped

SPARE = 5e-3
"""Added on each side of a flat part for clamping and sawing, m; a choice."""


def materials(build: Build) -> Section:
    """The first section: sheets, tube, absorber, feed."""
    rows: list[tuple[str, ...]] = [("part", "sheet, mm", "blank, mm", "area, cm2", "buy at least, mm")]
    for part in build.parts:
        if part.outline.layer == "cut" and part.place != "template":
            length, width = part.size
            rows.append(
                (
                    part.title,
                    f"{part.thickness * 1e3:g}",
                    f"{_mm(length)} x {_mm(width)}",
                    f"{length * width * 1e4:.1f}",
                    f"{_mm(length + 2 * SPARE, 0)} x {_mm(width + 2 * SPARE, 0)}",
                )
            )
    spare = (
        f" 'Buy at least' adds {_mm(SPARE, 0)} mm on each side for clamping and sawing."
        if len(rows) > 1
        else ""
    )
    sentences = [f"{_metal(build)}{spare}"]
    if build.laminate is not None:
        sentences.append(f"Front wall: {laminate_name(build.guide)}.")
    sentences += [
        *build.shape.stock(build),
        *foil_to_buy(build),
        *absorber_to_buy(build),
        *build.feed.to_buy(build),
    ]
    return Section("Materials", tuple(sentences), tuple(rows) if len(rows) > 1 else ())


def _metal(build: Build) -> str:
    if build.guide.material == "perfect":
        return "Metal: the record names none; copper, brass and tin plate take solder."
    return f"Metal: {build.guide.material}."


def cover_section(build: Build) -> Section:
    """How the cover is cut and held; empty without one."""
    cover = build.record.cover
    if cover is None:
        return Section("Cover")
    permittivity, loss_tangent = cover.constants
    sheets = "sheet" if len(cover.faces) == 1 else "sheets, one for each broad wall"
    held = (
        "Hold it at its rim, on spacers of plastic or on two strips of foam along the side walls "
        f"{cover.gap_mm:g} mm high, nothing but air over the slots"
        if cover.gap_mm
        else "Lay it flat on the wall and fix it at its rim with tape or a line of sealant, none over a "
        "slot: air left under it moves the match"
    )
    said = [
        f"Cover: {cover.text}, {sheets} cut as in the table above, permittivity {permittivity:g}, loss "
        f"tangent {loss_tangent:g}.",
        f"{held}. Metal screws stay at the rim, over the side walls (common practice).",
        "The slots are made for this sheet: measure the match with it on, and take no other plastic and "
        "no paint with metal or carbon in it.",
        "A closed cover sweats inside: leave a small hole of 2 to 3 mm at the lowest place for the water, "
        "away from the slots (common practice).",
    ]
    if "back" in cover.faces and build.record.feed.coax_wall == "back":
        said.append(
            "Cut an opening for the connector into the sheet of the back, as wide as its nut or flange."
        )
    return Section("Cover", tuple(said))


def absorber_to_buy(build: Build) -> tuple[str, ...]:
    """The absorber at the far end; nothing without one."""
    room = absorber_room(build.scene)
    if room is None:
        return ()
    (start, end), (shape, thick) = room, build.shape.absorber(build)
    return (
        f"Absorber: a {shape} of lossy foam, or of wood with graphite, {_mm(end - start, 0)} mm long and "
        f"{thick} at its thick end: its thin end {_mm(start)} mm from the near end, its thick end against "
        f"the {build.end('far')}. Longer is better.",
    )


def absorber_unmodelled(build: Build) -> tuple[str, ...]:
    """What of the absorber the solver's model lacks."""
    if not build.absorber:
        return ()
    return (
        "In its model the absorber reflects nothing at all; what a real one sends back shows in the match "
        "and as a second, weaker beam.",
    )


def _mm(length: float, digits: int = 2) -> str:
    return f"{length * 1e3:.{digits}f}"


def tuning_screws(build: Build) -> tuple[str, ...]:
    """Screws through the back wall: where, how far in, how they are held; nothing without them."""
    wall, found, nuts = build.guide.thickness_mm("back"), [], False
    for i, screw in enumerate(build.record.screw, 1):
        pitch, tapped = PITCHES.get(screw.diameter_mm), is_tapped(screw.diameter_mm, wall)
        nuts = nuts or not tapped
        size = f"M{screw.diameter_mm:g}" if pitch else f"{screw.diameter_mm:g} mm thick"
        turn = f"; one turn is {pitch:g} mm" if pitch else ""
        found.append(
            f"Screw {i}, {size}, in a {'thread in the wall' if tapped else 'nut on the wall'}: its tip "
            f"{screw.depth_mm:g} mm inside the guide, {wall + screw.depth_mm:g} mm below the outer face of "
            f"the back wall{turn}."
        )
    if not found:
        return ()
    if nuts:
        yields = "solder it all round" if build.solders else "press or rivet it in, the wall takes no solder"
        found.append(f"A nut goes over its hole outside: {yields}.")
    found.append(
        "Metal screws with a flat end, locked by a nut outside and in contact with the wall all round: "
        "without that no figure holds. Count turns from where the tip is level with the inner face, then "
        "watch S11."
    )
    return tuple(found)


def mending(build: Build) -> tuple[str, ...]:
    """Tape over the ends of slots, and plates inside the ends; nothing without them."""
    record, guide = build.record, build.guide
    found = []
    for end, place in (("near", guide.near_plate_mm), ("far", guide.far_plate_mm)):
        if place is not None:
            size = f"{guide.width_mm:g} x {guide.height_mm:g} x {min(guide.thickness_mm('near'), place):g} mm"
            found.append(
                f"Plate inside the {end} end: {build.metal}, {size}, fitted without play and square across "
                f"the guide, its inner face {place:g} mm from the inner face of the end; joined to the walls "
                "all round. Fix it before the guide is closed, or slide it in on a rod and measure its depth."
            )
    for tape in record.tape:
        slot = record.slots[tape.slot - 1]
        sign = 1 if tape.end == "far" else -1
        edge = slot.position_mm + sign * (slot.length_mm / 2 - tape.covers_mm)
        found.append(
            f"Tape on slot {tape.slot}: over the last {tape.covers_mm:g} mm of its {tape.end} end, its "
            f"edge square across the slot at {edge:.1f} mm from the near end; from there "
            f"{TAPE_OVERLAP * 1e3:g} mm beyond the slot on the three other sides."
        )
    if record.tape:
        joint = "tack its edge with solder" if build.solders else "press it down firmly on bright metal"
        found.append(
            "Copper foil tape, each piece in the window of its paper template on the sheets. The model "
            "takes it as joined to the wall all round: glue insulates, so "
            f"{joint}, above all along its edge across the slot."
        )
    return tuple(found)
