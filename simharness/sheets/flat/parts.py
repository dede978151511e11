"""From the scene that the solver sees to the flat parts that are cut.

Parts lie in a plane (u, v): walls as seen from the slotted side, u along the guide (z) and v across
(x); end caps as seen from inside the guide, v upwards to the slotted side. Nothing is dimensioned
here that the scene holds: outlines, openings and thicknesses are its prisms'.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from shapely import affinity
from shapely.geometry import Point, Polygon

from simharness.errors import InputError
from simharness.geometry.scene import Scene
from simharness.geometry.solids import SUBSTRATE, Prism
from simharness.sheets.flat.bend import Fold
from simharness.sheets.flat.interior import absorber_mark, inside
from simharness.sheets.flat.pattern import Bend, Flap, blank
from simharness.sheets.flat.round_parts import disc, tube_wall, wrap_guides, wrap_openings, wrap_outline
from simharness.sheets.flat.shapes import (
    Opening,
    Pair,
    Path,
    Text,
    circle_path,
    opening,
    polygon_path,
    rectangle_path,
)

CLEARANCE = 1e-3
"""Between a tab or lip and the next opening, land or flap, m; a choice."""
MIN_TAB = 3e-3
"""Tabs lower than this are left off, m; a choice."""
SAME = 1e-9
"""Coordinates that differ by less are the same, m."""


@dataclass(frozen=True)
class Fabrication:
    """How the box is made; lengths in m.

    Attributes
    ----------
    make : 'folded' (back and sides as one blank, front wall and caps apart) or 'tube' (stock tube, end plates).
    radius : inside radius of bends; None: the thickness of the sheet bent; 0 with `scored`.
    factor : neutral factor (K); None: `bend.neutral_factor`.
    scored : bends are scored on the inside and folded sharp.
    tab : height of the end caps' tabs; 0: plain plates.
    lip : height of lips of the front wall over the sides; 0: soldered on the edges.
    land : diameter of the land around the feed hole; None: three times the hole.
    """

    make: Literal["folded", "tube"] = "folded"
    radius: float | None = None
    factor: float | None = None
    scored: bool = False
    tab: float = 8e-3
    lip: float = 0.0
    land: float | None = None

    def fold(self, thickness: float) -> Fold:
        """The fold of a sheet of this thickness, m."""
        usual = 0.0 if self.scored else thickness
        return Fold(thickness, usual if self.radius is None else self.radius, self.factor, self.scored)


@dataclass(frozen=True)
class Part:
    """One flat part.

    Attributes
    ----------
    name, title : short for files, long for people.
    view : from where it is seen.
    thickness : m.
    outline : closed path, m; on the note layer when the piece is not cut out but found (faces of a tube).
    openings : slots and feed hole.
    bends : folded towards the viewer, unless `away`.
    lands : round areas to be bared and tinned, on the outside of the box.
    centre_line : whether positions across are measured from the line v = 0.
    away : bends are folded away from the viewer.
    guides, labels : further lines and words that are drawn.
    mirrored : a wall seen from inside; v counts the other way.
    material : words for the sheet; empty where it is that of the record's walls.
    notes : more sentences for the caption.
    """

    name: str
    title: str
    view: str
    thickness: float
    outline: Path
    openings: tuple[Opening, ...] = ()
    bends: tuple[Bend, ...] = ()
    lands: tuple[Path, ...] = ()
    centre_line: bool = False
    away: bool = False
    guides: tuple[Path, ...] = ()
    labels: tuple[Text, ...] = ()
    mirrored: bool = False
    material: str = ""
    notes: tuple[str, ...] = ()

    @property
    def size(self) -> tuple[float, float]:
        """Length along u and width along v of the flat part, m."""
        u0, v0, u1, v1 = self.outline.polygon().bounds
        return u1 - u0, v1 - v0

    def metal(self) -> Polygon:
        """The area that is left when all is cut, (u, v) in m."""
        left = self.outline.polygon()
        for each in self.openings:
            left = left.difference(each.path.polygon())
        return left


def parts(scene: Scene, fabrication: Fabrication = Fabrication()) -> tuple[Part, ...]:
    """All flat parts of an antenna.

    Parameters
    ----------
    scene : of a record, with the coax feed (`layout.antenna_scene`).

    Raises
    ------
    InputError
        The walls do not suit the way of making: a tube of two thicknesses, a radius greater than a flap.
    """
    if scene.bore:
        return _round_tube(scene, fabrication)
    return _folded(scene, fabrication) if fabrication.make == "folded" else _tube(scene, fabrication)


def _wall(scene: Scene, name: str) -> Prism:
    return next(p for p in scene.prisms if p.part == name)


def _thickness(prism: Prism) -> float:
    return round(prism.high - prism.low, 12)


def _openings(scene: Scene, name: str, mirror: bool = False) -> tuple[Opening, ...]:
    """Openings of a broad wall: slots numbered along the guide, then the feed hole; `mirror`: seen from its other face."""
    found, sign, face = [], -1 if mirror else 1, name.removesuffix(" wall")
    for ring in _wall(scene, name).outline.holes:
        hole = opening(Polygon([(z, sign * x) for x, z in ring]), "hole")
        number = next(
            (
                i + 1
                for i, s in enumerate(scene.slots)
                if s.face == face and Polygon(ring).contains(Point(s.x, s.z))
            ),
            0,
        )
        found.append(replace(hole, kind="slot", number=number) if number else hole)
    return tuple(sorted(found, key=lambda o: o.number or math.inf))


def _lands(openings: tuple[Opening, ...], fabrication: Fabrication) -> tuple[Path, ...]:
    return tuple(
        circle_path(
            o.centre, 3 * o.width if fabrication.land is None else fabrication.land, "note", dashed=True
        )
        for o in openings
        if o.kind == "hole"
    )


def _front(scene: Scene, fabrication: Fabrication) -> Part:
    """The slotted wall between the end caps, lying on the edges of the sides."""
    *_, z0, z1 = inside(scene)
    prism = _wall(scene, "front wall")
    board = next((p for p in scene.prisms if p.part == SUBSTRATE), None)
    if board is not None:
        return _board(scene, board)
    x0, x1, *_ = prism.bounds()
    fold = fabrication.fold(_thickness(prism))
    if fabrication.lip > 0:
        # The bend begins outside the edge that the wall lies on, so that the wall is whole up to there.
        room = (fabrication.tab + CLEARANCE) if fabrication.tab else 0.0
        flaps = tuple(Flap(side, fabrication.lip, z0 + room, z1 - room) for side in ("v-", "v+"))
        outline, bends = blank((z0, z1, x0 - fold.radius, x1 + fold.radius), flaps, fold)
    else:
        outline, bends = rectangle_path(z0, z1, x0, x1), ()
    holes = _openings(scene, "front wall")
    guides, labels = absorber_mark(scene, x0, x1)
    return Part(
        "front-wall",
        "Front wall",
        "from outside",
        _thickness(prism),
        outline,
        holes,
        bends,
        _lands(holes, fabrication),
        centre_line=True,
        away=True,
        guides=guides,
        labels=labels,
    )


def _board(scene: Scene, board: Prism) -> Part:
    """A laminate with its copper inside, over sides and end caps; slots in the copper alone are seen from the copper."""
    etched = not board.outline.holes
    x0, x1, _, _, z0, z1 = board.bounds()
    holes = _openings(scene, "front wall", mirror=etched)
    if etched:
        holes = tuple(replace(o, path=replace(o.path, layer="etch")) for o in holes)
    return Part(
        "front-wall",
        "Front wall",
        "from the copper, the inside" if etched else "from outside",
        _thickness(board),
        rectangle_path(z0, z1, x0, x1),
        holes,
        centre_line=True,
        mirrored=etched,
    )


def _back_and_sides(scene: Scene, fabrication: Fabrication) -> Part:
    """Back and both sides as one blank; the sides end at the inner face of the front wall."""
    x0, x1, y0, y1, z0, z1 = inside(scene)
    prism = _wall(scene, "back wall")
    fold = fabrication.fold(_thickness(prism))
    flaps = tuple(Flap(side, y1 - y0, z0, z1) for side in ("v-", "v+"))
    outline, bends = blank((z0, z1, x0, x1), flaps, fold)
    holes = _openings(scene, "back wall")
    return Part(
        "back-and-sides",
        "Back and sides",
        "from inside",
        _thickness(prism),
        outline,
        holes,
        bends,
        _lands(holes, fabrication),
        centre_line=True,
    )


def _caps(scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
    """Plates over the ends of the box, with tabs over its outside; an end that is a port has none."""
    found = []
    for end in closed_ends(scene):
        prism = _wall(scene, f"{end} end")
        face = prism.outline.polygon()
        if end == "far":
            face = affinity.scale(face, xfact=-1, origin=(0, 0))
        holes = tuple(opening(Polygon(ring), "hole") for ring in face.interiors)
        face = Polygon(face.exterior)
        outline, bends = (
            (polygon_path(face), ()) if not fabrication.tab else _tabbed(scene, fabrication, end, face)
        )
        title = f"{end.capitalize()} end {'cap' if bends else 'plate'}"
        found.append(
            Part(
                f"{end}-end",
                title,
                "from inside the guide",
                _thickness(prism),
                outline,
                holes,
                bends,
                _lands(holes, fabrication),
            )
        )
    return tuple(found)


def _tabbed(scene: Scene, fabrication: Fabrication, end: str, face: Polygon) -> tuple[Path, tuple[Bend, ...]]:
    """A cap whose tabs bend outside its face: the face stays whole and seats on the box's edges."""
    fold = fabrication.fold(_thickness(_wall(scene, f"{end} end")))
    u0, v0, u1, v1 = face.bounds
    corner = fold.radius + fold.thickness
    covered = any(p.part == SUBSTRATE for p in scene.prisms)
    heights = {
        "v+": 0.0 if covered else _tab_height(scene, fabrication, "front wall", end),
        "v-": _tab_height(scene, fabrication, "back wall", end),
        "u-": fabrication.tab,
        "u+": fabrication.tab,
    }
    flaps = tuple(
        Flap(
            side,
            height,
            *((u0 + corner, u1 - corner) if side.startswith("v") else (v0 + corner, v1 - corner)),
        )  # type: ignore[arg-type]
        for side, height in heights.items()
        if height
    )
    r = fold.radius
    grown = {side: r if heights[side] else 0.0 for side in heights}
    return blank((u0 - grown["u-"], u1 + grown["u+"], v0 - grown["v-"], v1 + grown["v+"]), flaps, fold)


