"""A flat part, the openings in it, and what is drilled; (u, v) in m."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from shapely.geometry import Polygon, box

from simharness.errors import InputError
from simharness.geometry.solids import circle
from simharness.records.outlines import constant_width_outline
from simharness.sheets.flat.paths import (
    Pair,
    Path,
    Text,
    circle_path,
    polygon_path,
    rectangle_path,
    stadium_path,
)
from simharness.sheets.flat.pattern import Bend

Place = Literal["front", "back", "near", "far", "around", "cover", "template", "beside"]
FROM_OUTSIDE = "from outside"
SAME_AREA = 2e-3
"""Share of its area by which an outline may differ from the shape it stands for."""


@dataclass(frozen=True)
class Opening:
    """A hole in a part.

    Attributes
    ----------
    kind : 'slot', 'hole' of the feed, 'screw' of its flange, 'tip' of its wire, of a 'tuning' screw, or
        'window' of a template.
    number : of a slot, along the guide, or of a tuning screw; 0 otherwise.
    path : its edge.
    centre : m.
    length, width : along u and along v, m.
    ends : of a slot: 'round', 'square' or '' (a free outline).
    """

    kind: Literal["slot", "hole", "screw", "tip", "tuning", "window"]
    number: int
    path: Path
    centre: Pair
    length: float
    width: float
    ends: Literal["round", "square", ""]

    def drill_centres(self) -> tuple[Pair, ...]:
        """Where a drill of the slot's width makes its round ends, or the centre of a hole; m."""
        if self.ends != "round":
            return ()
        reach, (u, v) = (self.length - self.width) / 2, self.centre
        return ((u, v),) if reach == 0 else ((u - reach, v), (u + reach, v))

    def shrunk(self, by: float) -> Opening:
        """The opening with its edge drawn in on all sides, m.

        Raises
        ------
        InputError
            Nothing would be left.
        """
        narrow = min(self.length, self.width)
        if 2 * by >= narrow:
            raise InputError(
                "cutter", f"{2e3 * by:g} mm", f"must be less than the narrowest opening, {narrow * 1e3:g} mm"
            )
        length, width = self.length - 2 * by, self.width - 2 * by
        if self.ends:
            path = _exact_path(self.centre, length, width, self.ends)
        else:
            path = polygon_path(self.path.polygon().buffer(-by, join_style="mitre"))
        return replace(self, path=path, length=length, width=width)


def _exact_path(centre: Pair, length: float, width: float, ends: Literal["round", "square"]) -> Path:
    """Edge of a slot with these ends, or of a round hole."""
    u, v = centre
    if ends == "square":
        return rectangle_path(u - length / 2, u + length / 2, v - width / 2, v + width / 2)
    return circle_path(centre, width) if length == width else stadium_path(centre, length, width)


def opening(polygon: Polygon, kind: Literal["slot", "hole"], number: int = 0) -> Opening:
    """Opening with exact arcs where its outline is a polygon that stands for a slot or a round hole along u.

    Parameters
    ----------
    polygon : outline in the plane of the part, (u, v) in m.
    """
    u0, v0, u1, v1 = polygon.bounds
    centre, length, width = ((u0 + u1) / 2, (v0 + v1) / 2), u1 - u0, v1 - v0
    if abs(length - width) < 1e-9:
        length = width
    alternatives: tuple[Literal["square", "round"], ...] = ("square", "round")
    for ends in alternatives:
        shape = _scene_polygon(ends, centre, length, width)
        if shape.symmetric_difference(polygon).area < SAME_AREA * polygon.area:
            path = _exact_path(centre, length, width, ends)
            return Opening(kind, number, path, centre, length, width, ends)
    return Opening(kind, number, polygon_path(polygon), centre, length, width, "")


def _scene_polygon(ends: str, centre: Pair, length: float, width: float) -> Polygon:
    """The polygon that a scene has for an opening along u; empty for a round one that is wider than long."""
    (u, v), half = centre, length / 2
    if ends == "square":
        return box(u - half, v - width / 2, u + half, v + width / 2)
    if length == width:
        return circle(u, v, width)
    if length < width:
        return Polygon()
    tips = ((u - half, v), (u + half, v))
    return constant_width_outline(tips, width, "round")


@dataclass(frozen=True)
class Part:
    """One flat part.

    Attributes
    ----------
    place : where on the guide it is: one of its sides, 'around' it for the template of a round tube, over
        it as a 'cover', 'beside' its front; or 'template', of paper.
    name, title : short for files, long for people.
    view : from where it is seen.
    thickness : m.
    outline : closed path, m; on the note layer when the piece is not cut out (faces of a tube).
    openings : slots, and holes of the feed.
    bends : folded towards the viewer, unless `away`.
    lands : round areas to be bared and tinned, on the outside of the box.
    centre_line : whether positions across are measured from the line v = 0.
    away : bends are folded away from the viewer.
    guides, labels : further lines and texts that are drawn.
    beneath : lines of what lies under it, drawn without dimensions.
    mirrored : a wall seen from its copper, the inside.
    material : name of the sheet; empty where it is that of the record's walls.
    notes : more sentences for the caption.
    """

    place: Place
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
    beneath: tuple[Path, ...] = ()

    @property
    def reversed(self) -> bool:
        """Whether v runs against the x of the record, as seen from the viewer's side."""
        return self.mirrored or (self.place == "back" and self.view == FROM_OUTSIDE)

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


def compensated(part: Part, cutter: float) -> Part:
    """The part as the path of a cutter's centre: outlines outside, openings inside, by half its diameter.

    Parameters
    ----------
    cutter : diameter, m; 0 leaves the part as it is, and a template of paper is cut along its lines.

    Raises
    ------
    InputError
        An opening is no wider than the cutter.
    """
    if not cutter or part.place == "template":
        return part
    outline = part.outline
    if outline.layer == "cut":
        outline = polygon_path(outline.polygon().buffer(cutter / 2, join_style="mitre"))
    return replace(
        part,
        outline=outline,
        openings=tuple(o if o.path.layer == "etch" else o.shrunk(cutter / 2) for o in part.openings),
    )


_HOLES = {
    "hole": "feed hole",
    "screw": "screw hole",
    "tip": "hole for the tip",
    "tuning": "hole for screw",
    "window": "window",
}


def drill_table(part: Part) -> list[tuple[str, Pair, float]]:
    """Label, centre (u, v) and diameter of every point to be punched, m."""
    found: list[tuple[str, Pair, float]] = []
    for each in part.openings:
        centres = each.drill_centres() if each.path.layer == "cut" else ()
        names = (
            [f"slot {each.number}{letter}" for letter in "ab"]
            if each.kind == "slot"
            else [f"{_HOLES[each.kind]} {each.number or ''}".rstrip()]
        )
        found += [(name, centre, each.width) for name, centre in zip(names, centres)]
    return found
