"""A front wall of laminate: what it is called, how it is made, and with what care; words only."""

from __future__ import annotations

from dataclasses import replace

from simharness.errors import InputError
from simharness.records import Guide, Record
from simharness.sheets.parts import Making, Part


def require_foldable(record: Record, making: Making) -> None:
    """Refuse ways of making that a laminate does not stand.

    Raises
    ------
    InputError
        A stock tube, which has a front wall of its own, or lips: laminate cannot be folded.
    """
    if record.guide.laminate is None:
        return
    if making.make == "tube":
        raise InputError("make", "tube", "a stock tube has a front wall of its own; a laminate front needs 'folded'")
    if making.lip > 0:
        raise InputError("lip", f"{making.lip * 1e3:g} mm", "laminate cannot be folded; a laminate front needs lips of 0")


def board_name(guide: Guide) -> str:
    """The board to buy; empty without one."""
    board = guide.laminate
    if board is None:
        return ""
    faces = "both faces" if board.copper == "both" else "one face"
    return (
        f"laminate of {guide.front_wall_mm:g} mm with {board.copper_um:g} um of copper on {faces}, permittivity "
        f"{board.permittivity:g}, loss tangent {board.loss_tangent:g}"
    )


def with_board_words(parts: tuple[Part, ...], record: Record) -> tuple[Part, ...]:
    """The parts, the front wall with the words of its laminate."""
    board = record.guide.laminate
    if board is None:
        return parts
    faces = "both faces" if board.copper == "both" else "the inner face"
    if board.slots == "etched":
        notes = (
            "Artwork, not a cut: take the copper off inside the outlines of layer ETCH, and leave the substrate whole.",
            "Copper side view, the mirror image of the front. As a template lay it on the copper as it is; print a film whose ink "
            "shall touch the copper as a mirror image of this.",
        )
    elif board.copper == "both":
        notes = ("Rout the slots through, then line their edges with copper soldered to both faces.",)
    else:
        notes = ("Rout the slots through copper and substrate; the copper is on the other face.",)
    material = f"laminate, copper on {faces}"
    return tuple(replace(p, material=material, notes=notes) if p.name == "front-wall" else p for p in parts)


def front_steps(record: Record) -> list[str]:
    """How the openings are made."""
    board = record.guide.laminate
    if board is None:
        return ["Punch and drill, then cut and file the slots; take the burr off, inside too."]
    steps = ["Punch and drill the feed hole; take the burr off, inside too."]
    if board.slots == "etched":
        steps.append(
            "Etch the slots, or cut the copper with a knife and a rule and peel it off; measure every slot: under-etching "
            "makes it longer and wider."
        )
    else:
        steps.append("Rout the slots through the board; take the burr off the copper.")
    if board.copper == "both":
        steps.append("Line the edges of every slot with thin copper, soldered to both faces all round.")
    return steps


def board_joints(record: Record) -> list[str]:
    """How the board is joined to the box."""
    if record.guide.laminate is None:
        return []
    return [
        "The board lies with its copper on the edges of sides and end caps: run the joint from inside where you can reach, or leave "
        "a strip of copper to solder to outside lugs; heat briefly, since copper lifts off the substrate."
    ]


def unmodelled(record: Record) -> list[str]:
    """What of the board the solver does not have."""
    board = record.guide.laminate
    if board is None:
        return []
    return [
        f"Not in its model: the {board.copper_um:g} um of the copper, which has no thickness there, solder mask and lacquer, and what "
        f"permittivity your board really has."
    ]


def board_cautions(record: Record) -> list[str]:
    """Glass dust and etchant."""
    board = record.guide.laminate
    if board is None:
        return []
    care = ["Dust of glass-fibre laminate harms lungs, eyes and skin: cut it wet or with extraction, wear a mask for fine dust, never blow it off."]
    if board.slots == "etched":
        care.append(
            "Etchants burn skin and eyes and eat metal: gloves, goggles, fresh air, plastic vessels; add acid to water, never the "
            "reverse; spent etchant is hazardous waste and never goes down the drain."
        )
    return care
