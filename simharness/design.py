"""A design record in SI units, as the closed-form kernels take it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from simharness.em.array import SlottedLine
from simharness.em.probe import ProbeShape
from simharness.em.slot import SlotShape, rectangular_length
from simharness.em.tube import Tube
from simharness.materials import wall_conductivity
from simharness.records import Probe, Record


@dataclass(frozen=True)
class Figure:
    """One number of a design or an estimate.

    Attributes
    ----------
    value : float, complex, str or None
        None where the quantity does not exist (no band edge, no slots).
    unit : str
        SI unit, "dB", "dBi", "deg" or "" for pure numbers and words.
    basis : str
        Where it comes from, and how far to trust it.
    error : float or None
        Half width of the error bar in the same unit; None where none is known.
    """

    value: Any
    unit: str
    basis: str
    error: float | None = None


def slot_shapes(record: Record) -> tuple[SlotShape, ...]:
    """The slots along the guide; round ends become the rectangle of equal area."""
    wall = record.guide.front_wall_mm * 1e-3
    return tuple(
        SlotShape(
            offset=s.offset_mm * 1e-3,
            length=rectangular_length(s.length_mm, s.width_mm, s.ends) * 1e-3,
            width=s.width_mm * 1e-3,
            wall=wall,
        )
        for s in record.slots
    )


def slotted_line(record: Record) -> SlottedLine:
    """The guide with its slots and the nominal wall loss."""
    guide = record.guide
    return SlottedLine(
        a=guide.a_mm * 1e-3,
        b=guide.b_mm * 1e-3,
        length=guide.length_mm * 1e-3,
        positions=tuple(s.position_mm * 1e-3 for s in record.slots),
        shapes=slot_shapes(record),
        conductivity=wall_conductivity(guide)[0],
        near_short=guide.near_end == "short",
        far_short=guide.far_end == "short",
    )


def probe_shape(feed: Probe) -> ProbeShape:
    """The wire of the feed."""
    return ProbeShape(feed.offset_mm * 1e-3, feed.height_mm * 1e-3, feed.wire_diameter_mm * 1e-3)


def tube(record: Record) -> Tube:
    """The outline of the guide with its walls."""
    guide = record.guide
    side = 2 * guide.other_walls_mm
    return Tube((guide.a_mm + side) * 1e-3, (guide.b_mm + guide.other_walls_mm + guide.front_wall_mm) * 1e-3)


def polarization(record: Record) -> str:
    """Polarization in words: longitudinal slots radiate E across the guide."""
    if record.mounting.axis == "vertical":
        return "horizontal (axis vertical; the slots radiate E across the guide)"
    return "vertical (axis horizontal, slots facing the horizon; they radiate E across the guide)"
