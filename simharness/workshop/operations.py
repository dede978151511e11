"""What can still be done to finished metal: slots grow and do not shrink but under tape, ends come in and do
not go out, a probe is cut or replaced."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Literal

from simharness.constants import C0, MARKED_MM
from simharness.errors import InputError
from simharness.estimate.deviation import screw_depth
from simharness.estimate.deviations import deviations
from simharness.estimate.model_inputs import under_tape_mm
from simharness.improvement.change import Change, ChangeRange, Undo
from simharness.improvement.changes import reached
from simharness.improvement.feeds import feed_changes
from simharness.records import Record, parse_record
from simharness.records.mending.parts import Tape, covering, taken_off
from simharness.tuning.dimensions import MAX_MOVE
from simharness.workshop.dimensions import dimensions

FILED = 0.07
"""Most that a slot is filed longer, or closed with tape at its ends, as a share of its length."""

FILED_WIDER = 0.5
"""Most that a slot is filed wider, as a share of its width."""

_PROBE = {
    "probe height": ("solder in a new wire, the probe {} longer than it is", "cut {} off the probe"),
    "probe rise": (
        "solder in a new wire, its riser {} longer than it is",
        "cut {} off the riser of the probe",
    ),
    "probe run": (
        "solder in a new wire, its run {} longer than it is",
        "solder in a new wire, its run {} shorter than it is",
    ),
}
"""What is done to the wire of a feed for a positive and a negative amount."""


def operations(record: Record) -> tuple[Change, ...]:
    """Everything that can be done to an antenna (every slot by itself), what is undone most easily first."""
    known = {one.name: one for one in deviations(record)}
    single = {one.name: one.deviation for one in dimensions(record)}
    single |= {one.name: one for one in map(screw_depth, range(1, len(record.screw) + 1))}
    found = []
    for wanted in _ranges(record):
        dimension = (
            known.get(wanted.name) or single.get(wanted.name) or known.get(_ALIKE.get(wanted.name, ""))
        )
        if dimension is None:
            continue
        dimension = replace(dimension, name=wanted.name)
        if wanted.name == TAPE:
            dimension = replace(dimension, change=_taped)
        low, high = (reached(dimension, record, amount) for amount in (wanted.low, wanted.high))
        if high - low >= MARKED_MM:
            found.append(Change(dimension, wanted, low, high))
    return tuple(sorted(found, key=lambda change: change.undo))


TAPE = "tape on slots"
_ENDS: tuple[Literal["near", "far"], ...] = ("near", "far")
_ALIKE = {TAPE: "slot length"}
"""Operations that change a dimension by another name."""


def _taped(data: dict[str, Any], amount: float) -> None:
    """Tapes both ends of every slot, or moves the tape that is there: a slot acts shorter by an amount
    (negative, mm) in all then, and so much more is covered as the field reaches under the tape."""
    record = parse_record(data)
    numbers = range(1, len(record.slots) + 1)
    bare = [Tape(slot=number, end=end, covers_mm=1.0) for number in numbers for end in _ENDS]
    data["tape"] = []
    for tape in record.tape or bare:
        slot = record.slots[tape.slot - 1]
        under = under_tape_mm(record, slot)
        shorter = -amount / 2 + (taken_off(slot, tape, under) if record.tape else 0.0)
        if shorter < 0:
            raise InputError(TAPE, f"{amount:g} mm", "tape makes a slot no longer")
        if shorter:
            covers = round(covering(slot, shorter, under), 3)
            data["tape"].append({"slot": tape.slot, "end": tape.end, "covers_mm": covers})


def _ranges(record: Record) -> Iterator[ChangeRange]:
    for wanted in feed_changes(record).ranges():
        if wanted.name in _PROBE:
            more, less = _PROBE[wanted.name]
            yield replace(wanted, undo=Undo.WIRE, increase=more, decrease=less)
    yield from _screws(record)
    yield from _plates(record)
    if record.slots:
        yield from _slots(record)


def _screws(record: Record) -> Iterator[ChangeRange]:
    """A screw that is there, turned in or out."""
    for number, screw in enumerate(record.screw, 1):
        most = MAX_MOVE * 1e3 * C0 / record.band.centre
        more, less = (f"turn screw {number} {{}} farther {way}" for way in ("in", "out"))
        yield ChangeRange(screw_depth(number).name, -min(most, screw.depth_mm), most, Undo.SCREW, more, less)


def _plates(record: Record) -> Iterator[ChangeRange]:
    """A plate inside either end, as much farther in."""
    most = MAX_MOVE * 1e3 * C0 / record.band.centre
    for end, there in (("near end", record.guide.near_end), ("far end", record.guide.far_end)):
        if there == "short":
            plate = f"set a plate inside the {end}, its face {{}} farther in than the {end} is"
            yield ChangeRange(end, -most, 0.0, Undo.WALL, plate, plate)


def _slots(record: Record) -> Iterator[ChangeRange]:
    shortest = min(slot.length_mm for slot in record.slots)
    narrowest = min(slot.width_mm for slot in record.slots)
    tape = "close both ends of every slot with copper tape, so that it acts {} shorter in all"
    if not record.tape:
        yield ChangeRange(TAPE, -FILED * shortest, 0.0, Undo.TAPE, tape, tape)
    yield _filed("slot length", FILED * shortest, "file the ends of every slot, {} longer in all")
    yield _filed("slot width", FILED_WIDER * narrowest, "file the edges of every slot, {} wider in all")
    if len(record.slots) > 1:
        for number, slot in enumerate(record.slots, 1):
            words = f"file the ends of slot {number}, {{}} longer in all"
            yield _filed(f"slot {number} length", FILED * slot.length_mm, words)


def _filed(name: str, most: float, words: str) -> ChangeRange:
    return ChangeRange(name, 0.0, most, Undo.SLOTS, words, words)
