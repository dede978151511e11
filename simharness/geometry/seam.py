"""A seam that was not closed: a slit between the front wall and a side wall of a folded box."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely.geometry import box

from simharness.constants import MM
from simharness.errors import InputError
from simharness.geometry.scene import Feature, Scene
from simharness.geometry.shapes import guide_shape
from simharness.geometry.solids import Outline
from simharness.records import Record

OPENED = "right side wall"
"""The wall that falls short of the front wall: that at positive x."""


@dataclass(frozen=True)
class Seam:
    """Width of the slit, and where along the guide it begins and ends, m."""

    gap: float
    start: float
    end: float


def half_open_seam(record: Record, gap_mm: float) -> Seam:
    """A slit over the middle half of the guide.

    Raises
    ------
    InputError
        It is no slit: nothing, or a good part of the side wall.
    """
    side, length = guide_shape(record.guide).side_wall_mm, record.guide.length
    if side is None:
        raise InputError(
            "seam", f"{gap_mm:g} mm", "a round tube has no seam along its slotted wall; leave it out"
        )
    if not 0 < gap_mm <= 0.2 * side:
        raise InputError(
            "seam",
            f"{gap_mm:g} mm",
            f"must be more than 0 and at most a fifth of b_mm, {0.2 * side:g} mm",
        )
    return Seam(gap_mm * MM, 0.25 * length, 0.75 * length)


def with_open_seam(scene: Scene, seam: Seam) -> Scene:
    """The scene of an antenna with a slit along the edge between the front wall and a side wall.

    The cells at its mouths must be no wider than the slit: the capacitance of wide ones would short it.
    """
    slit = box(-seam.gap, seam.start, 0.0, seam.end)
    wall = next(prism for prism in scene.prisms if prism.part == OPENED)
    opened = replace(wall, outline=Outline.of(wall.outline.polygon().difference(slit)))
    marks = (
        Feature("gap", 1, -seam.gap, 0.0),
        Feature("gap end", 2, seam.start, seam.end, soft=True),
        Feature("gap", 0, wall.low - seam.gap, wall.low, soft=True),
        Feature("gap", 0, wall.high, wall.high + seam.gap, soft=True),
    )
    prisms = tuple(opened if prism is wall else prism for prism in scene.prisms)
    return replace(scene, prisms=prisms, features=scene.features + marks)
