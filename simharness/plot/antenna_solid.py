"""The antenna as a small solid for pictures in space: its tube in patches, its slots, its edges."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simharness.em.slot.shape import centre_line
from simharness.records import Record, RoundGuide, Slot

LENGTH = 1.15
"""Of the antenna in the picture."""
_STEPS, _PARTS = 120, 12
"""Patches along the tube and on each quarter of its outline: small ones sort well by depth."""
_ABOVE = 0.004
"""Of slots over the wall, so that it does not cover them."""


def patches_between(points: NDArray) -> NDArray:
    """Four-cornered patches (n, 4, 3) between neighbouring points of a grid (i, j, 3)."""
    corners = [points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]]
    return np.stack(corners, axis=2).reshape(-1, 4, 3)


def outward(patches: NDArray, direction: NDArray) -> NDArray:
    """Patches (n, 4, 3) with their corners anticlockwise as seen from where a direction (n, 3) or (3,) points."""
    normal = np.cross(patches[:, 2] - patches[:, 0], patches[:, 3] - patches[:, 1])
    wrong = np.sum(normal * direction, axis=1) < 0
    return np.where(wrong[:, None, None], patches[:, ::-1], patches)


def _section(record: Record) -> NDArray:
    """Closed outline (n, 2) of the tube across, about its middle, mm."""
    guide = record.guide
    if isinstance(guide, RoundGuide):
        angle = np.linspace(0, 2 * np.pi, 4 * _PARTS + 1)
        return guide.width_mm / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    corners = np.array([(1, -1), (1, 1), (-1, 1), (-1, -1), (1, -1)]) * (
        guide.width_mm / 2,
        guide.height_mm / 2,
    )
    part = np.linspace(0, 1, _PARTS + 1)[:-1, None]
    sides = [one + part * (two - one) for one, two in zip(corners, corners[1:])]
    return np.concatenate([*sides, corners[-1:]])


def tube_patches(record: Record) -> tuple[NDArray, NDArray]:
    """The tube in patches (n, 4, 3), and their greys (n, 3): a wall is the lighter the more it faces front or back."""
    scale = LENGTH / record.guide.length_mm
    outline, along = scale * _section(record), np.linspace(-LENGTH / 2, LENGTH / 2, _STEPS + 1)
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
    return np.concatenate([sides, *ends]), np.repeat(np.concatenate(greys)[:, None], 3, axis=1)


def slot_patches(record: Record) -> NDArray:
    """Slots as bands (n, 4, 3) just above the wall, anticlockwise as seen from outside; curved ones in pieces."""
    return np.concatenate([np.empty((0, 4, 3)), *(_slot_bands(record, slot) for slot in record.slots)])


def _slot_bands(record: Record, slot: Slot) -> NDArray:
    guide = record.guide
    scale = LENGTH / guide.length_mm
    along = np.linspace(-0.5, 0.5, 2 if slot.shape == "straight" else 13) * slot.length_mm
    points, tangents = centre_line(slot.shape, slot.length_mm, slot.aside_mm, along)
    points = points + (slot.offset_mm, slot.position_mm - guide.length_mm / 2)
    left, right = (points + side * slot.width_mm / 2 * tangents[:, ::-1] * (1, -1) for side in (-1, 1))
    corners = scale * np.stack([left[:-1], right[:-1], right[1:], left[1:]], axis=1)
    way = 1 if slot.face == "front" else -1
    if isinstance(guide, RoundGuide):
        radius = scale * guide.width_mm / 2
        turn = corners[..., 0] / (scale * guide.outer_radius_mm)
        x, y = (radius + _ABOVE) * np.sin(turn), (radius + _ABOVE) * np.cos(turn)
    else:
        x, y = corners[..., 0], np.full(corners.shape[:2], scale * guide.height_mm / 2 + _ABOVE)
    return outward(np.stack([x, way * y, corners[..., 1]], axis=-1), np.array([0.0, way, 0.0]))


def edge_lines(record: Record) -> list[NDArray]:
    """Edges of the tube, each (n, 3): both rims, and the corners of a box."""
    outline = LENGTH / record.guide.length_mm * _section(record)
    rims = [np.column_stack([outline, np.full(len(outline), z)]) for z in (-LENGTH / 2, LENGTH / 2)]
    if isinstance(record.guide, RoundGuide):
        return rims
    corners = range(0, len(outline) - 1, (len(outline) - 1) // 4)
    return rims + [np.stack([rim[n] for rim in rims]) for n in corners]
