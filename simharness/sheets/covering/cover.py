"""The sheets that cover the slots, as parts of plastic."""

from __future__ import annotations

from dataclasses import replace

from simharness.geometry.scene import Scene
from simharness.geometry.solids import COVERS
from simharness.records import Cover, Record
from simharness.sheets.flat.part import FROM_OUTSIDE, Part
from simharness.sheets.flat.paths import rectangle_path
from simharness.sheets.flat.walls import thickness, wall, wall_openings


def cover_parts(record: Record, scene: Scene) -> tuple[Part, ...]:
    """A part for each sheet, seen from outside, with what lies under it; none without a cover.

    Parameters
    ----------
    scene : Scene
        Of the record.
    """
    cover = record.cover
    if cover is None:
        return ()
    found = []
    for face in cover.faces:
        sheet = wall(scene, COVERS[face])
        x0, x1, _, _, z0, z1 = sheet.bounds()
        under = [o.path for o in wall_openings(scene, f"{face} wall", mirror=face == "back")]
        if cover.overhang:
            by = cover.overhang
            under.append(rectangle_path(z0 + by, z1 - by, x0 + by, x1 - by))
        found.append(
            Part(
                place="cover",
                name=f"{face}-cover",
                title=f"{face.capitalize()} cover",
                view=FROM_OUTSIDE,
                thickness=thickness(sheet),
                outline=rectangle_path(z0, z1, x0, x1),
                centre_line=True,
                beneath=tuple(replace(path, layer="note", dashed=True) for path in under),
                material=_material(cover),
                notes=(
                    f"Plastic, not metal. {_held(cover)}",
                    "Broken lines: what lies under it; fix nothing over a slot.",
                ),
            )
        )
    return tuple(found)


def _material(cover: Cover) -> str:
    if cover.material is not None:
        return cover.material
    return f"plastic of permittivity {cover.permittivity:g}, loss tangent {cover.loss_tangent:g}"


def _held(cover: Cover) -> str:
    if cover.gap_mm:
        return f"It is held {cover.gap_mm:g} mm off the wall by spacers over the side walls."
    return "It lies flat on the wall, without air under it."
