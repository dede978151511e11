"""A design record in SI units, as the kernels take it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simharness.em.guide import attenuation
from simharness.em.probe import ProbeShape
from simharness.em.probe_moment import CoaxLine, ProbeNetwork, probe_network
from simharness.em.round_guide import equivalent_offset, probe_rectangle, te11_attenuation, te11_over_te10
from simharness.em.round_tube import RoundTube
from simharness.em.slot_shape import SlotShape, rectangular_length
from simharness.em.slot_basis import Slot, SlottedGuide
from simharness.em.tube import Aperture, Tube
from simharness.materials import wall_conductivity
from simharness.records import Guide, Probe, Record, RoundGuide

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


def line_size(guide: Guide) -> tuple[float, float]:
    """Width and height of the rectangular guide that mode and slots see, m: the guide itself, or the like of a round tube."""
    a, b = guide.line_mm
    return a * 1e-3, b * 1e-3


def _line_offset(guide: Guide, offset: float) -> float:
    """Offset of a slot in that rectangular guide, m."""
    if isinstance(guide, RoundGuide):
        return float(equivalent_offset(guide.diameter_mm * 1e-3, offset * 1e3 / guide.outer_radius_mm))
    return offset


def wall_loss(guide: Guide, frequency: float, conductivity: float) -> float:
    """Loss of the guide's wave in its walls, Np/m."""
    if isinstance(guide, RoundGuide):
        return float(te11_attenuation(guide.diameter_mm * 1e-3, frequency, conductivity))
    return float(attenuation(*line_size(guide), frequency, conductivity))


def _line_conductivity(record: Record) -> float:
    """Conductivity that gives that rectangular guide the loss of the guide at the design frequency, S/m."""
    nominal, frequency = wall_conductivity(record.guide)[0], record.band.centre_ghz * 1e9
    if not isinstance(record.guide, RoundGuide) or not np.isfinite(nominal):
        return nominal
    return nominal * (float(attenuation(*line_size(record.guide), frequency, nominal)) / wall_loss(record.guide, frequency, nominal)) ** 2


def slot_shapes(record: Record) -> tuple[SlotShape, ...]:
    """The slots along the guide, or along what `line_size` puts for it; round ends become the rectangle of equal area."""
    wall = record.guide.front_thickness_mm * 1e-3
    return tuple(
        SlotShape(
            offset=_line_offset(record.guide, s.offset_mm * 1e-3),
            length=rectangular_length(s.length_mm, s.width_mm, s.ends) * 1e-3,
            width=s.width_mm * 1e-3,
            wall=wall,
        )
        for s in record.slots
    )


def slotted_guide(record: Record) -> SlottedGuide:
    """The guide, or what `line_size` puts for it, with its slots, ends, feed and nominal wall loss; there must be a slot.

    A slot that is hardly longer than wide counts as narrower: it takes no power either way. A slot
    whose edge lies on a side wall or an end is kept on the wall in spite of rounding.
    """
    guide, shapes = record.guide, slot_shapes(record)
    (a, b), length = line_size(guide), guide.length_mm * 1e-3
    slots = []
    for place, shape in zip(record.slots, shapes):
        width = min(shape.width, _WIDEST * shape.length)
        most = 0.5 * (a - width) * (1.0 - _ROUNDING)
        slots.append(Slot(shape.length, width, max(-most, min(most, shape.offset)), place.position_mm * 1e-3))
    first, last = slots[0], slots[-1]
    near = min(0.0, first.position - 0.5 * first.length)
    far = max(length, last.position + 0.5 * last.length)
    probe = record.feed.kind == "probe"
    return SlottedGuide(
        a=a,
        b=b,
        wall=guide.front_thickness_mm * 1e-3,
        slots=tuple(slots),
        near_short=near if guide.near_end == "short" else None,
        far_short=far if guide.far_end == "short" else None,
        far_plane=length,
        feed=record.feed.position_mm * 1e-3 if probe else None,
        conductivity=_line_conductivity(record),
    )


def probe_shape(feed: Probe) -> ProbeShape:
    """The wire of the feed."""
    return ProbeShape(feed.offset_mm * 1e-3, feed.height_mm * 1e-3, feed.wire_diameter_mm * 1e-3)


def coax_line(record: Record, feed: Probe) -> CoaxLine:
    """The coax of the feed inside its wall."""
    guide = record.guide
    wall = guide.other_thickness_mm if feed.wall == "back" else guide.front_thickness_mm
    return CoaxLine(feed.coax_inner_mm * 1e-3, feed.coax_outer_mm * 1e-3, feed.coax_permittivity, wall * 1e-3)


def probe_shorts(record: Record, feed: Probe) -> tuple[float, float]:
    """Distances from the probe's axis to the near short and to the far one (infinity: a matched end), m."""
    far = record.guide.length_mm - feed.position_mm if record.guide.far_end == "short" else math.inf
    return feed.position_mm * 1e-3, far * 1e-3


def probe_three_port(record: Record, feed: Probe, frequency: NDArray) -> ProbeNetwork:
    """The probe between the ends of the guide at frequencies (f,), Hz."""
    size, profile = line_size(record.guide), None
    if isinstance(record.guide, RoundGuide):
        diameter = record.guide.diameter_mm * 1e-3
        size, profile = probe_rectangle(diameter), partial(te11_over_te10, diameter)
    wire, coax = probe_shape(feed), coax_line(record, feed)
    return probe_network(*size, wire, coax, frequency, *probe_shorts(record, feed), profile=profile)


def tube(record: Record) -> Tube | RoundTube:
    """The outline of the guide with its walls."""
    guide = record.guide
    if isinstance(guide, RoundGuide):
        return RoundTube(2e-3 * guide.outer_radius_mm)
    side = 2 * guide.other_walls_mm
    return Tube((guide.a_mm + side) * 1e-3, (guide.b_mm + guide.other_walls_mm + guide.front_wall_mm) * 1e-3)


def aperture(record: Record, voltages: NDArray) -> Aperture:
    """The slots on the outside of the guide, with their voltages."""
    slots = slotted_guide(record).slots
    offsets = [slot.offset for slot in slots]
    if isinstance(record.guide, RoundGuide):
        offsets = [slot.offset_mm * 1e-3 for slot in record.slots]
    return Aperture(np.array(offsets), np.array([s.position for s in slots]), np.array([s.length for s in slots]), voltages)


def polarization(record: Record) -> str:
    """Polarization in words: longitudinal slots radiate E across the guide."""
    if record.mounting.axis == "vertical":
        return "horizontal (axis vertical; the slots radiate E across the guide)"
    return "vertical (axis horizontal, slots facing the horizon; they radiate E across the guide)"
