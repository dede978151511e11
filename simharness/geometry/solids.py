"""Solids of a scene: outlines, prisms and parts of tubes of a material; metres throughout.

Every solid is a prism: an outline (polygon with holes) in the plane normal to `axis`, extruded from `low` to
`high`. Outline coordinates are those of the two other axes in ascending order. Curves are polygons fine
enough not to matter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from shapely.geometry import Point, Polygon, box

from simharness.fingerprint import LEFT_OUT_AT_DEFAULT
from simharness.records.outlines import OffGridOpening

Bounds = tuple[float, float, float, float, float, float]
"""x low, x high, y low, y high, z low, z high; m."""


@dataclass(frozen=True)
class Material:
    """Isotropic material; `metal` is a perfect conductor to the solver.

    `loss` (conductivity, S/m) is constant. An `absorber` is matched to vacuum at normal incidence:
    its magnetic loss follows its electric loss, growing from nothing along +z or -z to `loss`. `axes`:
    permittivity and loss along x, y and z, in the place of those, where they differ.
    """

    name: str
    metal: bool = False
    permittivity: float = 1.0
    loss: float = 0.0
    absorber: Literal["", "+z", "-z"] = ""
    axes: tuple[tuple[float, float], ...] = field(default=(), metadata=LEFT_OUT_AT_DEFAULT)


METAL = Material("metal", metal=True)
VACUUM = Material("vacuum")

SUBSTRATE = "substrate"
"""Name of the part whose loss is worked out from the field in it."""

SCREW_PART = "screw"
"""Name of the parts that stand on the back wall as tuning screws."""
TAPE_PART = "tape"
"""Name of the parts that close ends of slots from outside."""
COVERS = {"front": "front cover", "back": "back cover"}
"""Names of the sheets that cover the walls; their loss too is worked out from the field in them."""

FAR_LOAD = "far load"
"""Name of the absorber that ends the guide; what it takes is worked out from the wave that runs into it."""


@dataclass(frozen=True)
class Outline:
    """A polygon with holes; m."""

    exterior: tuple[tuple[float, float], ...]
    holes: tuple[tuple[tuple[float, float], ...], ...] = ()

    @classmethod
    def of(cls, polygon: Polygon) -> Outline:
        """Outline of a shapely polygon; the closing vertex is dropped."""
        return cls(
            tuple(polygon.exterior.coords)[:-1],
            tuple(tuple(ring.coords)[:-1] for ring in polygon.interiors),
        )

    def polygon(self) -> Polygon:
        """The outline as a shapely polygon, m."""
        return Polygon(self.exterior, self.holes)


def rectangle(
    u_low: float, u_high: float, v_low: float, v_high: float, holes: tuple[Polygon, ...] = ()
) -> Outline:
    """Axis-parallel rectangle with openings; the openings must not touch its border."""
    polygon = box(u_low, v_low, u_high, v_high)
    for hole in holes:
        polygon = polygon.difference(hole)
    return Outline.of(polygon)


@dataclass(frozen=True)
class Prism:
    """A part: `outline` normal to `axis`, from `low` to `high` along it.

    `meshed` stands for the outline on a mesh too coarse for it: round slot ends as rectangles of the
    same area, which a staircase of two or three cells would miss by up to a tenth of the width. Openings
    `off_grid` are replaced (`mesh.staircasing`) once the size of the cells is known.
    """

    part: str
    material: Material
    axis: int
    low: float
    high: float
    outline: Outline
    meshed: Outline | None = None
    off_grid: tuple[OffGridOpening, ...] = ()

    def bounds(self) -> Bounds:
        """Bounding box, m."""
        u0, v0, u1, v1 = self.outline.polygon().bounds
        ranges = [(u0, u1), (v0, v1)]
        ranges.insert(self.axis, (self.low, self.high))
        return tuple(x for pair in ranges for x in pair)


@dataclass(frozen=True)
class Sheet(Prism):
    """A flat sheet of dielectric whose faces need not lie on mesh lines: see `mesh.sheets`."""


@dataclass(frozen=True)
class SlantedStrip(Prism):
    """A thin strip of metal along z, aslant across: see `mesh.strips`.

    `foot`: the corner of other metal where its front begins, (x, y) in m; `width` of its front, m; `angle`
    from the x axis, away from x = 0, towards +y, rad; `thickness` to its back, m.
    """

    foot: tuple[float, float] = (0.0, 0.0)
    width: float = 0.0
    angle: float = 0.0
    thickness: float = 0.0

    @property
    def tip(self) -> tuple[float, float]:
        """Where the middle of its free edge lies, but no nearer to x = 0 than the foot, (x, y) in m."""
        cosine, sine = math.cos(self.angle), math.sin(self.angle)
        away = max(0.0, self.width * cosine + self.thickness / 2 * sine)
        y = self.foot[1] + self.width * sine - self.thickness / 2 * cosine
        return self.foot[0] + math.copysign(away, self.foot[0]), y


@dataclass(frozen=True)
class TubePart(Prism):
    """A part of a round tube along z about x = 0, y = `centre_y`; its cells follow from the circles.

    `kind`: 'wall' (the ring, or its sector from `start` to `stop`), 'end' (a disc over all) or 'filling' (the
    bore). Angles in rad from the front line (+y) towards +x, `start` in front; radii in m.
    """

    kind: Literal["wall", "end", "filling"] = "wall"
    centre_y: float = 0.0
    inner: float = 0.0
    outer: float = 0.0
    start: float = -math.pi
    stop: float = math.pi


def tube_part(
    part: str,
    kind: Literal["wall", "end", "filling"],
    material: Material,
    radii: tuple[float, float],
    centre_y: float,
    span: tuple[float, float],
    sector: tuple[float, float] = (-math.pi, math.pi),
) -> TubePart:
    """A part of a round tube of inner and outer radius `radii` from z = `span[0]` to `span[1]`, m."""
    inner, outer = radii
    start, stop = sector
    if stop - start > 2 * math.pi - 1e-9:
        disc = Point(0.0, centre_y).buffer(inner if kind == "filling" else outer, quad_segs=32)
        shape = disc.difference(Point(0.0, centre_y).buffer(inner, quad_segs=32)) if kind == "wall" else disc
    else:
        count = max(2, math.ceil((stop - start) / math.radians(3)))
        angles = [start + (stop - start) * i / count for i in range(count + 1)]
        rings = [[(r * math.sin(a), centre_y + r * math.cos(a)) for a in angles] for r in radii]
        shape = Polygon(rings[1] + rings[0][::-1])
    return TubePart(
        part,
        material,
        2,
        *span,
        Outline.of(shape),
        kind=kind,
        centre_y=centre_y,
        inner=inner,
        outer=outer,
        start=start,
        stop=stop,
    )


def block(part: str, material: Material, bounds: Bounds) -> Prism:
    """An axis-parallel box as a prism along y."""
    x0, x1, y0, y1, z0, z1 = bounds
    return Prism(part, material, 1, y0, y1, rectangle(x0, x1, z0, z1))


SQUARE_CAPACITY = math.gamma(0.25) ** 2 / (4 * math.pi**1.5)
"""Radius of the round wire equivalent to a square one of unit side: the logarithmic capacity
of the square, 0.590 170 (exact by conformal mapping; any two-dimensional electrostatics)."""


def equivalent_square_side(diameter: float) -> float:
    """Side of the square conductor that acts as a thin round one of this diameter, m."""
    return diameter / 2 / SQUARE_CAPACITY


def equivalent_square_bore(diameter: float) -> float:
    """Side of the square bore with the conformal radius of a round one of this diameter, m.

    The inner mapping radius of a square of side S about its centre is 0.539 353 S
    (= 4 K(1/sqrt 2) ... : S / 1.854 075, the lemniscate integral of the first kind).
    """
    lemniscate = math.gamma(0.25) ** 2 / (4 * math.sqrt(math.pi))
    return diameter / 2 * lemniscate


def circle(x: float, z: float, diameter: float) -> Polygon:
    """Round hole as a polygon of 64 sides."""
    return Point(x, z).buffer(diameter / 2, quad_segs=16)
