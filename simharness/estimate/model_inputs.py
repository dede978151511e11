"""A design record in SI units, as the kernels take it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from simharness.em.guide.rectangular import attenuation
from simharness.em.guide.round import equivalent_offset, probe_rectangle, te11_attenuation, te11_over_te10
from simharness.em.pattern.aperture import Aperture
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.pattern.round_tube import RoundTube
from simharness.em.probe.bent import BentShape, bent_network
from simharness.em.probe.shape import ProbeShape
from simharness.em.probe.straight import CoaxLine, ProbeNetwork, probe_network
from simharness.em.slot.basis import SlotAperture, SlottedGuide
from simharness.em.slot.curved import CentreLine, StraightEquivalent, straight_equivalent, tapered_length
from simharness.em.slot.shape import SlotShape, rectangular_length
from simharness.em.slot.superstrate import Superstrate
from simharness.records import (
    BentProbe,
    CoaxFeed,
    Guide,
    Probe,
    Record,
    RoundGuide,
    Slot,
)
from simharness.records.materials import wall_conductivity

_WIDEST = 0.9
"""Of its length: the width of a slot that the moment method takes for long and narrow."""
_ROUNDING = 1e-9


def line_size(guide: Guide) -> tuple[float, float]:
    """Width and height of the rectangular guide that mode and slots see, m: the guide itself, or the like of a round tube."""
    return guide.line


def _line_offset(guide: Guide, offset: float) -> float:
    """Offset of a slot in that rectangular guide, m."""
    if isinstance(guide, RoundGuide):
        return float(equivalent_offset(guide.diameter, offset * 1e3 / guide.outer_radius_mm))
    return offset


def wall_loss(guide: Guide, frequency: float, conductivity: float) -> float:
    """Loss of the guide's wave in its walls, Np/m."""
    if isinstance(guide, RoundGuide):
        return float(te11_attenuation(guide.diameter, frequency, conductivity))
    return float(attenuation(*line_size(guide), frequency, conductivity))


def _line_conductivity(record: Record) -> float:
    """Conductivity that gives that rectangular guide the loss of the guide at the design frequency, S/m."""
    nominal, frequency = wall_conductivity(record.guide)[0], record.band.centre
    if not isinstance(record.guide, RoundGuide) or not np.isfinite(nominal):
        return nominal
    return (
        nominal
        * (
            float(attenuation(*line_size(record.guide), frequency, nominal))
            / wall_loss(record.guide, frequency, nominal)
        )
        ** 2
    )


def slot_shapes(record: Record) -> tuple[SlotShape, ...]:
    """The slots along the guide, or along what `line_size` puts for it.

    Round ends become the rectangle of equal area, curved slots the equivalent straight one.
    """
    walls = {"front": record.guide.front_metal, "back": record.guide.thickness("back")}
    found = [_equivalent(record, s) for s in record.slots]
    return tuple(SlotShape(e.offset, e.length, s.width, walls[s.face]) for s, e in zip(record.slots, found))


def centre_line_of(slot: Slot) -> CentreLine:
    """The centre line of a slot on its wall."""
    return CentreLine(slot.shape, slot.length, slot.aside, slot.offset)


def _equivalent(record: Record, slot: Slot) -> StraightEquivalent:
    """The rectangular straight slot that stands for a slot in the guide."""
    length = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * 1e-3
    if slot.tip_mm is not None:
        length = tapered_length(length, slot.tip_mm * 1e-3)
    if slot.shape == "straight":
        return StraightEquivalent(length, _line_offset(record.guide, slot.offset), 0.0)
    return straight_equivalent(centre_line_of(slot), length, line_size(record.guide)[0], record.band.centre)


def slotted_guide(record: Record) -> SlottedGuide:
    """The guide, or what `line_size` puts for it, with its slots, ends, feed and nominal wall loss; there must be a slot.

    A slot that is hardly longer than wide counts as narrower: it takes no power either way. A slot
    whose edge lies on a side wall or an end is kept on the wall in spite of rounding.
    """
    guide, shapes = record.guide, slot_shapes(record)
    (a, b), length = line_size(guide), guide.length
    slots = []
    for place, shape in zip(record.slots, shapes):
        width = min(shape.width, _WIDEST * shape.length)
        most = 0.5 * (a - width) * (1.0 - _ROUNDING)
        position = place.position + _equivalent(record, place).shift
        offset = max(-most, min(most, shape.offset))
        slots.append(SlotAperture(shape.length, width, offset, position, place.face))
    near = min(0.0, *(s.position - 0.5 * s.length for s in slots))
    far = max(length, *(s.position + 0.5 * s.length for s in slots))
    feed = record.feed
    return SlottedGuide(
        a=a,
        b=b,
        wall=guide.front_metal,
        slots=tuple(slots),
        near_short=near if guide.near_end == "short" else None,
        far_short=far if guide.far_end == "short" else None,
        far_plane=length,
        feed=feed.position,
        conductivity=_line_conductivity(record),
        back_wall=guide.thickness("back"),
        superstrate=superstrate(record),
        diameter=guide.diameter if isinstance(guide, RoundGuide) else None,
    )


