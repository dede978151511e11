"""The solver's structure as plain data: properties, and the boxes that they fill.

Coordinates are multiples of `UNIT`. The numbers are the solver's own; `openems.py` hands them on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simharness.mesh.raster import Tile
    from simharness.solver.settings import SolverRequest

UNIT = 1e-3
"""Drawing unit of the solver model, m."""

FACES = tuple((axis, side) for axis in range(3) for side in (-1, 1))
"""Axis and side (-1 low, +1 high) of the six faces of a box."""

VOLTAGE, CURRENT, ELECTRIC_FIELD, MAGNETIC_FIELD = range(4)
"""The solver's numbers for what a probe measures: voltage and current over a box, E and H at a point."""

ELECTRIC_RECORD, MAGNETIC_RECORD = 10, 11
"""The solver's numbers for a record of E and of H at given frequencies."""

ON_LINES, AT_CELLS, AS_STORED = 1, 2, 0
"""The solver's numbers for where a record is taken: crossings of mesh lines, middles of cells, each
component where it is."""

Point = Sequence[float]


@dataclass
class Property:
    """One property of the solver's structure.

    Attributes
    ----------
    kind : str
        "metal", "material", "resistor", "source", "probe" or "record"; see `openems.ADDERS`.
    name : str
    options : dict
        Keyword arguments of the solver's method.
    boxes : list
        (lower corner, upper corner, priority or None) of each box, in drawing units.
    weights : list of str
        Of a source: its field components as functions of x, y, z in drawing units.
    """

    kind: str
    name: str
    options: dict[str, Any]
    boxes: list[tuple[list[float], list[float], int | None]] = field(default_factory=list)
    weights: list[str] = field(default_factory=list)

    def add_box(self, low: Point, high: Point, priority: int | None = None) -> None:
        """Fill a box, corners in drawing units; of overlapping ones the higher priority wins."""
        self.boxes.append(([float(x) for x in low], [float(x) for x in high], priority))


@dataclass
class Model:
    """The solver's structure: properties in the order in which they are added."""

    request: SolverRequest
    properties: list[Property] = field(default_factory=list)
    owners: dict[str, Property] = field(default_factory=dict)

    def at(self, axis: int, index: int) -> float:
        """A mesh line in drawing units, bit for bit as the solver has it."""
        return float(self.request.grid.lines[axis][index] / UNIT)

    def middle(self, axis: int, index: int) -> float:
        """Centre of a cell on one axis, in drawing units."""
        return (self.at(axis, index) + self.at(axis, index + 1)) / 2

    def corner(self, index: Sequence[int]) -> list[float]:
        """Drawing coordinates of the point where three mesh lines of these indices meet."""
        return [self.at(axis, int(i)) for axis, i in enumerate(index)]

    def near(self, x: float, y: float, z: float) -> list[int]:
        """Indices of the mesh lines nearest to a point in m."""
        return [self.request.grid.index(axis, p) for axis, p in enumerate((x, y, z))]

    def add(self, kind: str, name: str, **options: Any) -> Property:
        """A new property without boxes."""
        self.properties.append(Property(kind, name, options))
        return self.properties[-1]

    def owner(self, tile: Tile) -> Property:
        """The property of a tile's material, made with the first tile of it."""
        material = tile.material
        if material.name not in self.owners:
            permittivity, loss = (
                zip(*material.axes) if material.axes else (material.permittivity, material.loss)
            )
            electric = {"epsilon": permittivity, "kappa": loss, "sigma": tile.magnetic_loss}
            self.owners[material.name] = (
                self.add("metal", material.name)
                if material.metal
                else self.add("material", material.name, **electric)
            )
        return self.owners[material.name]

    def add_probe(self, name: str, kind: int, low: Point, high: Point, **options: Any) -> None:
        """Record a voltage, a current or a field over a box; `kind` is the solver's number for it."""
        self.add("probe", name, p_type=kind, **options).add_box(low, high)

    def add_record(self, name: str, kind: int, where: int, low: Point, high: Point) -> None:
        """Record a field over a box at the frequencies of the far field; `kind`, `where`: the solver's
        numbers."""
        frequency = [float(f) for f in self.request.scene.spectrum.far]
        self.add("record", name, dump_type=kind, dump_mode=where, file_type=1, frequency=frequency).add_box(
            low, high
        )

    def add_source_gap(
        self,
        name: str,
        low: Sequence[int],
        high: Sequence[int],
        axis: int,
        resistance: float,
        drive: float = 1.0,
    ) -> None:
        """Resistor (ohm) and, but for a drive of 0, field source over all edges of a gap along `axis`,
        between two crossings of mesh lines."""
        start, stop = self.corner(low), self.corner(high)
        self.add("resistor", f"{name} resistor", ny=axis, caps=False, R=resistance).add_box(start, stop, 20)
        if not drive:
            return
        value = [drive * float(i == axis) for i in range(3)]
        self.add("source", f"{name} source", exc_type=0, exc_val=value).add_box(start, stop, 20)

    def add_loop(
        self, name: str, axis: int, layer: int, spans: dict[int, tuple[int, int]], weight: float
    ) -> None:
        """Current through a loop half a cell outside `spans`, in the middle of cell `layer` of `axis`."""
        low, high = [0.0] * 3, [0.0] * 3
        low[axis] = high[axis] = self.middle(axis, layer)
        for other, (first, last) in spans.items():
            low[other], high[other] = self.middle(other, first - 1), self.middle(other, last)
        self.add_probe(name, CURRENT, low, high, weight=weight, norm_dir=axis)


def side_name(side: int) -> str:
    """Word for the low or the high end of an axis in the names of records."""
    return "low" if side < 0 else "high"
