"""Design records: what the builder means to make, in millimetres and gigahertz.

A record is a TOML file. It is read once, validated as a whole and frozen; unknown
keys are errors. Everything below this package works in SI units.
"""

from simharness.records.cover import Cover
from simharness.records.feeds import (
    REFERENCE_OHM,
    BentProbe,
    CoaxFeed,
    Feed,
    GuidePort,
    Probe,
)
from simharness.records.guide import Guide, Laminate, RectangularGuide, RoundGuide
from simharness.records.mast import Mast, Pair, Wings
from simharness.records.mending.parts import Screw, Tape
from simharness.records.parts import Band, Mounting
from simharness.records.reading import parse_record, read_record, record_schema
from simharness.records.record import SCHEMA_VERSION, Record
from simharness.records.slots import Slot, SlotRule, along_guide, slot_clearance

__all__ = [
    "REFERENCE_OHM",
    "SCHEMA_VERSION",
    "Band",
    "BentProbe",
    "CoaxFeed",
    "Cover",
    "Feed",
    "Guide",
    "GuidePort",
    "Laminate",
    "Mast",
    "Mounting",
    "Pair",
    "Probe",
    "Record",
    "RectangularGuide",
    "RoundGuide",
    "Screw",
    "Slot",
    "SlotRule",
    "Tape",
    "Wings",
    "along_guide",
    "parse_record",
    "read_record",
    "record_schema",
    "slot_clearance",
]
