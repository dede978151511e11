"""Solver-neutral geometry: prisms of material, ports, marks; metres throughout.

Solver model, mesh and drawings are all derived from a `Scene`. Every solid is a prism: an outline
(polygon with holes) in the plane normal to `axis`, extruded from `low` to `high`. Outline coordinates
are those of the two other axes in ascending order. Curves are polygons fine enough not to matter.
Where solids overlap, the later one wins.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from shapely.geometry import Point, Polygon, box

from simharness.em.guide.round import te11_axis_field, te11_field
from simharness.fingerprint import LEFT_OUT_AT_DEFAULT
from simharness.records.outlines import OffGridOpening

Bounds = tuple[float, float, float, float, float, float]
"""x low, x high, y low, y high, z low, z high; m."""


@dataclass(frozen=True)
class Material:
    """Isotropic material; `metal` is a perfect conductor to the solver.

    `loss` (conductivity, S/m) is constant. An `absorber` is matched to vacuum at normal incidence:
    its magnetic loss follows its electric loss, growing from nothing along +z or -z to `loss`.
    """

    name: str
    metal: bool = False
    permittivity: float = 1.0
    loss: float = 0.0
    absorber: Literal["", "+z", "-z"] = ""


METAL = Material("metal", metal=True)
VACUUM = Material("vacuum")

SUBSTRATE = "substrate"
"""Name of the part whose loss is worked out from the field in it."""

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
    same area, which stairs of two or three cells would miss by up to a tenth of the width. Openings
    `off_grid` to the mesh are replaced (`stairs.on_stairs`) once the size of the cells is known.
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
        return tuple(x for pair in ranges for x in pair)  # type: ignore[return-value]


@dataclass(frozen=True)
class TubePart(Prism):
    """A part of a round tube along z about x = 0, y = `centre_y`: a prism whose cells on a mesh follow from the circles.

    `kind`: 'wall' (the ring, or its sector from `start` to `stop`), 'end' (a disc over all) or 'filling' (the bore).
    Angles in rad from the front line (+y) towards +x, `start` in front; radii in m.
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


@dataclass(frozen=True)
class Feature:
    """An interval on one axis that the mesh must honour.

    `kind` decides with the mesh settings how finely; both ends become mesh lines
    unless `soft`, when a neighbouring line may take their place. `scale` is the transverse
    size that sets the cells where the interval itself does not (slot width at a slot's end), m;
    `depth` the thickness of the wall that an opening goes through, m (negative: none);
    `outward` the direction (+1, -1) in which metal ends at a tip.
    """

    kind: str
    axis: int
    low: float
    high: float
    scale: float = 0.0
    soft: bool = False
    depth: float = -1.0
    outward: int = 0


def extent_features(outline: Polygon, width: float, wall: float) -> tuple[Feature, Feature]:
    """The whole extent of an opening across and along, m."""
    x0, z0, x1, z1 = outline.bounds
    return (
        Feature("slot extent", 0, x0, x1, scale=width, depth=wall),
        Feature("slot extent", 2, z0, z1, scale=width, depth=wall),
    )


@dataclass(frozen=True)
class CoaxPort:
    """Coax line along y or z (`axis` 1, 2) that ends in the guide; waves are counted at the plane `reference`.

    `direction` is +1 when power flows to +y or +z: the line runs towards -y from a back wall, towards -z from
    the near end. Its axis lies at x and z, or at x and y; the coordinate along the line is not read.
    Equivalent square conductors of sides `inner_side`, `outer_side` stand for the round ones;
    `impedance` is that of the round line, which the filling of the meshed line is tuned to.
    """

    x: float
    z: float
    reference: float
    direction: int
    length: float
    inner_side: float
    outer_side: float
    permittivity: float
    impedance: float
    y: float = field(default=0.0, metadata=LEFT_OUT_AT_DEFAULT)
    axis: int = field(default=1, metadata=LEFT_OUT_AT_DEFAULT)

    @property
    def across(self) -> tuple[tuple[int, float], tuple[int, float]]:
        """The two axes across the line, and where the line lies on them."""
        return ((0, self.x), (2, self.z)) if self.axis == 1 else ((0, self.x), (1, self.y))


