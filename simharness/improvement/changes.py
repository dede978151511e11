"""Dimensions that may be changed when a match misses its target: how far, and whether the change can be undone in metal."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from simharness.constants import C0
from simharness.em.slot.basis import SlotAperture
from simharness.em.slot.single import resonant_length, slot_admittance
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.estimate.deviations import Deviation, deviations
from simharness.records import BentProbe, CoaxFeed, Probe, Record, RoundGuide
from simharness.tuning.dimensions import HEIGHTS, MAX_BEND, MAX_HEIGHT, MAX_MOVE

MARKED_MM = 0.1
"""What can be marked: amounts are multiples of it. Common practice with calipers."""

SLOT_LENGTHS = 0.07
"""Largest change of slot lengths about those that resonate, as a share of them."""

SLOT_WIDTHS = 0.5
SLOT_OFFSETS = 0.5
"""Largest changes of width and distance from the centre line, as shares of what they are."""

_NARROW = 0.05
"""Of a free-space wavelength: a slot this narrow is taken to look for its resonance."""

CROSS_SECTION = 0.06
"""Largest change of a folded guide's inside, as a share of it."""

MIN_WIDTH_MM = 0.5
"""Narrowest slot that a change leads to: a fine saw's cut (common practice)."""


class Undo(IntEnum):
    """How a change in metal is taken back; the lesser comes first in advice."""

    WIRE = 0
    WALL = 1
    HOLE = 2
    SLOTS = 3
    GUIDE = 4

    @property
    def words(self) -> str:
        """Whether it can be undone, after a comma."""
        return {
            Undo.WIRE: "can be undone with another wire",
            Undo.WALL: "can be undone as long as that wall is not soldered",
            Undo.HOLE: "cannot be undone once the hole is drilled",
            Undo.SLOTS: "cannot be undone once the slots are cut",
            Undo.GUIDE: "cannot be undone once the sheet is bent",
        }[self]


@dataclass(frozen=True)
class Change:
    """One dimension that may be changed.

    Attributes
    ----------
    dimension : Deviation
    undo : Undo
    low, high : float
        Amounts looked at, mm.
    """

    dimension: Deviation
    undo: Undo
    low: float
    high: float

    def applied(self, record: Record, amount: float) -> Record:
        """The record with this dimension changed by an amount, mm.

        Raises
        ------
        InputError
            No such antenna exists.
        """
        return self.dimension.applied(record, amount) if amount else record


_UNDO = {
    "probe height": Undo.WIRE,
    "probe rise": Undo.WIRE,
    "probe run": Undo.WIRE,
    "near end": Undo.WALL,
    "far end": Undo.WALL,
    "hole height": Undo.HOLE,
    "probe position": Undo.HOLE,
    "slot length": Undo.SLOTS,
    "slot width": Undo.SLOTS,
    "slot offset": Undo.SLOTS,
    "guide width": Undo.GUIDE,
    "guide height": Undo.GUIDE,
}
"""Dimensions that may be changed on purpose. Those of stock - sheet, laminate, tube - are as they are bought."""


def changes(record: Record) -> tuple[Change, ...]:
    """Every dimension of a record that may be changed alone, those that are undone most easily first."""
    known = {deviation.name: deviation for deviation in deviations(record)}
    found = []
    for name, low, high in _ranges(record):
        if name in known:
            ends = (_reached(known[name], record, low), _reached(known[name], record, high))
            if ends[1] - ends[0] >= MARKED_MM:
                found.append(Change(known[name], _UNDO[name], *ends))
    return tuple(sorted(found, key=lambda change: change.undo))


def _reached(dimension: Deviation, record: Record, amount: float) -> float:
    """The amount, or as much of it as the record bears."""
    for part in (1.0, 0.75, 0.5, 0.25, 0.1):
        try:
            dimension.applied(record, part * amount)
        except InputError:
            continue
        return part * amount
    return 0.0


def _ranges(record: Record) -> Iterator[tuple[str, float, float]]:
    """Names, least and largest amounts (mm)."""
    guide, wave = record.guide, 1e3 * C0 / record.band.centre
    if isinstance(record.feed, CoaxFeed):
        yield from _feed_ranges(record, wave)
    if guide.far_end == "short":
        yield "far end", -MAX_MOVE * wave, MAX_MOVE * wave
    if record.slots:
        yield from _slot_ranges(record)
    if guide.make == "folded" and not isinstance(guide, RoundGuide):
        yield "guide width", -CROSS_SECTION * guide.a_mm, CROSS_SECTION * guide.a_mm
        yield "guide height", -CROSS_SECTION * guide.b_mm, CROSS_SECTION * guide.b_mm


def _feed_ranges(record: Record, wave: float) -> Iterator[tuple[str, float, float]]:
    feed, b = record.feed, record.guide.height_mm
    if isinstance(feed, Probe):
        low, high = HEIGHTS[0] * wave, min(HEIGHTS[1] * wave, MAX_HEIGHT * b)
        yield "probe height", min(low - feed.height_mm, 0.0), max(high - feed.height_mm, 0.0)
        yield "probe position", -MAX_MOVE * wave, MAX_MOVE * wave
    if isinstance(feed, BentProbe):
        for name in ("probe rise", "probe run", "hole height"):
            yield name, -MAX_BEND * wave, MAX_BEND * wave
    yield "near end", -MAX_MOVE * wave, MAX_MOVE * wave


def _slot_ranges(record: Record) -> Iterator[tuple[str, float, float]]:
    length, width = (
        float(np.mean([getattr(slot, name) for slot in record.slots])) for name in ("length_mm", "width_mm")
    )
    middle = _resonant_amount(record)
    around = SLOT_LENGTHS * (length + middle)
    yield "slot length", min(middle - around, 0.0), max(middle + around, 0.0)
    yield "slot width", max(-SLOT_WIDTHS * width, MIN_WIDTH_MM - width), SLOT_WIDTHS * width
    offsets = [abs(slot.offset_mm) for slot in record.slots if slot.offset_mm]
    if offsets:
        yield "slot offset", -SLOT_OFFSETS * min(offsets), SLOT_OFFSETS * min(offsets)


def _resonant_amount(record: Record) -> float:
    """How much longer (mm) the slots would be if one of them alone resonated at the design frequency; 0 where near enough."""
    centre, shapes = record.band.centre, model_inputs.slot_shapes(record)
    index = int(np.argsort([abs(shape.offset) for shape in shapes])[len(shapes) // 2])
    slot, shape = record.slots[index], shapes[index]
    width = min(shape.width, _NARROW * C0 / centre)
    size, board = model_inputs.line_size(record.guide), model_inputs.superstrate(record)
    if shape.length > 1.5 * width:
        alone = slot_admittance(
            *size,
            shape.wall,
            SlotAperture(shape.length, width, shape.offset),
            np.array([centre]),
            superstrate=board,
        )[0]
        if abs(alone.imag) < abs(alone.real):  # within its half-power width, a few per cent
            return 0.0
    try:
        wanted, _ = resonant_length(*size, shape.wall, width, shape.offset, centre, superstrate=board)
    except InputError:
        return 0.0
    share = wanted / shape.length - 1
    return share * slot.length_mm if abs(share) > SLOT_LENGTHS / 2 else 0.0
