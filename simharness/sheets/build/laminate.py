"""What the build list says of a front wall of laminate: what to buy, how it is made and joined."""

from __future__ import annotations

from dataclasses import replace

from simharness.advice.solder import contact_spacing
from simharness.errors import InputError
from simharness.records import Guide, Record
from simharness.sheets.build.facts import Build
from simharness.sheets.build.section import listed
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.part import Part

LAP = 3e-3
"""How far foil laps on the copper of a board, m; a choice."""
RIM_FOIL = 10e-3
"""Width of the foil along its rim, m; a choice."""


def require_foldable(record: Record, fabrication: Fabrication) -> None:
    """Refuse a make that does not suit a laminate.

    Raises
    ------
    InputError
        A stock tube, which has a front wall of its own, or lips: laminate cannot be folded.
    """
    if record.guide.laminate is None:
        return
    if fabrication.make == "tube":
        raise InputError(
            "make", "tube", "a stock tube has a front wall of its own; a laminate front needs 'folded'"
        )
    if fabrication.lip > 0:
        raise InputError(
            "lip",
            f"{fabrication.lip * 1e3:g} mm",
            "laminate cannot be folded; a laminate front needs lips of 0",
        )


def laminate_name(guide: Guide) -> str:
    """The board to buy; empty without one."""
    laminate = guide.laminate
    if laminate is None:
        return ""
    faces = "both faces" if laminate.copper == "both" else "one face"
    return (
        f"laminate of {guide.thickness_mm('front'):g} mm with {laminate.copper_um:g} um of copper on "
        f"{faces}, permittivity {laminate.permittivity:g}, loss tangent {laminate.loss_tangent:g}"
    )


def with_laminate_notes(parts: tuple[Part, ...], record: Record) -> tuple[Part, ...]:
    """The parts, the front wall with the material and the notes of its laminate."""
    laminate = record.guide.laminate
    if laminate is None:
        return parts
    faces = "both faces" if laminate.copper == "both" else "the inner face"
    notes: tuple[str, ...]
    if laminate.slots == "etched":
        notes = (
            "Artwork, not a cut: take the copper off inside the outlines of layer ETCH, and leave the "
            "substrate whole.",
            "Copper side view, the mirror image of the front. As a template lay it on the copper as it is; "
            "print a film whose ink shall touch the copper as a mirror image of this.",
        )
    elif laminate.copper == "both":
        notes = ("Rout the slots through, then line their edges with copper soldered to both faces.",)
    else:
        notes = ("Rout the slots through copper and substrate; the copper is on the other face.",)
    material = f"laminate, copper on {faces}"
    return tuple(replace(p, material=material, notes=notes) if p.place == "front" else p for p in parts)


def slot_steps(build: Build) -> tuple[str, ...]:
    """How the slots come into the board."""
    if build.etched:
        return (
            "Etch the slots into the copper of the board, or cut the copper along their outlines with a "
            "knife and a rule and peel it off (gloves, goggles and fresh air for the etchant). "
            "Under-etching makes a slot longer and wider.",
        )
    routed = (
        f"Rout the slots through the board{cutter_message(build)} (glass dust: wet or with extraction, and a "
        "mask); take the burr off the copper."
    )
    if not build.lined:
        return (routed,)
    return (
        routed,
        f"Line the edges of every slot: thin copper foil, {LAP * 1e3:.0f} mm wide on both faces, soldered "
        "to both faces all round.",
    )


def cutter_message(build: Build) -> str:
    """The tool, where the files are made for one; a piece of a sentence."""
    return f" with the {build.cutter * 1e3:g} mm cutter along the path in the DXF" if build.cutter else ""


def foil_lengths(build: Build) -> tuple[float, float]:
    """Copper foil for the rim of the board and for the edges of its slots, m; 0 where there is none."""
    if build.laminate is None or not build.solders:
        return 0.0, _edges(build)
    front = next(part for part in build.parts if part.place == "front")
    length, width = front.size
    crossing = [end for end in build.ends if not (end == "near" and build.tip_on_board)]
    return 2 * length + len(crossing) * width, _edges(build)


def _edges(build: Build) -> float:
    """Length round all slots that are lined, m."""
    return sum(o.path.line().length for o in build.slots) if build.lined else 0.0


def foil_to_buy(build: Build) -> tuple[str, ...]:
    """The foil to buy."""
    rim, edges = foil_lengths(build)
    found = []
    if rim:
        found.append(f"{rim * 1e3:.0f} mm of {RIM_FOIL * 1e3:.0f} mm width for the rim of the board")
    if edges:
        width = build.guide.thickness("front") + 2 * LAP
        found.append(f"{edges * 1e3:.0f} mm of {width * 1e3:.1f} mm width for the edges of the slots")
    return (f"Copper foil, 0.05 to 0.1 mm thick: {', '.join(found)}.",) if found else ()


def rim_steps(build: Build) -> tuple[str, ...]:
    """How the rim is prepared, before the board is laid on the box."""
    if not build.solders:
        return ()
    edges = [
        "both sides",
        *(f"the {end} end" for end in build.ends if not (end == "near" and build.tip_on_board)),
    ]
    where = "on the outside" if build.lined else f"on the copper, {LAP * 1e3:.0f} mm wide,"
    return (
        f"Solder strips of foil {where} along {listed(edges)} of the board, so that the rest stands out "
        "past its edge; heat briefly, since copper lifts off the substrate.",
    )


def lay_laminate(build: Build) -> str:
    """How the board is laid on and joined, a sentence."""
    face = "one copper face" if build.lined else "its copper"
    if not build.solders:
        return f"Lay the board with {face} on the edges of the sides and hold it as under Joints says."
    reach = listed(["sides", *(f"{end} end" for end in build.under_laminate)])
    return (
        f"Lay the board with {face} on the bright edges of the {reach}, clamp it over the whole length, fold "
        "the foil down on their outside and solder it there."
    )


def laminate_joints(build: Build) -> tuple[str, ...]:
    """How the board is joined to the box."""
    if build.laminate is None:
        return ()
    if not build.solders:
        return (
            f"The board cannot be soldered to {build.guide.material}, and as drawn it has no rim for "
            "screws: take brass, copper or tin plate for back and sides, or cut the board 10 mm wider all "
            "round and screw it down on angles that are riveted outside, flush with the edges; contacts no "
            f"farther apart than {contact_spacing(build.record) * 1e3:.1f} mm (a twentieth of a wavelength, "
            "common practice).",
        )
    why = (
        "copper outside and the foil over the edge close the joint"
        if build.lined
        else (
            "outside it is bare, so nothing can be soldered there, and the joint is made by foil that is "
            "soldered to the copper first"
        )
    )
    return (
        f"The board lies with {'one copper face' if build.lined else 'its copper'} on the edges of the box; "
        f"{why}.",
    )


def laminate_unmodelled(build: Build) -> tuple[str, ...]:
    """What of the board the solver's model lacks."""
    laminate = build.laminate
    if laminate is None:
        return ()
    if build.lined:
        return (
            "In its model the board is metal as thick as it is: no substrate between its faces, and slots "
            "closed all round by their lining.",
        )
    foil = ", the foil along its rim" if build.solders else ""
    tip = ", the piece of wire in its substrate" if build.tip_on_board else ""
    return (
        f"Not in its model: the {laminate.copper_um:g} um of the copper, which has no thickness "
        f"there{foil}{tip}, solder mask and lacquer, and what permittivity your board really has.",
    )
