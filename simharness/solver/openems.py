"""The child process: scene and mesh in, raw records out. The only importer of openEMS and CSXCAD.

Run as ``python -m simharness.solver.openems FOLDER``: reads ``request.pickle`` there, works in
``FOLDER/engine`` and leaves ``raw.h5``. The transcript is whatever this process prints.
"""

from __future__ import annotations

import math
import pickle
import sys
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType

from simharness.em.guide.round import TE11_ROOT
from simharness.geometry.scene import SUBSTRATE, CoaxPort, GapPort, ModePort, RoundModePort
from simharness.mesh.raster import Tile, coax_cells, coax_plane, tiles, vacuum_factor
from simharness.solver.files import collect
from simharness.solver.process import die_with_parent
from simharness.solver.settings import SolverRequest
from simharness.solver.subnormals import subnormals_as_zero

UNIT = 1e-3
"""Drawing unit of the solver model, m."""

FACES = tuple((axis, side) for axis in range(3) for side in (-1, 1))


@dataclass
class Model:
    """The solver's structure under construction."""

    csx: object
    request: SolverRequest
    owners: dict[str, object] = field(default_factory=dict)

    def at(self, axis: int, index: int) -> float:
        """A mesh line, bit for bit as the solver has it."""
        return float(self.request.grid.lines[axis][index] / UNIT)

    def middle(self, axis: int, index: int) -> float:
        """Centre of a cell on one axis."""
        return (self.at(axis, index) + self.at(axis, index + 1)) / 2

    def corner(self, index) -> list[float]:
        """Drawing coordinates of the point where three mesh lines of these indices meet."""
        return [self.at(axis, int(i)) for axis, i in enumerate(index)]

    def near(self, x: float, y: float, z: float) -> list[int]:
        """Indices of the mesh lines nearest to a point in m."""
        return [self.request.grid.index(axis, p) for axis, p in enumerate((x, y, z))]

    def probe(self, name: str, kind: int, low, high, **options) -> None:
        """Record a voltage, current or mode amplitude over a box; `kind` is the solver's number for it."""
        self.csx.AddProbe(name, p_type=kind, **options).AddBox(low, high)


def build(request: SolverRequest):
    """FDTD object with the whole model; the structure is returned too so that it stays alive."""
    # One module of CSXCAD imports all of matplotlib for plots that nobody here asks for: a third of a second.
    sys.modules.setdefault("pylab", ModuleType("pylab"))
    from CSXCAD import ContinuousStructure
    from openEMS import openEMS

    scene, grid = request.scene, request.grid
    fdtd = openEMS(NrTS=request.steps, EndCriteria=1e-12)
    fdtd.SetCellConstantMaterial(True)
    fdtd.SetGaussExcite(scene.spectrum.centre, request.pulse_width)
    csx = ContinuousStructure()
    fdtd.SetCSX(csx)
    mesh = csx.GetGrid()
    mesh.SetDeltaUnit(UNIT)
    for name, line in zip("xyz", grid.lines):
        mesh.SetLines(name, line / UNIT)
    fdtd.SetBoundaryCond(
        [
            "PEC" if face != "open" else f"PML_{layers}" if layers else "MUR"
            for face, layers in zip(scene.boundaries, grid.absorber)
        ]
    )
    model = Model(csx, request)
    _add_vacuum(model)
    for tile in tiles(scene, grid):
        _add_tile(model, tile)
    for number, port in enumerate(scene.ports, start=1):
        {CoaxPort: _add_coax, GapPort: _add_gap, ModePort: _add_mode, RoundModePort: _add_mode}[type(port)](
            model, port, number
        )
    _add_records(model)
    return fdtd, csx


def _add_vacuum(model: Model) -> None:
    """Fill everything with the medium in which waves on the lattice run at their true speed."""
    request = model.request
    factor = vacuum_factor(request.scene, request.grid) if request.settings.true_speed else 1.0
    if factor == 1.0:
        return
    last = [len(line) - 1 for line in request.grid.lines]
    medium = model.csx.AddMaterial("vacuum", epsilon=factor, mue=factor)
    medium.AddBox(model.corner((0, 0, 0)), model.corner(last), priority=0)


def _add_tile(model: Model, tile: Tile) -> None:
    material, csx = tile.material, model.csx
    if material.name not in model.owners:
        model.owners[material.name] = (
            csx.AddMetal(material.name)
            if material.metal
            else csx.AddMaterial(
                material.name, epsilon=material.permittivity, kappa=material.loss, sigma=tile.magnetic_loss
            )
        )
    model.owners[material.name].AddBox(
        model.corner(tile.low), model.corner(tile.high), priority=10 if material.metal else 5
    )


