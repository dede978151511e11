"""The dimensions that may be changed when a match misses its target, and how far."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from simharness.constants import C0, MARKED_MM
from simharness.em.slot.basis import SlotAperture
from simharness.em.slot.single import resonant_length, slot_admittance
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.estimate.deviations import Deviation, deviations
from simharness.improvement.change import Change, ChangeRange, Undo
from simharness.improvement.feeds import feed_changes
from simharness.records import Record
from simharness.tuning.dimensions import MAX_MOVE

SLOT_LENGTHS = 0.07
"""Largest change of slot lengths from those that resonate, as a share of them."""

SLOT_WIDTHS = 0.5
SLOT_OFFSETS = 0.5
"""Largest changes of width and of distance from the centre line, as shares of them."""

_NARROW = 0.05
"""Of a free-space wavelength: a slot this narrow is taken where its resonance is looked for."""

CROSS_SECTION = 0.06
"""Largest change of a folded guide's inside, as a share of it."""

MIN_WIDTH_MM = 0.5
"""Narrowest slot that a change leads to: a fine saw's cut (common practice)."""


def changes(record: Record) -> tuple[Change, ...]:
    """Every dimension of a record that may be changed alone, those that are undone most easily first.

    Those of stock - sheet, laminate, tube - stay as they are bought.
    """
    known = {deviation.name: deviation for deviation in deviations(record)}
    found = []
    for wanted in _ranges(record):
        if wanted.name in known:
            dimension = known[wanted.name]
            low, high = (reached(dimension, record, amount) for amount in (wanted.low, wanted.high))
            if high - low >= MARKED_MM:
                found.append(Change(dimension, wanted, low, high))
    return tuple(sorted(found, key=lambda change: change.undo))


def reached(dimension: Deviation, record: Record, amount: float) -> float:
    """The amount, or as much of it as the record allows."""
    for part in (1.0, 0.75, 0.5, 0.25, 0.1):
        try:
            dimension.applied(record, part * amount)
        except InputError:
            continue
        return part * amount
    return 0.0


def _ranges(record: Record) -> Iterator[ChangeRange]:
    yield from feed_changes(record).ranges()
    if record.guide.far_end == "short":
        far = MAX_MOVE * 1e3 * C0 / record.band.centre
        yield ChangeRange(
            "far end", -far, far, Undo.WALL, "move the far end wall {} out", "move the far end wall {} in"
        )
    if record.slots:
        yield from _slot_ranges(record)
    if record.guide.make == "folded":
        yield from _cross_section(record)


def _cross_section(record: Record) -> Iterator[ChangeRange]:
    """The inside of a folded guide."""
    for name, size, more, less in (
        ("guide width", record.guide.width_mm, "wider", "narrower"),
        ("guide height", record.guide.height_mm, "higher", "lower"),
    ):
        yield ChangeRange(
            name,
            -CROSS_SECTION * size,
            CROSS_SECTION * size,
            Undo.GUIDE,
            f"make the guide {{}} {more} inside",
            f"make the guide {{}} {less} inside",
        )


def _slot_ranges(record: Record) -> Iterator[ChangeRange]:
    length = float(np.mean([slot.length_mm for slot in record.slots]))
    width = float(np.mean([slot.width_mm for slot in record.slots]))
    middle = _resonant_amount(record)
    around = SLOT_LENGTHS * (length + middle)
    yield ChangeRange(
        "slot length",
        min(middle - around, 0.0),
        max(middle + around, 0.0),
        Undo.SLOTS,
        "make every slot {} longer",
        "make every slot {} shorter",
    )
    yield ChangeRange(
        "slot width",
        max(-SLOT_WIDTHS * width, MIN_WIDTH_MM - width),
        SLOT_WIDTHS * width,
        Undo.SLOTS,
        "make every slot {} wider",
        "make every slot {} narrower",
    )
    offsets = [abs(slot.offset_mm) for slot in record.slots if slot.offset_mm]
    if offsets:
        most = SLOT_OFFSETS * min(offsets)
        yield ChangeRange(
            "slot offset",
            -most,
            most,
            Undo.SLOTS,
            "move every slot {} away from the centre line",
            "move every slot {} towards the centre line",
        )


def _resonant_amount(record: Record) -> float:
    """How much longer (mm) the slots would be if one of them alone resonated at the design frequency; 0 where
    near enough."""
    centre, shapes = record.band.centre, model_inputs.slot_shapes(record)
    index = int(np.argsort([abs(shape.offset) for shape in shapes])[len(shapes) // 2])
    slot, shape = record.slots[index], shapes[index]
    width = min(shape.width, _NARROW * C0 / centre)
    size, board = record.guide.line, model_inputs.superstrate_over(record, slot.face)
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
