"""What the fields of a rectangular guide lose in its walls, in sheets of dielectric, and in its load.

Pure: arrays in, arrays out.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.em.guide.rectangular import surface_resistance, wave_impedance
from simharness.geometry.scene import Scene
from simharness.mesh.grid import Grid
from simharness.mesh.raster import outline_mask
from simharness.mesh.sheets import layers
from simharness.results.fields import Field
from simharness.results.ports import open_ends
from simharness.solver.settings import SolverRequest


def wall_loss(request: SolverRequest, fields: Mapping[str, Field], scale: np.ndarray) -> np.ndarray:
    """Power lost in the inner faces of the guide, W.

    `fields`: among others the magnetic field at the centres of the cells along each wall, `wall_h_0_low` to
    `wall_h_2_high`.

    Perturbation: the tangential magnetic field of the lossless run, taken half a cell inside the
    wall, on a surface of resistance Rs: P = Rs/2 integral |Ht|^2. Openings are left out; the
    currents on outer faces, slot edges and probe are not counted. Ends that are ports have no wall.
    """
    scene, grid = request.scene, request.grid
    assert scene.inside is not None
    x0, x1, y0, y1, z0, z1 = scene.inside
    lines = [
        np.asarray(line)[(line >= lo - 1e-9) & (line <= hi + 1e-9)]
        for line, lo, hi in zip(grid.lines, (x0, y0, z0), (x1, y1, z1))
    ]
    steps = [np.diff(line) for line in lines]
    resistance = surface_resistance(scene.conductivity, np.array(scene.spectrum.far))
    total = np.zeros(len(scene.spectrum.far))
    ports = open_ends(scene)
    for axis in range(3):
        u, v = (i for i in range(3) if i != axis)
        area = np.outer(steps[u], steps[v])
        for end, side, wall in ((0, "low", ("", "back wall", "")), (1, "high", ("", "front wall", ""))):
            if axis == 2 and any(abs(p - (z0, z1)[end]) < 1e-9 for p in ports):
                continue
            layer = _wall_layer(fields[f"wall_h_{axis}_{side}"], axis, scene.inside)
            metal = _wall_mask(scene, grid, wall[axis], lines) if wall[axis] else 1.0
            square = np.abs(layer[:, u]) ** 2 + np.abs(layer[:, v]) ** 2
            total += resistance / 2 * np.sum(square * area * metal, axis=(1, 2))
    return total * np.abs(scale) ** 2


def _wall_layer(record: Field, axis: int, inside: tuple[float, ...]) -> np.ndarray:
    """Field (frequency, component, first, second) of the cells along a wall across `axis`: the record has
    some more around."""
    places, field = record
    u, v = (
        np.flatnonzero((places[i] > inside[2 * i]) & (places[i] < inside[2 * i + 1]))
        for i in range(3)
        if i != axis
    )
    return np.squeeze(field, axis=2 + axis)[:, :, u[0] : u[-1] + 1, v[0] : v[-1] + 1]


def _wall_mask(scene: Scene, grid: Grid, part: str, lines: list[np.ndarray]) -> np.ndarray:
    """Metal cells of a broad wall over the inside of the guide."""
    prism = next(p for p in scene.prisms if p.part == part)
    mask = outline_mask(prism, grid)
    i0, k0 = grid.index(0, lines[0][0]), grid.index(2, lines[2][0])
    return mask[i0 : i0 + len(lines[0]) - 1, k0 : k0 + len(lines[2]) - 1].astype(float)


def load_power(scene: Scene, cut: Field, scale: np.ndarray) -> np.ndarray:
    """Power of TE10 that runs into the load at the far end, W.

    P = |A|^2 a b beta / (4 omega mu0), A the part of E_y half-way up, where the load begins, that goes as
    cos(pi x / a). All of it travels to the load, which reflects nothing; other modes have faded there.
    """
    assert scene.inside is not None
    x0, x1, y0, y1, _, end = scene.inside
    (x, _, z), field = cut
    x, field = x, field[:, 1, :, 0, int(np.argmin(np.abs(z - end)))] * scale[:, None]
    within = (x >= x0) & (x <= x1)
    profile = np.cos(np.pi * (x[within] - (x0 + x1) / 2) / (x1 - x0))
    amplitude = 2 / (x1 - x0) * np.trapezoid(field[:, within] * profile, x[within], axis=1)
    far = np.array(scene.spectrum.far)
    return np.abs(amplitude) ** 2 * (x1 - x0) * (y1 - y0) / (4 * wave_impedance(x1 - x0, far))


def dielectric_loss(
    request: SolverRequest, part: str, record: Field, scale: np.ndarray, to: np.ndarray | float = 0.0
) -> np.ndarray:
    """Power that heats a sheet of dielectric, W: the substrate of a laminate, or a cover; added to `to`.

    P = loss/2 integral |E|^2, as the solver itself loses it: its field on each edge of a cell counts for a
    quarter of it.

    Parameters
    ----------
    part : str
        Name of the prism.
    record : Field
        E as it is stored, on the lines of all cells that the sheet fills, if in part.
    """
    scene, grid = request.scene, request.grid
    prism = next(p for p in scene.prisms if p.part == part)
    lines, field = record
    window = [slice(grid.index(axis, line[0]), grid.index(axis, line[-1])) for axis, line in enumerate(lines)]
    steps = [np.diff(line)[part] for line, part in zip(grid.lines, window)]
    volume = np.einsum("i,j,k->ijk", *steps) * outline_mask(prism, grid)[window[0], None, window[2]]
    loss = np.zeros((3, len(grid.y) - 1))
    for low, high, material in layers(prism, grid, scene.spectrum.centre):
        loss[:, low:high] = np.array([own for _, own in material.axes] or [material.loss] * 3)[:, None]
    total = np.zeros(len(scale)) + to
    for axis in range(3):
        square = np.abs(field[:, axis] * scale[:, None, None, None]) ** 2
        for other in range(1, 4):
            ends = np.moveaxis(square, other, 0)
            square = np.moveaxis(ends[:-1] if other == axis + 1 else (ends[1:] + ends[:-1]) / 2, 0, other)
        heated = volume * loss[axis, window[1], None]
        total += np.sum(square * heated, axis=(1, 2, 3)) / 2
    return total
