"""What the solver is told about a request: mesh lines, boundaries, and properties with the boxes that they
fill.

It is worked out here, in the parent, and written as JSON, so that the child (`openems.py`) needs neither
this package nor what this package depends on. Numbers come back from the file bit for bit.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from simharness.files import atomic_write_text
from simharness.geometry.solids import COVERS, SUBSTRATE
from simharness.mesh.raster import tiles, vacuum_factor
from simharness.mesh.sheets import layers
from simharness.solver.model.ports import model_port
from simharness.solver.model.properties import (
    AS_STORED,
    ELECTRIC_RECORD,
    FACES,
    MAGNETIC_RECORD,
    ON_LINES,
    UNIT,
    VOLTAGE,
    Model,
    side_name,
)
from simharness.solver.model.shapes import guide_shape
from simharness.solver.settings import SolverRequest

REQUEST_NAME = "request.json"
"""Name of the file that the child reads."""

_LOSSY = {SUBSTRATE: "substrate_e"} | {part: f"{face}_cover_e" for face, part in COVERS.items()}
"""Parts whose loss is worked out from the field in them, and the names of its records."""

END_CRITERION = 1e-12
"""Energy over its peak at which the solver stops by itself: never before this program has told it to."""


def solver_model(request: SolverRequest) -> Model:
    """The whole structure of a request."""
    scene, grid = request.scene, request.grid
    model = Model(request)
    _add_vacuum(model)
    for tile in tiles(scene, grid):
        model.owner(tile).add_box(
            model.corner(tile.low), model.corner(tile.high), 10 if tile.material.metal else 5
        )
    for number, port in enumerate(scene.ports, start=1):
        model_port(port).add(model, port, number)
    _add_records(model)
    return model


def write_request(request: SolverRequest, folder: Path) -> None:
    """Write what the child needs to a file in its folder.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    scene, grid, model = request.scene, request.grid, solver_model(request)
    content = {
        "format": 1,
        "unit": UNIT,
        "timesteps": request.steps,
        "end_criterion": END_CRITERION,
        "centre": scene.spectrum.centre,
        "half_bandwidth": request.pulse_width,
        "boundaries": [
            "PEC" if face != "open" else f"PML_{layers}" if layers else "MUR"
            for face, layers in zip(scene.boundaries, grid.absorber)
        ],
        "lines": [(line / UNIT).tolist() for line in grid.lines],
        "properties": [asdict(item) for item in model.properties],
    }
    atomic_write_text(folder / REQUEST_NAME, json.dumps(content, default=float))


def _add_vacuum(model: Model) -> None:
    """Fill everything with the medium in which waves on the lattice run at their true speed."""
    request = model.request
    factor = vacuum_factor(request.scene, request.grid) if request.settings.true_speed else 1.0
    if factor == 1.0:
        return
    last = [len(line) - 1 for line in request.grid.lines]
    medium = model.add("material", "vacuum", epsilon=factor, mue=factor)
    medium.add_box(model.corner((0, 0, 0)), model.corner(last), 0)


def _add_records(model: Model) -> None:
    """Near-field surface, field cut, field at the walls, field in lossy sheets, voltages across slots."""
    scene = model.request.scene
    if scene.spectrum.far:
        _add_near_field_surface(model)
        if scene.inside is not None:
            guide_shape(scene).add_wall_records(model)
            _add_cut(model)
        for prism in scene.prisms:
            if prism.part in _LOSSY and prism.material.loss:
                low, high = (model.near(*prism.bounds()[side::2]) for side in (0, 1))
                filled = list(layers(prism, model.request.grid, scene.spectrum.centre))
                low[prism.axis], high[prism.axis] = filled[0][0], filled[-1][1]
                model.add_record(
                    _LOSSY[prism.part], ELECTRIC_RECORD, AS_STORED, model.corner(low), model.corner(high)
                )
    for number, slot in enumerate(scene.slots, start=1):
        left, right = (
            model.corner(model.near(slot.x + side * slot.width / 2, slot.y, slot.z)) for side in (-1, 1)
        )
        weight = -1 if slot.face == "front" else 1
        model.add_probe(f"slot{number}_voltage", VOLTAGE, left, right, weight=weight)


def _add_near_field_surface(model: Model) -> None:
    """E and H on the six faces of the recording box."""
    surface = model.request.grid.surface
    if surface is None:
        return
    for axis, side in FACES:
        low, high = ([pair[i] for pair in surface] for i in (0, 1))
        low[axis] = high[axis] = surface[axis][0 if side < 0 else 1]
        for kind, name in ((ELECTRIC_RECORD, "e"), (MAGNETIC_RECORD, "h")):
            model.add_record(
                f"face_{name}_{axis}_{side_name(side)}", kind, ON_LINES, model.corner(low), model.corner(high)
            )


def _add_cut(model: Model) -> None:
    """E in the plane half-way up the guide."""
    inside = model.request.scene.inside
    assert inside is not None
    low, high = model.near(*inside[0::2]), model.near(*inside[1::2])
    low[1] = high[1] = model.request.grid.index(1, (inside[2] + inside[3]) / 2)
    model.add_record("cut_e", ELECTRIC_RECORD, ON_LINES, model.corner(low), model.corner(high))
