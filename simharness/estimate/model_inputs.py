"""A design record in SI units, as the kernels take it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simharness.em.pattern.aperture import Aperture, Tube
from simharness.em.row.response import empty_reflection, slot_state
from simharness.em.screw.moment import screwed_guide, slot_model
from simharness.em.slot.basis import Screw, SlotAperture, SlottedGuide
from simharness.em.slot.curved import CentreLine, StraightEquivalent, straight_equivalent, tapered_length
from simharness.em.slot.shape import SlotShape, reach_under_tape, rectangular_length
from simharness.em.slot.superstrate import Layer, Superstrate, under_cover
from simharness.estimate.shapes import shape_inputs
from simharness.estimate.site.outlines import tube_at_site
from simharness.records import Record, Slot
from simharness.records import Screw as ScrewInWall
from simharness.records.materials import wall_conductivity

MAX_SLOT_RATIO = 0.9
"""Greatest width of a slot, over its length, that the method of moments takes as long and narrow."""
_ROUNDING = 1e-9


def acting_slots(record: Record) -> tuple[Slot, ...]:
    """The slots as long as they act: under tape the wall still has its cut, and the field reaches into it."""
    return record.slots_reaching(lambda slot: under_tape_mm(record, slot))


def under_tape_mm(record: Record, slot: Slot) -> float:
    """How far a slot acts beyond the edge of tape on its end, mm."""
    return reach_under_tape(slot.width_mm, record.guide.thickness_mm(slot.face))


def slot_shapes(record: Record) -> tuple[SlotShape, ...]:
    """The slots along the guide, or along the rectangular guide that stands for it (`guide.line`).

    Round ends become the rectangle of equal area, curved slots the equivalent straight one.
    """
    walls = {"front": record.guide.front_metal, "back": record.guide.thickness("back")}
    found = [_equivalent(record, s) for s in acting_slots(record)]
    return tuple(
        SlotShape(e.offset, e.length, s.width, walls[s.face]) for s, e in zip(acting_slots(record), found)
    )


def centre_line_of(slot: Slot) -> CentreLine:
    """The centre line of a slot on its wall."""
    return CentreLine(slot.shape, slot.length, slot.aside, slot.offset)


def _equivalent(record: Record, slot: Slot) -> StraightEquivalent:
    """The rectangular straight slot that stands for a slot in the guide."""
    length = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * 1e-3
    if slot.tip_mm is not None:
        length = tapered_length(length, slot.tip_mm * 1e-3)
    if slot.shape == "straight":
        return StraightEquivalent(length, shape_inputs(record.guide).line_offset(slot.offset), 0.0)
    return straight_equivalent(centre_line_of(slot), length, record.guide.line[0], record.band.centre)


def slotted_guide(record: Record) -> SlottedGuide:
    """The guide, or what stands for it (`guide.line`), with slots, ends, feed and nominal wall loss; there
    must be a slot.

    A slot that is hardly longer than it is wide is taken as a narrower one: it takes no power either way. A
    slot whose edge lies on a side wall or an end is kept on the wall in spite of rounding.
    """
    guide, shapes = record.guide, slot_shapes(record)
    (a, b), length, model = guide.line, guide.length, shape_inputs(guide)
    slots = []
    for place, shape in zip(acting_slots(record), shapes):
        width = min(shape.width, MAX_SLOT_RATIO * shape.length)
        most = 0.5 * (a - width) * (1.0 - _ROUNDING)
        position = place.position + _equivalent(record, place).shift
        offset = max(-most, min(most, shape.offset))
        slots.append(SlotAperture(shape.length, width, offset, position, place.face))
    near = min(guide.near_face, *(s.position - 0.5 * s.length for s in slots))
    far = max(guide.far_face, *(s.position + 0.5 * s.length for s in slots))
    return SlottedGuide(
        a=a,
        b=b,
        wall=guide.front_metal,
        slots=tuple(slots),
        near_short=near if guide.near_end == "short" else None,
        far_short=far if guide.far_end == "short" else None,
        far_plane=length,
        feed=record.feed.position,
        conductivity=model.line_conductivity(record.band.centre),
        back_wall=guide.thickness("back"),
        superstrate=superstrate(record),
        diameter=model.diameter,
        screws=screws(record),
    )


def screws(record: Record) -> tuple[Screw, ...]:
    """The screws in the back wall."""
    return tuple(Screw(s.position, s.offset, s.depth, s.diameter) for s in record.screw)


def screw_admittance(record: Record, screw: ScrewInWall) -> complex:
    """What one screw is across an endless guide at the design frequency, over that of the guide: that of
    the even part of its two-port, without its dipole across the guide."""
    (a, b), frequency = record.guide.line, np.array([record.band.centre])
    post = Screw(0.0, screw.offset, screw.depth, screw.diameter)
    s = screwed_guide(SlottedGuide(a, b, record.guide.front_metal, (), screws=(post,)), frequency)[0]
    even = complex(s[0, 0] + s[0, 1])
    return 2.0 * (1.0 - even) / (1.0 + even)


def without_slots(record: Record, frequency: NDArray) -> NDArray:
    """Reflection of TE10 (f,) at the near end of a guide that has no slots but may have screws."""
    guide = record.guide
    if not screws(record):
        size = *guide.line, guide.far_face
        return empty_reflection(*size, wall_conductivity(guide)[0], frequency, guide.far_end == "short")
    line = SlottedGuide(
        *guide.line,
        guide.front_metal,
        (),
        far_short=guide.far_face if guide.far_end == "short" else None,
        far_plane=guide.length,
        conductivity=shape_inputs(guide).line_conductivity(record.band.centre),
        screws=screws(record),
    )
    return screwed_guide(line, frequency)[:, 0, 0]


def aperture(record: Record, voltages: NDArray | None = None) -> Aperture:
    """The slots as sources of the pattern, in order along the guide; at 1 V each by default."""
    slots = slotted_guide(record).slots
    offsets, places, lengths = (
        np.array([getattr(slot, name) for slot in slots]) for name in ("offset", "position", "length")
    )
    offsets = shape_inputs(record.guide).pattern_offsets(acting_slots(record), offsets)
    back = np.array([slot.face == "back" for slot in slots])
    return Aperture(offsets, places, lengths, np.ones(len(slots)) if voltages is None else voltages, back)


def radiating_slots(record: Record) -> tuple[Aperture, float]:
    """The slots with their voltages at the design frequency, and the share of the accepted power that they
    radiate."""
    state = slot_state(slot_model(slotted_guide(record)), record.band.centre)
    return aperture(record, state.voltages), state.efficiency


def superstrate(record: Record) -> Superstrate | None:
    """What lies outside the slotted metal: the substrate of a laminate front, and the cover of each wall."""
    board, cover = record.guide.substrate, record.cover
    substrate = None
    if board is not None:
        substrate = Superstrate(
            record.guide.thickness("front"), board.permittivity, board.loss_tangent, board.slots == "routed"
        )
    if cover is None:
        return substrate
    return under_cover(substrate, tuple(Layer(*layer) for layer in cover.layers), cover.face == "both")


def superstrate_over(record: Record, face: str) -> Superstrate | None:
    """What lies on one of the broad walls, 'front' or 'back'."""
    found = superstrate(record)
    return found if found is None or face == "front" else found.back


def tube(record: Record, coupled: complex = 0.0) -> Tube:
    """The outline of the guide with its walls, among what stands beside it; `coupled`: voltages in a second
    antenna that is not fed, over those of the first."""
    return tube_at_site(record, shape_inputs(record.guide).outline, coupled)


def polarization(record: Record) -> str:
    """Polarization in words: longitudinal slots radiate E across the guide."""
    if record.mounting.axis == "vertical":
        return "horizontal (axis vertical; the slots radiate E across the guide)"
    return "vertical (axis horizontal, slots facing the horizon; they radiate E across the guide)"