def _source_gap(
    model: Model, name: str, low: list[int], high: list[int], axis: int, resistance: float
) -> None:
    """Resistor and field source over all edges of a gap along `axis`."""
    start, stop = model.corner(low), model.corner(high)
    model.csx.AddLumpedElement(f"{name} resistor", ny=axis, caps=False, R=resistance).AddBox(
        start, stop, priority=20
    )
    value = [0.0, 0.0, 0.0]
    value[axis] = 1.0
    model.csx.AddExcitation(f"{name} source", exc_type=0, exc_val=value).AddBox(start, stop, priority=20)


def _loop(
    model: Model, name: str, axis: int, layer: int, spans: dict[int, tuple[int, int]], weight: float
) -> None:
    """Current through a loop half a cell outside `spans`, in the middle of cell `layer` of `axis`."""
    low, high = [0.0] * 3, [0.0] * 3
    low[axis] = high[axis] = model.middle(axis, layer)
    for other, (first, last) in spans.items():
        low[other], high[other] = model.middle(other, first - 1), model.middle(other, last)
    model.probe(name, 1, low, high, weight=weight, norm_dir=axis)


def _add_coax(model: Model, port: CoaxPort, number: int) -> None:
    """Source in the gap at the end of the pin, voltage from pin to bore, current around the pin."""
    grid, along = model.request.grid, port.axis
    pin_u, pin_v, bore_u, _ = coax_cells(port, grid)
    (u, _), (v, _) = port.across

    def corner(first: int, second: int, at: int) -> list[int]:
        index = [0, 0, 0]
        index[u], index[v], index[along] = first, second, at
        return index

    end = grid.index(along, port.reference - port.direction * port.length)
    low, high = sorted((end, end + port.direction))
    _source_gap(
        model,
        f"port{number}",
        corner(pin_u[0], pin_v[0], low),
        corner(pin_u[1], pin_v[1], high),
        along,
        port.impedance,
    )
    plane = coax_plane(port, grid)
    inner, outer = (model.corner(corner(first, pin_v[0], plane)) for first in (pin_u[1], bore_u[1]))
    model.probe(f"port{number}_voltage", 0, inner, outer, weight=1)
    for side, layer in (("a", plane - 1), ("b", plane)):
        _loop(model, f"port{number}_current_{side}", along, layer, {u: pin_u, v: pin_v}, port.direction)


def _add_gap(model: Model, port: GapPort, number: int) -> None:
    grid, axis = model.request.grid, port.axis
    half = port.side / 2
    low = model.near(port.x - half, port.low, port.z - half)
    high = model.near(port.x + half, port.high, port.z + half)
    centre = (port.x, port.y, port.z)
    for i in range(3):
        if i == axis:
            low[i], high[i] = grid.index(i, port.low), grid.index(i, port.high)
        else:
            low[i], high[i] = grid.index(i, centre[i] - half), grid.index(i, centre[i] + half)
    _source_gap(model, f"port{number}", low, high, axis, port.impedance)
    top = list(low)
    top[axis] = high[axis]
    model.probe(f"port{number}_voltage", 0, model.corner(low), model.corner(top), weight=-1)
    spans = {i: (low[i], high[i]) for i in range(3) if i != axis}
    _loop(model, f"port{number}_current_a", axis, low[axis], spans, 1)


def _add_mode(model: Model, port: ModePort, number: int) -> None:
    """Source of the mode, and the field of the mode at one crossing of mesh lines half-way up near the middle.

    One crossing, because the solver's own mode integral weights E and H differently on graded lines
    and takes averages with the inside of the metal along walls: 2 % between them was seen.
    """
    grid = model.request.grid
    low = model.near(port.x_centre - port.half_width, port.y_low, port.plane)
    high = model.near(port.x_centre + port.half_width, port.y_low + port.b, port.plane)
    point = model.near(port.x_centre, port.y_low + port.b / 2, port.plane)
    # E_y and H_x of cell index i, j, k stand on line i, half a cell above line j; H_x half a cell above k too.
    at = model.corner(point)
    weight = 1 / port.field(at[0] * UNIT, model.middle(1, point[1]) * UNIT)
    model.probe(f"port{number}_voltage", 2, at, at, weight=weight)
    for side, layer in (("a", point[2] - 1), ("b", point[2])):
        beside = [
            model.middle(axis, index) for axis, index in enumerate((*point[:2], layer))
        ]  # the solver wants cell centres
        model.probe(f"port{number}_current_{side}", 3, beside, beside, weight=-port.direction * weight)
    if port.source is None:
        return
    low[2] = high[2] = grid.index(2, port.source)
    source = model.csx.AddExcitation(f"port{number} source", exc_type=0, exc_val=[1, 1, 0])
    source.SetWeightFunction([*_source_weights(port), "0"])
    source.AddBox(model.corner(low), model.corner(high), priority=5)


