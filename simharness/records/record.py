"""A whole record, and its tables held against each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Literal

from pydantic import Field, model_validator

from simharness.records.cover import Cover
from simharness.records.feeds import Feed
from simharness.records.guide import Guide
from simharness.records.mast import Mast, Pair, Wings
from simharness.records.mending.parts import Screw, Tape, open_slot
from simharness.records.mending.problems import plate_problems, tape_problems
from simharness.records.mending.screws import screw_problems
from simharness.records.parts import Band, Line, Lines, Mounting, Part
from simharness.records.problems import (
    Problem,
    band_order_problems,
    cover_problems,
    laminate_problems,
    load_problems,
    rule_problems,
)
from simharness.records.problems.feeds import feed_problems
from simharness.records.problems.shapes import shape_problems
from simharness.records.problems.slots import slot_problems
from simharness.records.problems.surroundings import (
    apart_problems,
    mast_problems,
    pair_problems,
    wing_problems,
    winged_problems,
)
from simharness.records.slots import MAX_IN_A_WALL, Slot, SlotRule, along_guide

SCHEMA_VERSION = 1
LONGEST_NOTE = 2000
MOST_SCREWS = 8
NAME_PATTERN = r"^[a-z0-9][a-z0-9-]{0,47}$"


_NOT_BUILT = {"schema_version", "name", "title", "note", "band", "mounting", "slot_rule", "slot"}
"""Fields of a record that are no part of the antenna; its slots are asked for in one form."""


class Record(Part):
    """A complete design record; see models/README.md for the axes."""

    schema_version: Literal[1] = Field(alias="schema", description="version of this format")
    name: str = Field(
        pattern=NAME_PATTERN,
        description="short name, also of the run folders; that of the file, without its ending .toml",
    )
    title: Line = Field(
        "", max_length=120, description="one line for people to read, without control characters"
    )
    note: Lines = Field(
        "", max_length=LONGEST_NOTE, description="where the numbers come from, what is unusual"
    )
    band: Band
    mounting: Mounting
    guide: Guide
    slot_rule: SlotRule | None = None
    slot: tuple[Slot, ...] = Field((), max_length=2 * MAX_IN_A_WALL)
    tape: tuple[Tape, ...] = Field((), max_length=4 * MAX_IN_A_WALL)
    screw: tuple[Screw, ...] = Field((), max_length=MOST_SCREWS)
    feed: Feed
    mast: Mast | None = None
    pair: Pair | None = None
    cover: Cover | None = None
    wings: Wings | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Record:
        problems = list(geometry_problems(self))
        if problems:
            raise Contradictions(problems)
        return self

    @property
    def slots(self) -> tuple[Slot, ...]:
        """All slots, the rule expanded, ordered along the guide."""
        rule = self.slot_rule
        return along_guide(self.slot) if rule is None else rule.slots

    @property
    def open_slots(self) -> tuple[Slot, ...]:
        """The slots as they radiate, in the order of `slots`: without what tape covers."""
        return self.slots_reaching(lambda slot: 0.0)

    def slots_reaching(self, under_mm: Callable[[Slot], float]) -> tuple[Slot, ...]:
        """As `open_slots`, with ends that reach under their tape by a function of the slot, mm."""
        if not self.tape:
            return self.slots
        tapes: dict[int, list[Tape]] = {}
        for tape in self.tape:
            tapes.setdefault(tape.slot, []).append(tape)
        return tuple(
            open_slot(slot, tapes[i], under_mm(slot)) if i in tapes else slot
            for i, slot in enumerate(self.slots, 1)
        )

    @property
    def antenna(self) -> tuple[Any, ...]:
        """All that is built, the slots as they lie along the guide; not what it is called or wanted for."""
        rest = (getattr(self, name) for name in type(self).model_fields if name not in _NOT_BUILT)
        return self.slots, *rest

    @property
    def two_faced(self) -> bool:
        """Whether both broad walls have slots."""
        return len({slot.face for slot in self.slots}) == 2


class Contradictions(ValueError):
    """Carries (field, value, allowed) triples through pydantic's own wrapping."""

    def __init__(self, problems: list[Problem]):
        self.problems = problems
        super().__init__("inconsistent record")


def geometry_problems(record: Record) -> Iterator[Problem]:
    """Everything that contradicts the geometry or the mode."""
    guide, rule, single = record.guide, record.slot_rule, record.slot
    shape, feed = shape_problems(guide), feed_problems(record.feed)
    unknown = [*shape.slots_modelled(rule, single), *feed.modelled(guide)]
    if unknown:
        yield from unknown
        return
    order = list(band_order_problems(record.band))
    yield from order or shape.band(record.band)
    yield from feed.ends(guide)
    yield from load_problems(guide)
    yield from rule_problems(rule, single)
    if feed.needs_slots and rule is None and not single:
        yield "slot", 0, "an antenna needs at least one slot: add [slot_rule] or [[slot]]"
    yield from laminate_problems(guide)
    yield from feed.laminate(guide)
    # Numbered as they stand in the file, not as they lie along the guide.
    yield from slot_problems(guide, record.slots if rule is not None else single)
    yield from feed.place(guide, record.slots)
    yield from mast_problems(guide, record.feed, record.mast)
    yield from pair_problems(guide, record.feed, record.pair)
    yield from apart_problems(record.mast, record.pair, record.cover)
    yield from wing_problems(guide, record.feed, record.slots, record.wings)
    yield from winged_problems(record.wings, record.mast, record.pair, record.cover)
    yield from cover_problems(record.cover, guide, record.slots, record.feed.coax_wall)
    yield from plate_problems(guide, record.slots, record.feed)
    yield from tape_problems(guide, record.slots, record.tape, record.cover is not None)
    yield from screw_problems(guide, record.feed, record.slots, record.screw)
