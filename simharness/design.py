"""A design record in SI units, as the kernels take it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from simharness.em.probe import ProbeShape
from simharness.em.probe_moment import CoaxLine
from simharness.em.shaped_slot import CentreLine, StraightEquivalent, straight_equivalent, tapered_length
from simharness.em.slot import SlotShape, rectangular_length
from simharness.em.slot_basis import Slot, SlottedGuide
from simharness.em.tube import Tube
from simharness.materials import wall_conductivity
from simharness.records import Probe, Record
from simharness.records import Slot as RecordSlot

_WIDEST = 0.9
"""Of its length: the width of a slot that the moment method takes for long and narrow."""
_ROUNDING = 1e-9


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
    """The slots along the guide; round ends become the rectangle of equal area, curved slots the equivalent straight one."""
    wall = record.guide.front_wall_mm * 1e-3
    found = [_equivalent(record, s) for s in record.slots]
    return tuple(SlotShape(e.offset, e.length, s.width_mm * 1e-3, wall) for s, e in zip(record.slots, found))


def centre_line_of(slot: RecordSlot) -> CentreLine:
    """The centre line of a slot on its wall."""
    return CentreLine(slot.shape, slot.length_mm * 1e-3, slot.aside_mm * 1e-3, slot.offset_mm * 1e-3)


def _equivalent(record: Record, slot: RecordSlot) -> StraightEquivalent:
    """The rectangular straight slot that stands for a slot in the guide."""
    length = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * 1e-3
    if slot.tip_mm is not None:
        length = tapered_length(length, slot.tip_mm * 1e-3)
    if slot.shape == "straight":
        return StraightEquivalent(length, slot.offset_mm * 1e-3, 0.0)
    return straight_equivalent(centre_line_of(slot), length, record.guide.a_mm * 1e-3, record.band.centre_ghz * 1e9)


def slotted_guide(record: Record) -> SlottedGuide:
    """The guide with its slots, ends, feed and nominal wall loss; there must be a slot.

    A slot that is hardly longer than wide counts as narrower: it takes no power either way. A slot
    whose edge lies on a side wall or an end is kept on the wall in spite of rounding.
    """
    guide, shapes = record.guide, slot_shapes(record)
    a, length = guide.a_mm * 1e-3, guide.length_mm * 1e-3
    slots = []
    for place, shape in zip(record.slots, shapes):
        width = min(shape.width, _WIDEST * shape.length)
        most = 0.5 * (a - width) * (1.0 - _ROUNDING)
        shift = _equivalent(record, place).shift
        slots.append(Slot(shape.length, width, max(-most, min(most, shape.offset)), place.position_mm * 1e-3 + shift))
    first, last = slots[0], slots[-1]
    near = min(0.0, first.position - 0.5 * first.length)
    far = max(length, last.position + 0.5 * last.length)
    probe = record.feed.kind == "probe"
    return SlottedGuide(
        a=a,
        b=guide.b_mm * 1e-3,
        wall=guide.front_wall_mm * 1e-3,
        slots=tuple(slots),
        near_short=near if guide.near_end == "short" else None,
        far_short=far if guide.far_end == "short" else None,
        far_plane=length,
        feed=record.feed.position_mm * 1e-3 if probe else None,
        conductivity=wall_conductivity(guide)[0],
    )


def probe_shape(feed: Probe) -> ProbeShape:
    """The wire of the feed."""
    return ProbeShape(feed.offset_mm * 1e-3, feed.height_mm * 1e-3, feed.wire_diameter_mm * 1e-3)


def coax_line(record: Record, feed: Probe) -> CoaxLine:
    """The coax of the feed inside its wall."""
    wall = record.guide.other_walls_mm if feed.wall == "back" else record.guide.front_wall_mm
    return CoaxLine(feed.coax_inner_mm * 1e-3, feed.coax_outer_mm * 1e-3, feed.coax_permittivity, wall * 1e-3)


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