def _tab_height(scene: Scene, fabrication: Fabrication, wall: str, end: str) -> float:
    """As high as asked for, less where slot, feed hole or its land come near the end; 0 where too little is left."""
    *_, z0, z1 = inside(scene)
    holes = _openings(scene, wall)
    reach = [
        p.polygon().bounds for p in (*(o.path for o in holes), *_lands(holes, fabrication))
    ] + _tip_reach(scene, wall)
    free = (
        min((b[0] - z0 if end == "near" else z1 - b[2] for b in reach), default=fabrication.tab + CLEARANCE)
        - CLEARANCE
    )
    height = min(fabrication.tab, free)
    return height if height >= min(MIN_TAB, fabrication.tab) else 0.0


def _tip_reach(scene: Scene, wall: str) -> list[tuple[float, float, float, float]]:
    """What the tip of a wire takes of a broad wall that it is soldered to, (u, v) from low to high."""
    _, _, y0, y1, _, _ = inside(scene)
    found = []
    for x0, x1, low, high, z0, z1 in (p.bounds() for p in scene.prisms if p.part == "probe riser"):
        if (high > y1 - SAME) if wall == "front wall" else (low < y0 + SAME):
            found.append((z0, x0, z1, x1))
    return found


def _folded(scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
    return (_front(scene, fabrication), _back_and_sides(scene, fabrication), *_caps(scene, fabrication))


def _tube(scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
    """Two faces of a length of stock tube to be cut into, and plain plates for its ends."""
    front, back = _wall(scene, "front wall"), _wall(scene, "back wall")
    if abs(_thickness(front) - _thickness(back)) > SAME:
        raise InputError(
            "guide.front_wall_mm",
            f"{_thickness(front) * 1e3:g}",
            f"a stock tube has walls of one thickness: must equal other_walls_mm {_thickness(back) * 1e3:g}, or make the box 'folded'",
        )
    *_, z0, z1 = inside(scene)
    x0, x1, *_ = front.bounds()
    found, (guides, labels) = [], absorber_mark(scene, x0, x1)
    for name in ("front", "back"):
        holes = _openings(scene, f"{name} wall", mirror=name == "back")
        if name == "front" or holes:
            outline = rectangle_path(z0, z1, x0, x1, "note")
            found.append(
                Part(
                    f"tube-{name}",
                    f"{name.capitalize()} face of the tube",
                    "from outside",
                    _thickness(front),
                    outline,
                    holes,
                    (),
                    _lands(holes, fabrication),
                    centre_line=True,
                    guides=guides,
                    labels=labels,
                )
            )
    return (*found, *_caps(scene, replace(fabrication, tab=0.0)))


def _round_tube(scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
    """A template around a length of round tube, and a disc for each closed end."""
    holes, wall = wrap_openings(scene), tube_wall(scene)
    guides, labels = wrap_guides(scene)
    found = [
        Part(
            "wrap",
            "Template around the tube",
            "from outside",
            round(wall.outer - wall.inner, 12),
            wrap_outline(scene),
            holes,
            (),
            _lands(holes, fabrication),
            centre_line=True,
            guides=guides,
            labels=labels,
        )
    ]
    for end in closed_ends(scene):
        plate = _wall(scene, f"{end} end")
        found.append(
            Part(
                f"{end}-end",
                f"{end.capitalize()} end plate",
                "from inside the guide",
                _thickness(plate),
                disc(scene),
            )
        )
    return tuple(found)


def closed_ends(scene: Scene) -> tuple[str, ...]:
    """The ends of the guide that have a plate; one that is a port has none."""
    *_, z0, z1 = inside(scene)
    faces = {"near": (_wall(scene, "near end").high, z0), "far": (_wall(scene, "far end").low, z1)}
    return tuple(end for end, (face, inner) in faces.items() if abs(face - inner) <= SAME)


def compensated(part: Part, cutter: float) -> Part:
    """The part as the path of a cutter's centre: outlines outside, openings inside, by half its diameter.

    Parameters
    ----------
    cutter : diameter, m; 0 leaves the part as it is.

    Raises
    ------
    InputError
        An opening is no wider than the cutter.
    """
    if not cutter:
        return part
    outline = part.outline
    if outline.layer == "cut":
        outline = polygon_path(outline.polygon().buffer(cutter / 2, join_style="mitre"))
    return replace(
        part,
        outline=outline,
        openings=tuple(o if o.path.layer == "etch" else o.shrunk(cutter / 2) for o in part.openings),
    )


def seam_lengths(scene: Scene, fabrication: Fabrication) -> dict[str, float]:
    """Lengths of the joints that have to be closed all round, m."""
    x0, x1, y0, y1, z0, z1 = inside(scene)
    around = 2 * (x1 - x0 + y1 - y0)
    if scene.bore:
        return {f"{end} end": math.pi * scene.bore for end in closed_ends(scene)}
    found = {f"{end} end": around for end in closed_ends(scene)}
    if fabrication.make == "folded":
        found |= {"front wall to sides": 2 * (z1 - z0)}
    return found


_HOLES = {"hole": "feed hole", "screw": "screw hole", "tip": "hole for the tip"}


def drill_table(part: Part) -> list[tuple[str, Pair, float]]:
    """Label, centre (u, v) and diameter of every point to be punched, m."""
    found = []
    for each in part.openings:
        centres = each.drill_centres() if each.path.layer == "cut" else ()
        names = (
            [f"slot {each.number}{letter}" for letter in "ab"] if each.kind == "slot" else [_HOLES[each.kind]]
        )
        found += [(name, centre, each.width) for name, centre in zip(names, centres)]
    return found
