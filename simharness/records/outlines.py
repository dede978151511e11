"""Outlines of slots in the plane of the wall: as they are cut, and as a mesh of few cells takes them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.ops import substring

from simharness.constants import MM
from simharness.em.slot.shape import centre_line, rectangular_length

_PIECES = 64
"""Chords of a curved centre line: they leave a half circle by less than 4e-4 of its radius."""


class SlotDimensions(Protocol):
    """What an outline asks of a slot: dimensions in mm, ends and shape by the words of a record."""

    @property
    def position_mm(self) -> float:
        """Middle of the chord between the tips, from the near end."""

    @property
    def offset_mm(self) -> float:
        """Middle of that chord, from the centre line of the wall."""

    @property
    def length_mm(self) -> float:
        """Overall length along the centre line."""

    @property
    def width_mm(self) -> float:
        """Width across."""

    @property
    def aside_mm(self) -> float:
        """How far the centre line stands off the chord."""

    @property
    def ends(self) -> str:
        """'round', 'square' or 'tapered'."""

    @property
    def shape(self) -> str:
        """'straight', 'bent' or 's'."""

    @property
    def tip_mm(self) -> float | None:
        """Length of a tapered tip; None for other ends."""


@dataclass(frozen=True)
class OffGridOpening:
    """An opening whose edges do not run along mesh lines: its centre line for a mesh, and what makes the
    outline of it.

    `line`, `width`, `ends` and `taper` are those of `constant_width_outline`, m.
    """

    line: tuple[tuple[float, float], ...]
    width: float
    ends: str
    taper: float


def constant_width_outline(
    centre_line: tuple[tuple[float, float], ...], width: float, ends: str, taper: float = 0.0
) -> Polygon:
    """Outline of a slot of constant width about any centre line.

    Parameters
    ----------
    centre_line : points (x, z), m, from tip to tip: the overall length of the slot.
    width : m.
    ends : 'round' (half circles inside the overall length), 'square', or 'tapered' to a point.
    taper : length of the tapered tip at either end, along the centre line, m.
    """
    line = LineString(centre_line)
    if ends == "round":
        return substring(line, width / 2, line.length - width / 2).buffer(width / 2, quad_segs=32)
    if ends == "square":
        return line.buffer(width / 2, cap_style="flat", join_style="round")
    return _tapered(np.array(centre_line), width, taper)


def _tapered(corners: NDArray, width: float, taper: float) -> Polygon:
    """One ring about a line, that widens over the tips and is of the full width between them."""
    steps = np.hypot(*np.diff(corners, axis=0).T)
    places = np.concatenate([[0.0], np.cumsum(steps)])
    whole = places[-1]
    along = np.unique([*places, taper, whole - taper])
    # Between corners that nearly fall together the edges would cross where the line bends.
    along = along[np.concatenate([[True], np.diff(along) > 1e-3 * whole])]
    points = np.stack([np.interp(along, places, corner) for corner in corners.T], axis=1)
    tangents = np.gradient(points, along, axis=0)
    normals = np.stack([-tangents[:, 1], tangents[:, 0]], axis=1) / np.hypot(*tangents.T)[:, None]
    half = 0.5 * width * np.clip(np.minimum(along, whole - along) / taper, 0.0, 1.0)[:, None] * normals
    return Polygon(np.concatenate([points + half, (points - half)[-2:0:-1]]))


@lru_cache(maxsize=512)
def slot_outline(slot: SlotDimensions) -> Polygon:
    """Outline of a slot in the plane of the wall, (x, z) in m."""
    return constant_width_outline(
        _centre_line(slot, slot.length_mm), slot.width_mm * MM, slot.ends, (slot.tip_mm or 0.0) * MM
    )


@lru_cache(maxsize=512)
def squared_outline(slot: SlotDimensions) -> Polygon:
    """The slot with square ends for round ones, of the same width and area."""
    squared = squared_slot(slot)
    return constant_width_outline(squared.line, squared.width, squared.ends, squared.taper)


def squared_slot(slot: SlotDimensions) -> OffGridOpening:
    """Centre line and ends of the slot with square ends for round ones."""
    length, ends = (
        rectangular_length(slot.length_mm, slot.width_mm, slot.ends),
        "square" if slot.ends == "round" else slot.ends,
    )
    return OffGridOpening(_centre_line(slot, length), slot.width_mm * MM, ends, (slot.tip_mm or 0.0) * MM)


def chord_middle(slot: SlotDimensions) -> tuple[float, float]:
    """The middle between the tips of a slot (x, z), m."""
    return slot.offset_mm * MM, slot.position_mm * MM


def slot_middle(slot: SlotDimensions) -> tuple[float, float]:
    """The middle of the centre line (x, z), m."""
    x, z = chord_middle(slot)
    return x + (slot.aside_mm * MM if slot.shape == "bent" else 0.0), z


def _centre_line(slot: SlotDimensions, length_mm: float) -> tuple[tuple[float, float], ...]:
    """Points of the centre line, shortened or not at its tips to a length; m."""
    (x, z), half = chord_middle(slot), length_mm * MM / 2
    if slot.shape == "straight":
        return (x, z - half), (x, z + half)
    along = np.linspace(-half, half, _PIECES + 1)
    points, _ = centre_line(slot.shape, slot.length_mm * MM, slot.aside_mm * MM, along)
    return tuple((x + float(u), z + float(v)) for u, v in points)
