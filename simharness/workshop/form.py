"""The empty table that a hand fills in at the bench, with what is drawn beside the blanks."""

from __future__ import annotations

from simharness.records import Record
from simharness.workshop.dimensions import dimensions
from simharness.workshop.readings import CALIPER_MM, CALIPER_REACH_MM, COLUMNS, RULE_MM

_HEADING = f"""\
# Readings of {{name}}, for 'simharness built'. Write what you read into read_mm; what stays blank counts as
# drawn, within the usual error of the tools. within_mm: what the reading is right within in 95 of 100 cases;
# blank: {CALIPER_MM:g} mm with a caliper, up to {CALIPER_REACH_MM:g} mm, beyond that {RULE_MM:g} mm
# with a steel rule (common practice).
# Places count along the wall from the inner face of the near end, offsets from the centre line. Edges of
# sheet cut: take the burrs off and wear gloves.
"""


def form_text(record: Record) -> str:
    """The empty table of a record, as `readings.read_readings` reads it once filled in."""
    rows = [
        f"{number},{one.name},{round(one.drawn, 4):g},," for number, one in enumerate(dimensions(record), 1)
    ]
    return _HEADING.format(name=record.name) + "\n".join([",".join(COLUMNS), *rows]) + "\n"
