"""What the solver has to know: solids, ports, and what the mesh must honour; metres throughout.

Solver model, mesh and drawings are all derived from a `Scene`. Where its solids overlap, the later one wins.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from shapely.geometry import Polygon

from simharness.em.guide.round import te11_axis_field, te11_field
from simharness.fingerprint import LEFT_OUT_AT_DEFAULT
from simharness.geometry.solids import Bounds, Outline, Prism


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
    """Coax line along y or z (`axis` 1, 2) that ends in the guide; S11 is stated at the plane `reference`.

    `direction` is +1 when power flows to +y or +z: the line runs towards -y from a back wall, towards -z from
    the near end. Its axis lies at x and z, or at x and y; the coordinate along the line is not read.
    Equivalent square conductors of sides `inner_side`, `outer_side` stand for the round ones;
    `impedance` is that of the round line, which the filling of the meshed line is tuned to. `drive`: of its
    source, 1; 0 for a line that ends in a resistor alone.
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
    drive: float = field(default=1.0, metadata=LEFT_OUT_AT_DEFAULT)

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

    `boundaries`: for x-, x+, y-, y+, z-, z+ one of 'open' (absorbing, with an air margin when `radiates`),
    'metal'. `inside`: inner bounds of the guide for field cut and wall loss, or None. `conductivity` of the
    metal, S/m, for the loss worked out after the run: the solver's metal is perfect. `bore`: inner diameter
    of a round tube that fills `inside` across, m; 0 for a rectangular guide. `unrolled`: the openings of its
    wall, slots first, as (arc from the front line, z) on the outer surface, m.
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

    @property
    def shape(self) -> str:
        """Shape of the guide as in its record: 'rectangular' or 'round'."""
        return "round" if self.bore else "rectangular"

    def bounds(self) -> Bounds:
        """Bounding box of the geometry or the stated domain."""
        if self.domain is not None:
            return self.domain
        boxes = [p.bounds() for p in self.prisms]
        return tuple(  # type: ignore[return-value]
            (min if i % 2 == 0 else max)(b[i] for b in boxes) for i in range(6)
        )
