"""A whole record, and its tables held against each other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pydantic import Field, model_validator

from simharness.records.feed_problems import bent_probe_problems, coax_problems, probe_problems
from simharness.records.feeds import BentProbe, CoaxFeed, Feed, Probe
from simharness.records.guide import Guide
from simharness.records.parts import Band, Line, Lines, Mounting, Part
from simharness.records.problems import (
    Problem,
    band_problems,
    laminate_problems,
    port_problems,
    round_problems,
    slot_problems,
)
from simharness.records.slots import MAX_IN_A_WALL, Slot, SlotRule, along_guide

SCHEMA_VERSION = 1
LONGEST_NOTE = 2000


class Record(Part):
    """A complete design record: frozen, and validated as a whole; see models/README.md for axes and fields.

    Fields are those of the file, in mm and GHz. Read one by `simharness.read_record`; of plain data
    `simharness.records.parse_record` makes one, and `simharness.changed` another with some fields changed.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("models/five-slot-2g45.toml")
    >>> record.band.centre_ghz, record.feed.kind, record.slots[0].position_mm
    (2.45, 'probe', 90.0)
    """

    schema_version: Literal[1] = Field(alias="schema", description="version of this format")
    name: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,47}$", description="short name: a-z, 0-9 and hyphens")
    title: Line = Field("", max_length=120)
    note: Lines = Field("", max_length=LONGEST_NOTE)
    band: Band
    mounting: Mounting
    guide: Guide
    slot_rule: SlotRule | None = None
    slot: tuple[Slot, ...] = Field((), max_length=2 * MAX_IN_A_WALL)
    feed: Feed

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
    guide, feed = record.guide, record.feed
    unknown = list(round_problems(guide, feed, record.slot_rule, record.slot))
    if unknown:
        yield from unknown
        return
    yield from band_problems(record.band, guide)
    yield from port_problems(guide, feed, record.slot_rule, record.slot)
    yield from laminate_problems(guide, feed)
    # Numbered as they stand in the file, not as they lie along the guide.
    yield from slot_problems(guide, record.slots if record.slot_rule is not None else record.slot)
    if isinstance(feed, CoaxFeed):
        yield from coax_problems(guide, feed)
    if isinstance(feed, Probe):
        yield from probe_problems(guide, record.slots, feed)
    if isinstance(feed, BentProbe):
        yield from bent_probe_problems(guide, feed)
