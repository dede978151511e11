"""What the fields in a round tube lose in its wall, and how far its mode is turned. Pure: arrays in, arrays
out."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from simharness.em.guide.rectangular import surface_resistance, wave_impedance
from simharness.em.guide.round import equivalent_rectangle, te11_axis_field, te11_field
from simharness.geometry.scene import Scene
from simharness.geometry.solids import TubePart
from simharness.mesh.grid import Grid
from simharness.mesh.tube_cells import bore_mask, tube_mask
from simharness.results.ports import open_ends

MIN_FIELD = 0.2
"""Of the largest field on the axis: where it is weaker, in the nulls of the standing wave, the mode has no
direction to speak of."""


def tube_wall_loss(
    scene: Scene, grid: Grid, lines: tuple[NDArray, NDArray, NDArray], field: NDArray
) -> NDArray:
    """Power lost in the inner faces of a round tube, W.

    Perturbation, as for the rectangular guide. The wall is a staircase: each of its faces counts with its
    area projected on the true circle, which adds up to the true circumference, and with the part of H
    tangential to that.

    Parameters
    ----------
    lines : centres of the cells of `field` on each axis, m.
    field : (frequency, 3, x, y, z) complex array
        H, A/m; metal cells count for nothing.
    """
    _, _, y0, _, z0, z1 = scene.inside  # type: ignore[misc]
    centre_y = y0 + scene.bore / 2
    i, j, k = (np.searchsorted(line, centres) - 1 for line, centres in zip(grid.lines, lines))
    bore = bore_mask(scene.bore / 2, centre_y, grid)
    metal = _wall_cells(scene, grid)
    u, v = lines[0][:, None], (lines[1] - centre_y)[None, :]
    away = np.maximum(np.hypot(u, v), 1e-12)
    normal = np.array([u / away, v / away])
    tangential = (
        np.sum(np.abs(field) ** 2, axis=1) - np.abs(np.einsum("axy,faxyz->fxyz", normal, field[:, :2])) ** 2
    )
    free = bore[np.ix_(i, j)]
    width, height, depth = (np.diff(line)[index] for line, index in zip(grid.lines, (i, j, k)))
    total = np.zeros(field.shape[0])
    for axis, side in ((0, -1), (0, 1), (1, -1), (1, 1)):
        beside = metal[np.ix_(i + side * (axis == 0), j + side * (axis == 1), k)] & free[..., None]
        across = np.abs(normal[axis]) * (height[None, :] if axis == 0 else width[:, None])
        total += np.einsum("fxyz,xyz,xy,z->f", tangential, beside, across, depth)
    ports = open_ends(scene)
    area = np.outer(width, height) * free
    area *= np.pi * (scene.bore / 2) ** 2 / area.sum()
    for end, place in ((0, z0), (-1, z1)):
        if not any(abs(p - place) < 1e-9 for p in ports):
            total += np.einsum("faxy,xy->f", np.abs(field[:, :2, :, :, end]) ** 2, area)
    return surface_resistance(scene.conductivity, np.array(scene.spectrum.far)) / 2 * total


def tube_load_power(scene: Scene, cut: tuple[list[NDArray], NDArray], scale: NDArray) -> NDArray:
    """Power of TE11 in both directions of E that runs into the load at the far end, W.

    P = |c|^2 / (2 Z) for E = c e, where |e|^2 integrates to 1 over the cross-section: c by least squares
    along x through the axis, where the load begins. All of it travels to the load, which reflects nothing;
    other modes have faded there.

    Parameters
    ----------
    cut : coordinates x, y, z (m) and E (frequency, component, x, 1, z) of the plane through the axis.
    scale : (frequency,) array, factor of the field.
    """
    x0, x1, *_, end = scene.inside  # type: ignore[misc]
    (x, _, z), field = cut
    within = (x > x0) & (x < x1)
    there = field[:, :2, within, 0, int(np.argmin(np.abs(z - end)))] * scale[:, None, None]
    x = x[within] - (x0 + x1) / 2
    modes = te11_axis_field(scene.bore) * np.array(
        [te11_field(scene.bore, x), te11_field(scene.bore, 0.0, x)]
    )
    share = np.einsum("fax,ax->fa", there, modes) / np.sum(modes**2, axis=1)
    impedance = wave_impedance(equivalent_rectangle(scene.bore)[0], np.array(scene.spectrum.far))
    return np.sum(np.abs(share) ** 2, axis=1) / (2 * impedance)


def _wall_cells(scene: Scene, grid: Grid) -> NDArray:
    """Cells of the tube's wall, openings left out."""
    cells = np.zeros(tuple(len(line) - 1 for line in grid.lines), dtype=bool)
    for part in scene.prisms:
        if isinstance(part, TubePart) and part.kind == "wall":
            cells[:, :, grid.index(2, part.low) : grid.index(2, part.high)] |= tube_mask(part, grid)[
                :, :, None
            ]
    return cells


def mode_turn(results: Mapping[str, NDArray]) -> NDArray:
    """Angle of the major axis of E on the axis of a round tube, rad from +y towards +x (frequency, z).

    It is nan in the nulls of the standing wave.

    Parameters
    ----------
    results : mapping
        With `axis_across`, `cut_x` and `cut_field` of a run.

    Examples
    --------
    >>> field = {"cut_x": np.array([0.0]), "axis_across": np.array([[0.0, 0.1, 0.1j, 0.001]]),
    ...          "cut_field": np.array([[[1.0, 1.0, 1.0, 0.01]]])}
    >>> np.round(np.degrees(mode_turn(field)), 2).tolist()
    [[0.0, 5.71, 0.0, nan]]
    """
    across, along = results["axis_across"], results["cut_field"][:, np.argmin(np.abs(results["cut_x"]))]
    power = np.abs(across) ** 2 + np.abs(along) ** 2
    turn = 0.5 * np.arctan2(2 * np.real(across * along.conj()), np.abs(along) ** 2 - np.abs(across) ** 2)
    return np.where(power >= MIN_FIELD**2 * power.max(axis=1, keepdims=True), turn, np.nan)
