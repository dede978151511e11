"""Scene + mesh lines -> boxes on mesh lines: what the solver is given.

A cell takes the material of the last prism that covers its centre. Faces of prisms go to the
nearest mesh line; a metal prism whose two faces fall on one line becomes a sheet on that line.
Openings are left out of the metal, never carved: a box of air laid over metal would take the
edges on its border away and move the metal by a cell.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import singledispatch

import numpy as np
import shapely

from simharness.constants import C0, EPS0, MU0, TWO_PI
from simharness.em.guide.electrostatics import line_capacitance
from simharness.geometry.scene import CoaxPort, Scene
from simharness.geometry.solids import METAL, VACUUM, Material, Prism, SlantedStrip, TubePart
from simharness.mesh.grid import Grid
from simharness.mesh.shapes import guide_shape
from simharness.mesh.sheets import layers
from simharness.mesh.strips import stairs
from simharness.mesh.tube_cells import tube_mask

Corner = tuple[int, int, int]
"""Indices of the mesh lines through a corner of a box."""


@dataclass(frozen=True)
class Tile:
    """Cells [low, high) on each axis; equal bounds on one axis make a sheet on that line."""

    material: Material
    low: Corner
    high: Corner
    magnetic_loss: float = 0.0


def tiles(scene: Scene, grid: Grid) -> tuple[Tile, ...]:
    """Boxes that reproduce the scene on the mesh, metal last."""
    shape = len(grid.x) - 1, len(grid.y) - 1, len(grid.z) - 1
    labels = np.zeros(shape, dtype=np.uint8)
    materials: list[Material] = [VACUUM]
    sheets: list[tuple[Prism, int, np.ndarray]] = []
    strips = [prism for prism in scene.prisms if isinstance(prism, SlantedStrip)]
    for prism in scene.prisms:
        if prism in strips:
            continue
        mask = outline_mask(prism, grid)
        for low, high, own in layers(prism, grid, scene.spectrum.centre):
            material = _meshed_material(own, scene, grid)
            if material not in materials:
                materials.append(material)
            if low == high:
                if material.metal:
                    sheets.append((prism, low, mask))
                continue
            window = [slice(None)] * 3
            window[prism.axis] = slice(low, high)
            filled = labels[tuple(window)]
            filled[np.broadcast_to(np.expand_dims(mask, prism.axis), filled.shape)] = materials.index(
                material
            )
            if not material.metal:
                _clear_sheets(sheets, prism, mask)
    result: list[Tile] = []
    for number, material in enumerate(materials[1:], start=1):
        for first, last in _boxes(labels == number):
            result += (
                _absorber_layers(material, first, last, grid)
                if material.absorber
                else [Tile(material, first, last)]
            )
    for prism, line, mask in sheets:
        for first, last in _boxes(np.expand_dims(mask, prism.axis)):
            result.append(Tile(METAL, _on_line(first, prism.axis, line), _on_line(last, prism.axis, line)))
    for strip in strips:
        k = grid.index(2, strip.low), grid.index(2, strip.high)
        result += [Tile(METAL, (*low, k[0]), (*high, k[1])) for low, high in stairs(strip, grid)]
    found = tuple(sorted(result, key=lambda t: t.material.metal))
    return without_idle_metal(found, shape) if guide_shape(scene).staircase else found


def _on_line(corner: Corner, axis: int, line: int) -> Corner:
    """The corner of a box moved to a line of an axis."""
    i, j, k = (line if n == axis else index for n, index in enumerate(corner))
    return i, j, k


def without_idle_metal(boxes: tuple[Tile, ...], shape: tuple[int, int, int]) -> tuple[Tile, ...]:
    """The boxes without those of metal all of whose edges belong to others too.

    A staircase has such boxes, and the solver warns of them.
    """
    edges = [
        np.zeros([n + (other != axis) for other, n in enumerate(shape)], dtype=np.int16) for axis in range(3)
    ]

    def own(tile: Tile) -> Iterator[np.ndarray]:
        for axis in range(3):
            spans = (slice(low, high + (i != axis)) for i, (low, high) in enumerate(zip(tile.low, tile.high)))
            yield edges[axis][tuple(spans)]

    metal = [tile for tile in boxes if tile.material.metal]
    for tile in metal:
        for part in own(tile):
            part += 1
    idle = set()
    for tile in sorted(metal, key=lambda t: math.prod(high - low + 1 for low, high in zip(t.low, t.high))):
        if all((part > 1).all() for part in own(tile)):
            idle.add(tile)
            for part in own(tile):
                part -= 1
    return tuple(tile for tile in boxes if tile not in idle)


@singledispatch
def outline_mask(prism: Prism, grid: Grid) -> np.ndarray:
    """Cells of the plane normal to the prism's axis that its outline, or the circles of a tube, covers."""
    first, second = (i for i in range(3) if i != prism.axis)
    polygon = (prism.meshed or prism.outline).polygon()
    u0, v0, u1, v1 = polygon.bounds
    lines = grid.lines[first], grid.lines[second]
    if polygon.area > (1 - 1e-9) * (u1 - u0) * (v1 - v0):
        mask = np.zeros((len(lines[0]) - 1, len(lines[1]) - 1), dtype=bool)
        mask[
            grid.index(first, u0) : grid.index(first, u1), grid.index(second, v0) : grid.index(second, v1)
        ] = True
        return mask
    u, v = ((line[1:] + line[:-1]) / 2 for line in lines)
    shapely.prepare(polygon)
    return shapely.contains_xy(polygon, *np.meshgrid(u, v, indexing="ij"))


outline_mask.register(TubePart, tube_mask)