def aperture(record: Record, voltages: NDArray | None = None) -> Aperture:
    """The slots as sources of the pattern, in order along the guide; at 1 V each by default."""
    slots = slotted_guide(record).slots
    offsets, places, lengths = (
        np.array([getattr(slot, name) for slot in slots]) for name in ("offset", "position", "length")
    )
    if isinstance(record.guide, RoundGuide):
        offsets = np.array([slot.offset for slot in record.slots])
    back = np.array([slot.face == "back" for slot in slots])
    return Aperture(offsets, places, lengths, np.ones(len(slots)) if voltages is None else voltages, back)


def superstrate(record: Record) -> Superstrate | None:
    """The substrate outside the copper of a laminate front."""
    board = record.guide.substrate
    if board is None:
        return None
    return Superstrate(
        record.guide.front_wall, board.permittivity, board.loss_tangent, board.slots == "routed"
    )


def probe_shape(feed: Probe) -> ProbeShape:
    """The wire of a straight probe."""
    return ProbeShape(feed.offset, feed.height, feed.wire_diameter, feed.dielectric)


def bent_shape(record: Record, feed: BentProbe) -> BentShape:
    """The wire of a bent probe."""
    return BentShape(
        feed.offset,
        feed.hole_height,
        feed.run,
        feed.riser_mm(record.guide.height_mm) * 1e-3,
        1 if feed.towards == "front" else -1,
        feed.tip == "soldered",
        feed.wire_diameter,
        feed.dielectric,
    )


@dataclass(frozen=True)
class FeedModel:
    """The coax feed of a record with the guide around it, as a function of frequency; records alike in it are equal.

    Attributes
    ----------
    a, b : float
        Inner width and height of the guide, m.
    shorts : tuple of 2 floats
        Distances from the wire that couples to TE10 to the near short and to the far one (infinity: a matched end), m.
    wire : ProbeShape or BentShape
    coax : CoaxLine
    diameter : float or None
        Of a round tube that is taken for this guide, m: its TE11 takes the place of TE10.
    """

    a: float
    b: float
    shorts: tuple[float, float]
    wire: ProbeShape | BentShape
    coax: CoaxLine
    diameter: float | None = None

    def __call__(self, frequency: NDArray) -> ProbeNetwork:
        """Three-port at frequencies (f,), Hz."""
        if isinstance(self.wire, BentShape):
            return bent_network(self.a, self.b, self.wire, self.coax, frequency)
        profile = None if self.diameter is None else partial(te11_over_te10, self.diameter)
        return probe_network(self.a, self.b, self.wire, self.coax, frequency, *self.shorts, profile=profile)


def feed_model(record: Record) -> FeedModel:
    """The coax feed of a record."""
    guide, feed = record.guide, record.feed
    wire = bent_shape(record, feed) if isinstance(feed, BentProbe) else probe_shape(feed)
    size, diameter = line_size(guide), None
    if isinstance(guide, RoundGuide):
        diameter = guide.diameter
        size = probe_rectangle(diameter)
    return FeedModel(*size, probe_shorts(record, feed), wire, coax_line(record, feed), diameter)


def coax_line(record: Record, feed: CoaxFeed) -> CoaxLine:
    """The coax of the feed inside its wall."""
    front = isinstance(feed, Probe) and feed.wall == "front"
    wall = record.guide.thickness_mm("front" if front else "back")
    return CoaxLine(feed.coax_inner, feed.coax_outer, feed.coax_permittivity, wall * 1e-3)


def probe_shorts(record: Record, feed: CoaxFeed) -> tuple[float, float]:
    """Distances from the wire that couples to TE10 to the near short and to the far one (infinity: a matched end), m."""
    far = record.guide.length - feed.position if record.guide.far_end == "short" else math.inf
    return feed.position, far


def tube(record: Record) -> RectangularTube | RoundTube:
    """The outline of the guide with its walls."""
    guide = record.guide
    if isinstance(guide, RoundGuide):
        return RoundTube(2e-3 * guide.outer_radius_mm)
    side = 2 * guide.other_walls_mm
    return RectangularTube(
        (guide.a_mm + side) * 1e-3, (guide.b_mm + guide.other_walls_mm + guide.front_wall_mm) * 1e-3
    )


def polarization(record: Record) -> str:
    """Polarization in words: longitudinal slots radiate E across the guide."""
    if record.mounting.axis == "vertical":
        return "horizontal (axis vertical; the slots radiate E across the guide)"
    return "vertical (axis horizontal, slots facing the horizon; they radiate E across the guide)"
