"""Templates for tape over the ends of slots: a window as wide as the slot, and as wide as the tape beyond its
edge."""

from __future__ import annotations

from dataclasses import replace

from shapely import affinity
from shapely.geometry import box
from shapely.ops import unary_union

from simharness.geometry.scene import Scene
from simharness.geometry.solids import TAPE_PART
from simharness.records import Record
from simharness.sheets.flat.part import FROM_OUTSIDE, Opening, Part
from simharness.sheets.flat.paths import polygon_path, rectangle_path
from simharness.sheets.flat.walls import thickness, wall_openings

RIM = 8e-3
"""Width of the paper around a window, m; a choice."""


def tape_templates(record: Record, scene: Scene) -> tuple[Part, ...]:
    """A template for each piece of tape, in the order of the record, seen from outside; none without tape.

    It counts along from the edge of the tape across the slot, and across from the middle of the slot.

    Parameters
    ----------
    scene : Scene
        Of the record.
    """
    pieces = [prism for prism in scene.prisms if prism.part == TAPE_PART]
    found = []
    for tape, prism in zip(record.tape, pieces, strict=True):
        slot = record.slots[tape.slot - 1]
        mirror = slot.face == "back"
        opening = next(
            o for o in wall_openings(scene, f"{slot.face} wall", mirror=mirror) if o.number == tape.slot
        )
        x0, z0, x1, z1 = prism.outline.polygon().bounds
        piece = box(z0, -x1, z1, -x0) if mirror else box(z0, x0, z1, x1)
        edge = z0 if tape.end == "far" else z1
        piece, hole = (
            affinity.translate(shape, -edge, -opening.centre[1]) for shape in (piece, opening.path.polygon())
        )
        window = unary_union([piece, hole])
        u0, v0, u1, v1 = window.bounds
        low, across_low, high, across_high = piece.bounds
        found.append(
            Part(
                place="template",
                name=f"tape-slot-{tape.slot}-{tape.end}",
                title=f"Tape, slot {tape.slot} {tape.end}",
                view=FROM_OUTSIDE,
                thickness=thickness(prism),
                outline=rectangle_path(u0 - RIM, u1 + RIM, v0 - RIM, v1 + RIM),
                openings=(
                    Opening(
                        "window",
                        0,
                        polygon_path(window),
                        ((u0 + u1) / 2, (v0 + v1) / 2),
                        u1 - u0,
                        v1 - v0,
                        "",
                    ),
                ),
                centre_line=True,
                guides=(replace(rectangle_path(low, high, across_low, across_high, "note"), dashed=True),),
                material="paper",
                notes=(
                    "A template, not a part: cut the window out, lay its narrow end on the open slot, and "
                    f"set copper tape of {_mm(low, high)} x {_mm(across_low, across_high)} mm into the wide "
                    "end.",
                    f"The tape then covers the last {tape.covers_mm:g} mm of the slot, its edge at 0.",
                ),
            )
        )
    return tuple(found)


def _mm(low: float, high: float) -> str:
    return f"{(high - low) * 1e3:.1f}"
