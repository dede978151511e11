"""The empty table that a hand fills in at the bench, with what is drawn: as a file, and on paper."""

from __future__ import annotations

from collections.abc import Mapping

from simharness.records import Record
from simharness.workshop.dimensions import dimensions
from simharness.workshop.readings import CALIPER_MM, CALIPER_REACH_MM, COLUMNS, RULE_MM

_HEADING = f"""\
# Readings of {{name}}, for 'simharness built'. Write what you read into read_mm. What stays blank counts as
# drawn, within the usual error of the tools. within_mm: what the reading is right within in 95 of 100 cases;
# left blank: {CALIPER_MM:g} mm with a caliper up to {CALIPER_REACH_MM:g} mm, {RULE_MM:g} mm with a steel rule
# beyond (common practice).
# Places count along the wall from the inner face of the near end, offsets from the centre line to a side.
# Cut sheet has edges like blades: take the burrs off first, and wear gloves.
"""

_BLANK = "_" * 12

FORM_SENTENCES = (
    "Fill this in on the finished metal, then copy it into the table readings.csv beside these sheets: "
    "'simharness built' says what the antenna does now. What stays blank counts as drawn, within the usual "
    "error of the tools.",
    "Places count along the wall from the inner face of the near end, offsets from the centre line. Take the "
    "burrs off before you measure.",
)


def form_text(record: Record, typed: Mapping[str, tuple[str, str]] | None = None) -> str:
    """The table of a record, as `readings.read_readings` reads it once filled in.

    Parameters
    ----------
    record : Record
    typed : mapping of str to tuple of str, optional
        What is filled in already: cells of read_mm and within_mm by the name of the dimension.
    """
    typed = typed or {}
    rows = [
        ",".join((str(number), one.name, f"{round(one.drawn, 4):g}", *typed.get(one.name, ("", ""))))
        for number, one in enumerate(dimensions(record), 1)
    ]
    return _HEADING.format(name=record.name) + "\n".join([",".join(COLUMNS), *rows]) + "\n"


def form_rows(record: Record) -> tuple[tuple[str, ...], ...]:
    """The same for paper, with its head: number, dimension, between what, what is drawn, and a blank."""
    return (
        ("", "dimension", "read", "drawn, mm", "read, mm"),
        *(
            (str(number), one.name, one.what, f"{round(one.drawn, 4):g}", _BLANK)
            for number, one in enumerate(dimensions(record), 1)
        ),
    )