@dataclass(frozen=True)
class GapPort:
    """Lumped resistor-and-source in a cut of a square post along `axis`, from `low` to `high`."""

    x: float
    y: float
    z: float
    axis: int
    side: float
    low: float
    high: float
    impedance: float = 50.0


@dataclass(frozen=True)
class ModePort:
    """The lowest mode of a guide along z, E along y: TE10 of a rectangular one here.

    Waves travelling in `direction` (+1, -1) enter the structure. `source`: plane of the excitation
    (None for a passive port), `plane`: where the mode is measured, `reference`: where it is stated.
    """

    a: float
    b: float
    x_centre: float
    y_low: float
    direction: int
    plane: float
    reference: float
    source: float | None = None

    def field(self, x: float, y: float) -> float:
        """E along y of the mode whose |E|^2 integrates to 1 over the cross-section, 1/m."""
        return math.sqrt(2 / (self.a * self.b)) * math.cos(math.pi * (x - self.x_centre) / self.a)

    @property
    def half_width(self) -> float:
        """Half the width of its cross-section, m."""
        return self.a / 2


@dataclass(frozen=True)
class RoundModePort(ModePort):
    """TE11 of a round tube; `a` is the width of the rectangular guide with its cutoff, `b` its diameter.

    `turn`: angle in rad by which the source's E is turned from +y towards +x.
    """

    turn: float = 0.0

    def field(self, x: float, y: float) -> float:
        """E along y of the mode whose |E|^2 integrates to 1 over the cross-section, 1/m."""
        return te11_axis_field(self.b) * float(
            te11_field(self.b, y - self.y_low - self.b / 2, x - self.x_centre)
        )

    @property
    def half_width(self) -> float:
        """Half the width of its cross-section, m."""
        return self.b / 2


Port = CoaxPort | GapPort | ModePort


@dataclass(frozen=True)
class SlotMark:
    """Where the voltage across a slot is recorded; m.

    In the back wall it counts against x: alike voltages of both faces drive E the same way around the guide.
    """

    x: float
    z: float
    width: float
    length: float
    y: float
    face: Literal["front", "back"] = "front"


@dataclass(frozen=True)
class Spectrum:
    """Frequencies asked for, Hz. `low`-`high`: S parameters; `far`: fields."""

    centre: float
    low: float
    high: float
    far: tuple[float, ...] = ()
    points: int = 401


@dataclass(frozen=True)
class Scene:
    """Everything the solver has to know about the problem, and nothing about the solver.

    `boundaries`: for x-, x+, y-, y+, z-, z+ one of 'open' (absorbing, with an air margin when
    `radiates`), 'metal'. `inside`: inner bounds of the guide for field cut and wall loss, or None.
    `conductivity` of the metal, S/m, for the loss worked out after the run: the solver's metal is perfect.
    `bore`: inner diameter of a round tube that fills `inside` across, m; 0 for a rectangular guide.
    `unrolled`: the openings of its wall, slots first, as (arc from the front line, z) on the outer surface, m.
    """

    name: str
    prisms: tuple[Prism, ...]
    ports: tuple[Port, ...]
    features: tuple[Feature, ...]
    spectrum: Spectrum
    boundaries: tuple[str, str, str, str, str, str] = ("open",) * 6
    radiates: bool = True
    domain: Bounds | None = None
    inside: Bounds | None = None
    slots: tuple[SlotMark, ...] = ()
    conductivity: float = math.inf
    bore: float = 0.0
    unrolled: tuple[Outline, ...] = ()

    def bounds(self) -> Bounds:
        """Bounding box of the geometry or the stated domain."""
        if self.domain is not None:
            return self.domain
        boxes = [p.bounds() for p in self.prisms]
        return tuple(  # type: ignore[return-value]
            (min if i % 2 == 0 else max)(b[i] for b in boxes) for i in range(6)
        )


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
