"""What stands beside the slots, parallel to the axis: wings on the guide, a metal pole, a flat metal wall, a
second antenna."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import Field
from shapely.affinity import scale
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from simharness.constants import MM
from simharness.records.guide import Guide
from simharness.records.parts import Part, degrees, metres, mm

WALL_DIRECTIONS = (90.0, 180.0, -90.0)
"""Directions in which a wall may stand, deg: those in which it lies flat on the mesh."""


class Mast(Part):
    """A metal pole, or a metal wall, parallel to the axis of the antenna."""

    shape: Literal["pole", "wall"] = Field(
        "pole", description="pole: a round tube or rod; wall: a flat metal face"
    )
    diameter_mm: float | None = mm("outer diameter of the pole", default=None, gt=1, lt=1000)
    distance_mm: float = mm(
        "clear distance from the outer face of the antenna's walls to the surface of the pole or wall",
        gt=0,
        lt=20000,
    )
    direction_deg: float = degrees(
        "where it stands as seen from the middle of the antenna: 180 behind, positive towards +x; a wall: "
        "180, 90 or -90",
        180.0,
        ge=-180,
        le=180,
    )
    width_mm: float | None = mm(
        "width of the wall across the axis; left out, it is taken as endless by the estimate",
        default=None,
        gt=1,
        lt=20000,
    )

    distance = metres()

    @property
    def noun(self) -> str:
        """What it is called."""
        return self.shape

    @property
    def diameter(self) -> float:
        """Of the pole, m."""
        return (self.diameter_mm or 0.0) * MM

    @property
    def width(self) -> float | None:
        """Of the wall, m; None: endless, or no wall."""
        return None if self.width_mm is None else self.width_mm * MM

    @property
    def towards(self) -> tuple[float, float]:
        """Unit vector (x, y) of its direction."""
        angle = math.radians(self.direction_deg)
        x, y = math.sin(angle), math.cos(angle)
        return (x, y) if self.shape == "pole" else (float(round(x)), float(round(y)))


class Wings(Part):
    """Flat strips of metal, alike on both sides of the slotted face and as long as the guide is inside."""

    width_mm: float = mm(
        "width of each strip, from the outer face of the side wall to its free edge", gt=0, lt=2000
    )
    angle_deg: float = degrees(
        "0: in the plane of the slotted face, as a flange; positive: bent forward, to where the slots "
        "radiate; negative: bent back",
        0.0,
        ge=-60,
        le=90,
    )
    join: Literal["folded", "soldered"] = Field(
        "folded",
        description="folded: of one piece with the front wall; soldered: strips of their own, as thick as it",
    )

    width = metres()

    @property
    def angle(self) -> float:
        """`angle_deg` in rad."""
        return math.radians(self.angle_deg)


def wing_section(guide: Guide, wings: Wings, least: float = 0.0) -> Polygon:
    """The strip towards +x across the axis, (x, y) in m: its front begins at the outer edge of the guide.

    It is as thick as the front wall, or as `least` where that is more, m.
    """
    x, y = guide.width / 2 + guide.thickness("side"), guide.thickness("front")
    thick = max(y, least)
    cosine, sine = math.cos(wings.angle), math.sin(wings.angle)
    tip = x + wings.width * cosine, y + wings.width * sine
    back = thick * sine, -thick * cosine
    foot = [(x + back[0], y + back[1])]
    if wings.angle_deg > 0:  # the bend fills what opens between the wall and the strip
        foot.append((x, y - thick))
    return Polygon([(x, y), *foot[::-1], (tip[0] + back[0], tip[1] + back[1]), tip])


def winged_section(guide: Guide, wings: Wings | None, least: float = 0.0) -> Polygon:
    """`outer_section` with the wings of the guide, in one outline; `least` as of `wing_section`."""
    section = outer_section(guide)
    if wings is None:
        return section
    wing = wing_section(guide, wings, least)
    return unary_union([section, wing, scale(wing, xfact=-1, origin=(0.0, 0.0))]).normalize()


def outer_section(guide: Guide) -> Polygon:
    """Outline of the guide with its walls across its axis, (x, y) in m, a substrate included."""
    if guide.shape == "round":
        return Point(0.0, -guide.diameter / 2).buffer(guide.outer_radius, quad_segs=64)
    half = guide.width / 2 + guide.thickness("side")
    return box(-half, -guide.height - guide.thickness("back"), half, guide.thickness("front"))


def pole_centre(guide: Guide, mast: Mast) -> tuple[float, float]:
    """Axis of the pole, (x, y) in m: on the ray from the middle of the guide in its direction."""
    section, (ux, uy) = outer_section(guide), mast.towards
    wanted = mast.distance + mast.diameter / 2
    middle = section.envelope.centroid

    def clear(away: float) -> float:
        return section.distance(Point(middle.x + away * ux, middle.y + away * uy))

    low, high = 0.0, wanted + math.hypot(*(b - a for a, b in zip(section.bounds[:2], section.bounds[2:])))
    for _ in range(80):
        half = (low + high) / 2
        low, high = (half, high) if clear(half) < wanted else (low, half)
    return middle.x + high * ux, middle.y + high * uy


def wall_place(guide: Guide, mast: Mast) -> tuple[int, float]:
    """Axis (0: x, 1: y) that the wall is normal to, and where its face stands on it, m."""
    x0, y0, x1, y1 = outer_section(guide).bounds
    ux, uy = mast.towards
    if ux:
        return 0, x1 + mast.distance if ux > 0 else x0 - mast.distance
    return 1, y1 + mast.distance if uy > 0 else y0 - mast.distance


def mast_section(guide: Guide, mast: Mast, half_width: float = 0.0) -> Polygon:
    """What the pole or the wall covers across the axis, (x, y) in m; an endless wall `half_width` each way.

    The wall has no thickness: its polygon is as thin as the sums of decimal fractions allow.
    """
    if mast.shape == "pole":
        return Point(*pole_centre(guide, mast)).buffer(mast.diameter / 2, quad_segs=64)
    axis, place = wall_place(guide, mast)
    middle = outer_section(guide).envelope.centroid
    half = mast.width / 2 if mast.width is not None else half_width
    along = middle.y if axis == 0 else middle.x
    thin = 1e-6
    return (
        box(place - thin, along - half, place + thin, along + half)
        if axis == 0
        else box(along - half, place - thin, along + half, place + thin)
    )


class Pair(Part):
    """A second antenna, equal to the first, near it and parallel to it."""

    place: Literal["beside", "above", "back to back"] = Field(
        description="where the second one is: beside, towards +x; above, beyond the far end; back to back, "
        "behind and turned to the other side"
    )
    distance_mm: float = mm(
        "beside: from axis to axis; above: between the ends that face each other; back to back: between the "
        "outer faces of the backs",
        gt=0,
        lt=20000,
    )
    fed: Literal["in phase", "alone"] = Field(
        "in phase",
        description="in phase: both with half the power, by a splitter of your own; alone: only the first, "
        "the second one ends in a matched load",
    )

    distance = metres()

    @property
    def noun(self) -> str:
        """Where the second one is, in words."""
        return {
            "beside": "beside it, towards +x",
            "above": "above it, beyond the far end",
            "back to back": "behind it, back to back",
        }[self.place]
