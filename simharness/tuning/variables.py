"""The variables of a tuning, and points in their space.

The first variable is the dimension of the feed that affects the match most; some feeds need a second one, and
more may be asked for. A point holds the values of all variables in mm; a record and a point make the record
tuned to it.
"""

from __future__ import annotations

from collections.abc import Sequence

from simharness.constants import C0
from simharness.errors import InputError
from simharness.records import Record, parse_record
from simharness.records.record import LONGEST_NOTE
from simharness.records.text import plain_data
from simharness.tuning.dimensions import ALSO, PLATES, SCREWS, TuningVariable, movable
from simharness.tuning.feeds import tunable_feed

Point = tuple[float, ...]
"""Values of all variables, mm, in their order."""


def tuning_variables(record: Record, also: Sequence[str] = ()) -> tuple[TuningVariable, ...]:
    """The variables of the feed, and those asked for.

    Parameters
    ----------
    record : Record
    also : sequence of str
        Of `dimensions.ALSO`, as far as the feed allows them.

    Raises
    ------
    InputError
        There is no probe; a name is unknown; position and back short are both asked for.
    """
    feed = tunable_feed(record)
    plates = (name for name, field in PLATES.items() if getattr(record.guide, field) is not None)
    screws = list(SCREWS)[: len(record.screw)]
    allowed = (*feed.also, *plates, *screws)
    unknown = [name for name in also if name not in allowed]
    if unknown:
        raise InputError("also", unknown[0], f"must be of {', '.join(allowed)} with this feed")
    if {"position", "back-short"} <= set(also):
        raise InputError(
            "also", "position, back-short", "both move the probe against the near end: take one of the two"
        )
    wavelength_mm = 1e3 * C0 / record.band.centre
    first, required = feed.variables(record, wavelength_mm)
    further = [name for name in ALSO if name in also and name not in (first.name, *required)]
    return first, *(movable(record, name, wavelength_mm) for name in (*required, *further))


def point(record: Record, variables: Sequence[TuningVariable]) -> Point:
    """Values of the variables in a record, mm."""
    return tuple(variable.read(record) for variable in variables)


def tuned_record(
    record: Record, variables: Sequence[TuningVariable], values: Point, step: float = 0.0
) -> Record:
    """The record with other values of its variables, rounded to a step; all in mm.

    Raises
    ------
    InputError
        No such antenna exists.
    """
    data = plain_data(record)
    for variable, value in zip(variables, values):
        variable.write(data, value, step)
    return parse_record(data, "tuned record")


def point_text(variables: Sequence[TuningVariable], values: Point) -> str:
    """Labels of the variables with their values."""
    return ", ".join(f"{variable.label} {value:.2f} mm" for variable, value in zip(variables, values))


def tuned_note(record: Record, variables: Sequence[TuningVariable], values: Point, quality: str) -> str:
    """The note of a record with what was tuned; the latter alone where both together are too long.

    Parameters
    ----------
    record : Record
        Before tuning.
    variables : sequence of TuningVariable
    values : tuple of float
        Of the variables as tuned, mm.
    quality : str
        Of the mesh.
    """
    before = point(record, variables)
    if values == before:
        return record.note
    said = (
        f"Tuned by full-wave runs ({quality} mesh): {point_text(variables, values)}; "
        f"before: {point_text(variables, before)}."
    )
    both = f"{record.note} {said}".strip()
    return both if len(both) <= LONGEST_NOTE else said
