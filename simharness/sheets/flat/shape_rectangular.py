"""The parts of a rectangular guide: a box folded from sheet, or slots cut in a stock tube.

Parts lie in a plane (u, v): walls as seen from the slotted side, u along the guide (z) and v across
(x); end caps as seen from inside the guide, v upwards to the slotted side. Nothing is dimensioned
here that the scene holds: outlines, openings and thicknesses are its prisms'.
"""

from __future__ import annotations

from dataclasses import replace

from simharness.errors import InputError
from simharness.geometry.scene import Scene
from simharness.geometry.solids import SUBSTRATE, Prism
from simharness.sheets.flat.end_caps import CLEARANCE, end_caps
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.part import FROM_OUTSIDE, Part, Place
from simharness.sheets.flat.paths import rectangle_path
from simharness.sheets.flat.pattern import Bend, Flap, flat_pattern, winged_pattern
from simharness.sheets.flat.walls import (
    SAME,
    absorber_mark,
    closed_ends,
    inside,
    lands,
    tape_marks,
    thickness,
    wall,
    wall_openings,
    wings,
)


class RectangularShape:
    """Answers `shapes.FlatShape` for a rectangular guide."""

    def parts(self, scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
        """The folded box or the faces of the stock tube, and the ends."""
        return _folded(scene, fabrication) if fabrication.make == "folded" else _tube(scene, fabrication)

    def seam_lengths(self, scene: Scene, fabrication: Fabrication) -> dict[str, float]:
        """Around the ends, and along the front wall of a folded box; m."""
        x0, x1, y0, y1, z0, z1 = inside(scene)
        found = {f"{end} end": 2 * (x1 - x0 + y1 - y0) for end in closed_ends(scene)}
        if fabrication.make == "folded":
            found |= {"front wall to sides": 2 * (z1 - z0)}
        if (strip := wings(scene)) is not None and fabrication.wings == "soldered":
            found |= {"wings to the guide": 2 * strip.length}
        return found


def _folded(scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
    substrate = next((prism for prism in scene.prisms if prism.part == SUBSTRATE), None)
    front = _front(scene, fabrication) if substrate is None else _laminate_front(scene, substrate)
    return (
        front,
        _back_and_sides(scene, fabrication),
        *end_caps(scene, fabrication),
        *_strips(scene, fabrication),
    )


def _strips(scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
    """Wings that are strips of their own, drawn once."""
    strip = wings(scene)
    if strip is None or fabrication.wings == "folded":
        return ()
    half = strip.length / 2
    return (
        Part(
            place="beside",
            name="wing",
            title="Wing, two alike",
            view="from its front",
            thickness=strip.thickness,
            outline=rectangle_path(-half, half, 0.0, strip.width),
            notes=("Two of it, one for each side.",),
        ),
    )


def _front(scene: Scene, fabrication: Fabrication) -> Part:
    """The slotted wall between the end caps, lying on the edges of the sides."""
    *_, z0, z1 = inside(scene)
    prism = wall(scene, "front wall")
    x0, x1, *_ = prism.bounds()
    fold, bends = fabrication.fold(thickness(prism)), tuple[Bend, ...]()
    strip = wings(scene) if fabrication.wings == "folded" else None
    if strip is not None:
        bent = fabrication.fold(strip.thickness, abs(strip.angle)) if strip.angle else None
        outline, bends = winged_pattern((z0, z1, x0, x1), strip.width, bent, strip.angle < 0)
    elif fabrication.lip > 0:
        # The bend begins outside the edge that the wall lies on, so that the wall is whole up to there.
        room = (fabrication.tab + CLEARANCE) if fabrication.tab else 0.0
        flaps = (
            Flap("v-", fabrication.lip, z0 + room, z1 - room),
            Flap("v+", fabrication.lip, z0 + room, z1 - room),
        )
        outline, bends = flat_pattern((z0, z1, x0 - fold.radius, x1 + fold.radius), flaps, fold)
    else:
        outline = rectangle_path(z0, z1, x0, x1)
    holes = wall_openings(scene, "front wall")
    guides, labels = absorber_mark(scene, x0, x1)
    return Part(
        place="front",
        name="front-wall",
        title="Front wall",
        view=FROM_OUTSIDE,
        thickness=thickness(prism),
        outline=outline,
        openings=holes,
        bends=bends,
        lands=lands(holes, fabrication),
        centre_line=True,
        away=strip is None or strip.angle < 0,
        guides=(*guides, *tape_marks(scene, "front wall")),
        labels=labels,
    )


def _laminate_front(scene: Scene, substrate: Prism) -> Part:
    """A laminate with its copper inside, over sides and end caps; etched slots are seen from the copper."""
    etched = not substrate.outline.holes
    x0, x1, _, _, z0, z1 = substrate.bounds()
    holes = wall_openings(scene, "front wall", mirror=etched)
    if etched:
        holes = tuple(replace(hole, path=replace(hole.path, layer="etch")) for hole in holes)
    return Part(
        place="front",
        name="front-wall",
        title="Front wall",
        view="from the copper, the inside" if etched else FROM_OUTSIDE,
        thickness=thickness(substrate),
        outline=rectangle_path(z0, z1, x0, x1),
        openings=holes,
        centre_line=True,
        mirrored=etched,
    )


def _back_and_sides(scene: Scene, fabrication: Fabrication) -> Part:
    """Back and both sides as one flat pattern; the sides end at the inner face of the front wall."""
    x0, x1, y0, y1, z0, z1 = inside(scene)
    prism = wall(scene, "back wall")
    fold = fabrication.fold(thickness(prism))
    flaps = (Flap("v-", y1 - y0, z0, z1), Flap("v+", y1 - y0, z0, z1))
    outline, bends = flat_pattern((z0, z1, x0, x1), flaps, fold)
    holes = wall_openings(scene, "back wall")
    return Part(
        place="back",
        name="back-and-sides",
        title="Back and sides",
        view="from inside",
        thickness=thickness(prism),
        outline=outline,
        openings=holes,
        bends=bends,
        lands=lands(holes, fabrication),
        centre_line=True,
        guides=tape_marks(scene, "back wall"),
    )


def _tube(scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
    """Two faces of a length of stock tube to be cut into, and plain plates for its ends.

    Raises
    ------
    InputError
        The walls are of two thicknesses.
    """
    front, back = thickness(wall(scene, "front wall")), thickness(wall(scene, "back wall"))
    if abs(front - back) > SAME:
        raise InputError(
            "guide.front_wall_mm",
            f"{front * 1e3:g}",
            f"a stock tube has walls of one thickness: must equal other_walls_mm {back * 1e3:g}, "
            "or make the box 'folded'",
        )
    found = [_tube_face(scene, fabrication, "front")]
    if wall_openings(scene, "back wall"):
        found.append(_tube_face(scene, fabrication, "back"))
    return (*found, *end_caps(scene, replace(fabrication, tab=0.0)), *_strips(scene, fabrication))


def _tube_face(scene: Scene, fabrication: Fabrication, place: Place) -> Part:
    *_, z0, z1 = inside(scene)
    front = wall(scene, "front wall")
    x0, x1, *_ = front.bounds()
    holes = wall_openings(scene, f"{place} wall", mirror=place == "back")
    guides, labels = absorber_mark(scene, x0, x1)
    return Part(
        place=place,
        name=f"tube-{place}",
        title=f"{place.capitalize()} face of the tube",
        view=FROM_OUTSIDE,
        thickness=thickness(front),
        outline=rectangle_path(z0, z1, x0, x1, "note"),
        openings=holes,
        lands=lands(holes, fabrication),
        centre_line=True,
        guides=(*guides, *tape_marks(scene, f"{place} wall", mirror=place == "back")),
        labels=labels,
    )