def _source_weights(port: ModePort) -> tuple[str, str]:
    """E_x and E_y of the source over x and y in drawing units.

    TE10 as it is; of TE11 the first terms about the axis, whose remainder is evanescent modes that die out before the plane.
    """
    x = f"(x-({port.x_centre / UNIT:.15g}))"
    if not isinstance(port, RoundModePort):
        return "0", f"cos({math.pi / (port.a / UNIT):.15g}*{x})"
    y = f"(y-({(port.y_low + port.b / 2) / UNIT:.15g}))"
    square = (2 * TE11_ROOT / (port.b / UNIT)) ** 2 / 4
    wave = f"(1-{square:.15g}*({x}^2+{y}^2))"
    return f"{math.sin(port.turn):.15g}*{wave}", f"{math.cos(port.turn):.15g}*{wave}"


def _end(side: int) -> str:
    """Word for the low or the high end of an axis in the names of records."""
    return "low" if side < 0 else "high"


def _add_records(model: Model) -> None:
    """Near-field surface, field cut, magnetic field at the walls, field in a lossy substrate, voltages across slots."""
    scene, grid, csx = model.request.scene, model.request.grid, model.csx
    far = list(scene.spectrum.far)
    if grid.surface is not None and far:
        for axis, side in FACES:
            low = [pair[0] for pair in grid.surface]
            high = [pair[1] for pair in grid.surface]
            low[axis] = high[axis] = grid.surface[axis][0 if side < 0 else 1]
            for kind, name in ((10, "e"), (11, "h")):
                dump = csx.AddDump(
                    f"face_{name}_{axis}_{_end(side)}",
                    dump_type=kind,
                    dump_mode=1,
                    file_type=1,
                    frequency=far,
                )
                dump.AddBox(model.corner(low), model.corner(high))
    if scene.inside is not None and far:
        low = model.near(*scene.inside[0::2])
        high = model.near(*scene.inside[1::2])
        if scene.bore:  # its wall is stairs all around: the field is recorded in the whole bore
            csx.AddDump("inner_h", dump_type=11, dump_mode=2, file_type=1, frequency=far).AddBox(
                model.corner(low), model.corner(high)
            )
        for axis, side in () if scene.bore else FACES:
            start, stop = model.corner(low), model.corner(high)
            start[axis] = stop[axis] = model.middle(axis, low[axis] if side < 0 else high[axis] - 1)
            csx.AddDump(
                f"wall_h_{axis}_{_end(side)}", dump_type=11, dump_mode=2, file_type=1, frequency=far
            ).AddBox(start, stop)
        low[1] = high[1] = grid.index(1, (scene.inside[2] + scene.inside[3]) / 2)
        csx.AddDump("cut_e", dump_type=10, dump_mode=1, file_type=1, frequency=far).AddBox(
            model.corner(low), model.corner(high)
        )
    for prism in scene.prisms if far else ():
        if prism.part == SUBSTRATE and prism.material.loss:
            low, high = (model.near(*prism.bounds()[side::2]) for side in (0, 1))
            csx.AddDump("substrate_e", dump_type=10, dump_mode=0, file_type=1, frequency=far).AddBox(
                model.corner(low), model.corner(high)
            )
    for number, slot in enumerate(scene.slots, start=1):
        y, z = slot.y, slot.z
        low = model.near(slot.x - slot.width / 2, y, z)
        high = model.near(slot.x + slot.width / 2, y, z)
        model.probe(
            f"slot{number}_voltage",
            0,
            model.corner(low),
            model.corner(high),
            weight=-1 if slot.face == "front" else 1,
        )


def main(folder: Path, threads: int) -> int:
    """Build, run, gather."""
    request: SolverRequest = pickle.loads((folder / "request.pickle").read_bytes())
    engine = folder / "engine"
    fdtd, csx = build(request)
    with subnormals_as_zero():
        fdtd.Run(str(engine.resolve()), cleanup=False, verbose=1, numThreads=threads)
    collect(engine, folder / "raw.h5", request.scene)
    del fdtd, csx
    return 0


if __name__ == "__main__":
    die_with_parent()
    sys.exit(main(Path(sys.argv[1]).resolve(), int(sys.argv[2])))