def _clear_sheets(sheets: list[tuple[Prism, int, np.ndarray]], prism: Prism, mask: np.ndarray) -> None:
    """A later prism that is not metal opens the sheets whose metal it replaces, not those it only touches."""
    for i, (metal, line, sheet) in enumerate(sheets):
        overlap = min(metal.high, prism.high) - max(metal.low, prism.low)
        if metal.axis == prism.axis and overlap > 1e-9:
            sheets[i] = (metal, line, sheet & ~mask)


def _boxes(mask: np.ndarray) -> Iterator[tuple[Corner, Corner]]:
    """Cover a mask of cells with disjoint boxes: longest run on the last axis first."""
    left = mask.copy()
    for i, j in np.argwhere(left.any(axis=2)):
        while left[i, j].any():
            k0 = int(np.argmax(left[i, j]))
            rest = left[i, j, k0:]
            k1 = k0 + (int(np.argmin(rest)) if not rest.all() else len(rest))
            j1 = j + 1
            while j1 < left.shape[1] and _same_run(left[i, j1], k0, k1):
                j1 += 1
            i1 = i + 1
            while i1 < left.shape[0] and all(_same_run(left[i1, n], k0, k1) for n in range(j, j1)):
                i1 += 1
            left[i:i1, j:j1, k0:k1] = False
            yield (int(i), int(j), k0), (int(i1), int(j1), k1)


def _same_run(row: np.ndarray, k0: int, k1: int) -> bool:
    """The row is filled from k0 to k1 and stops there."""
    return bool(row[k0:k1].all()) and not (k0 > 0 and row[k0 - 1]) and not (k1 < len(row) and row[k1])


def _absorber_layers(material: Material, low: Corner, high: Corner, grid: Grid) -> list[Tile]:
    """Loss rising with the square of depth, cell by cell, magnetic loss matched to it."""
    z = grid.z[low[2] : high[2] + 1]
    centre = (z[1:] + z[:-1]) / 2
    depth = (centre - z[0]) / (z[-1] - z[0])
    if material.absorber == "-z":
        depth = 1 - depth
    layers = []
    for k, share in enumerate(depth**2):
        loss = material.loss * float(share)
        layer = replace(material, name=f"{material.name} {low[2] + k}", loss=loss)
        layers.append(Tile(layer, (*low[:2], low[2] + k), (*high[:2], low[2] + k + 1), loss * MU0 / EPS0))
    return layers


def _meshed_material(material: Material, scene: Scene, grid: Grid) -> Material:
    """The coax filling, adjusted so that the meshed line has the impedance of the round one."""
    if not material.name.endswith("coax filling"):
        return material
    lines = [p for p in scene.ports if isinstance(p, CoaxPort)]
    port = lines[0] if material.name == "coax filling" else lines[1]
    return replace(material, permittivity=meshed_coax_permittivity(port, grid))


def coax_cells(
    port: CoaxPort, grid: Grid
) -> tuple[tuple[int, int], tuple[int, int], tuple[int, int], tuple[int, int]]:
    """Line indices of the pin and of the bore on the mesh, each on the two axes across the line."""
    return tuple(  # type: ignore[return-value]
        (grid.index(axis, centre - side / 2), grid.index(axis, centre + side / 2))
        for side in (port.inner_side, port.outer_side)
        for axis, centre in port.across
    )


def coax_plane(port: CoaxPort, grid: Grid) -> int:
    """Index of the line along the coax where waves are counted, clear of the aperture and the source."""
    return grid.index(port.axis, port.reference - port.direction * 0.6 * port.length)


def meshed_coax_permittivity(port: CoaxPort, grid: Grid) -> float:
    """Relative permittivity that gives the meshed line the impedance `port.impedance`.

    The field of the line's TEM wave solves Laplace's equation on the mesh that the solver uses, so that its
    impedance is known exactly before the run: Z = sqrt(eps_r)/(c0 C'), with C' proportional to eps_r.
    """
    pin_u, pin_v, bore_u, bore_v = coax_cells(port, grid)
    u, v = (grid.lines[axis] for axis, _ in port.across)
    capacitance = line_capacitance(
        u[bore_u[0] : bore_u[1] + 1],
        v[bore_v[0] : bore_v[1] + 1],
        (pin_u[0] - bore_u[0], pin_u[1] - bore_u[0]),
        (pin_v[0] - bore_v[0], pin_v[1] - bore_v[0]),
    )
    return (1.0 / (C0 * capacitance * port.impedance)) ** 2


def vacuum_factor(scene: Scene, grid: Grid) -> float:
    """Relative constants of 'vacuum' that give the lowest mode its true wavelength on the mesh.

    A wave on the mesh is slow by about (k h)^2/24. The transverse eigenvalue of the mode on the mesh and the
    mean of (2/h sin(beta h/2))^2 along the guide say by how much at the centre frequency; scaling both
    constants alike corrects the speed and leaves the impedance. 1 without a guide.
    """
    if scene.inside is None:
        return 1.0
    shape, (*_, z0, z1) = guide_shape(scene), scene.inside
    z = grid.z[grid.index(2, z0) : grid.index(2, z1) + 1]
    wavenumber = TWO_PI * scene.spectrum.centre / C0
    across = shape.meshed_cutoff_square(scene, grid)
    beta = np.sqrt(wavenumber**2 - shape.cutoff_wavenumber(scene) ** 2)
    steps = np.diff(z)
    along = float(np.average((2 / steps * np.sin(beta * steps / 2)) ** 2, weights=steps))
    omega = TWO_PI * scene.spectrum.centre
    in_time = 2 / (C0 * grid.time_step) * np.sin(omega * grid.time_step / 2)
    return float(np.sqrt(across + along) / in_time)
