"""The antenna as a small solid for pictures in space: its walls in patches, its slots, its edges."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simharness.em.slot.shape import centre_line
from simharness.plot.shapes import shape_picture
from simharness.records import Record, Slot

LENGTH = 1.15
"""Length of the antenna in the picture, in units of the largest radius of the gain body."""
_STEPS = 120
"""Patches along the guide: small ones sort well by depth."""
_ABOVE = 0.004
"""Height of slots above the wall in the picture, so that it does not hide them."""


def patches_between(points: NDArray) -> NDArray:
    """Four-cornered patches (n, 4, 3) between neighbouring points of a grid (i, j, 3)."""
    corners = [points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]]
    return np.stack(corners, axis=2).reshape(-1, 4, 3)


def outward(patches: NDArray, direction: NDArray) -> NDArray:
    """Patches (n, 4, 3) with corners anticlockwise as seen from outside, in `direction` (n, 3) or (3,)."""
    normal = np.cross(patches[:, 2] - patches[:, 0], patches[:, 3] - patches[:, 1])
    wrong = np.sum(normal * direction, axis=1) < 0
    return np.where(wrong[:, None, None], patches[:, ::-1], patches)


def tube_patches(record: Record) -> tuple[NDArray, NDArray]:
    """The walls in patches (n, 4, 3), and their greys (n, 3): lighter where they face front or back."""
    scale = LENGTH / record.guide.length_mm
    outline, along = (
        scale * shape_picture(record.guide).outline(),
        np.linspace(-LENGTH / 2, LENGTH / 2, _STEPS + 1),
    )
    wall = np.concatenate(
        [
            np.repeat(outline[:, None], along.size, axis=1),
            np.broadcast_to(along[:, None], (len(outline), along.size, 1)),
        ],
        axis=2,
    )
    sides = patches_between(wall)
    step = np.diff(outline, axis=0)
    facing = np.abs(step[:, 0]) / np.hypot(*step.T)
    greys = [np.repeat(0.62 + 0.16 * facing, _STEPS)]
    ends = []
    for z in along[[0, -1]]:
        rim = np.column_stack([outline, np.full(len(outline), z)])
        ends.append(patches_between(np.stack([np.broadcast_to((0.0, 0.0, z), rim.shape), rim])))
        greys.append(np.full(len(outline) - 1, 0.70))
    wings, shades = _wing_patches(record)
    patches = np.concatenate([sides, *ends, wings])
    return patches, np.repeat(np.concatenate([*greys, shades])[:, None], 3, axis=1)


def _wing_patches(record: Record) -> tuple[NDArray, NDArray]:
    """Fronts of the wings in patches (n, 4, 3), and their greys (n,)."""
    guide, wings = record.guide, record.wings
    if wings is None:
        return np.empty((0, 4, 3)), np.empty(0)
    scale = LENGTH / guide.length_mm
    foot = np.array([guide.width_mm, guide.height_mm]) / 2
    tip = foot + wings.width_mm * np.array([np.cos(wings.angle), np.sin(wings.angle)])
    along = np.linspace(-LENGTH / 2, LENGTH / 2, _STEPS + 1)
    found = []
    for sign in (1, -1):
        edges = scale * np.stack([foot, tip]) * (sign, 1)
        grid = [np.column_stack([np.tile(edge, (along.size, 1)), along]) for edge in edges]
        found.append(patches_between(np.stack(grid)))
    return np.concatenate(found), np.full(2 * _STEPS, 0.62 + 0.16 * np.cos(wings.angle))


def slot_patches(record: Record) -> NDArray:
    """Slots as bands (n, 4, 3) just above the wall, anticlockwise as seen from outside."""
    return np.concatenate([np.empty((0, 4, 3)), *(_slot_bands(record, slot) for slot in record.slots)])


def _slot_bands(record: Record, slot: Slot) -> NDArray:
    """One slot as bands (n, 4, 3); several along a bent one."""
    guide = record.guide
    scale = LENGTH / guide.length_mm
    along = np.linspace(-0.5, 0.5, 2 if slot.shape == "straight" else 13) * slot.length_mm
    points, tangents = centre_line(slot.shape, slot.length_mm, slot.aside_mm, along)
    points = np.add(points, (slot.offset_mm, slot.position_mm - guide.length_mm / 2))
    left, right = (points + side * slot.width_mm / 2 * tangents[:, ::-1] * (1, -1) for side in (-1, 1))
    corners = scale * np.stack([left[:-1], right[:-1], right[1:], left[1:]], axis=1)
    way = 1 if slot.face == "front" else -1
    x, y = shape_picture(guide).front(corners[..., 0], scale, _ABOVE)
    return outward(np.stack([x, way * y, corners[..., 1]], axis=-1), np.array([0.0, way, 0.0]))


def edge_lines(record: Record) -> list[NDArray]:
    """Edges of the guide, each (n, 3): both rims, and lines between their corners."""
    shape = shape_picture(record.guide)
    outline = LENGTH / record.guide.length_mm * shape.outline()
    rims = [np.column_stack([outline, np.full(len(outline), z)]) for z in (-LENGTH / 2, LENGTH / 2)]
    return [*rims, *(np.stack([rim[n] for rim in rims]) for n in shape.corners(outline))]
