"""Dimensions that may be tuned: that of the feed which tells most, and what may be tuned with it.

Of a straight probe it is the height; of a bent one the rise, or where its tip is soldered the run. A bent probe always has
a second knob, as one cannot match it: the run, or the height of its hole. A point holds the values of all knobs in mm, that
of the feed first; a record and a point make the record tuned so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from simharness.constants import C0
from simharness.errors import InputError
from simharness.records import CoaxFeed, Probe, Record, parse_record
from simharness.records.feeds import room_above
from simharness.records.record import LONGEST_NOTE
from simharness.records.text import plain_data

HEIGHTS = (0.10, 0.32)
"""Heights of a probe that are looked at, in free-space wavelengths: a quarter wave lies well within."""

MAX_HEIGHT = 0.85
"""Of the inner height of the guide: a probe that ends nearer to the opposite wall is detuned by the least dent."""

MAX_MOVE = 1 / 16
"""Largest move of the probe or of the end wall, in free-space wavelengths."""

MAX_STRETCH = 0.03
"""Largest change of all slot lengths."""

MAX_BEND = 1 / 10
"""Largest change of run, rise and hole height of a bent probe, in free-space wavelengths."""

Point = tuple[float, ...]
"""Values of all knobs, mm, that of the feed first."""

_Data = dict[str, Any]


@dataclass(frozen=True)
class TuningVariable:
    """A dimension that may be tuned.

    Attributes
    ----------
    name, words : str
        Of the command line, and in a sentence.
    least, most : float
        Range looked at, mm.
    read : function
        Its value (mm) in a record.
    write : function
        Sets it (mm) in the plain data of a record, rounding to a step (mm; 0 for none).
    """

    name: str
    words: str
    least: float
    most: float
    read: Callable[[Record], float]
    write: Callable[[_Data, float, float], None]


def _rounded(value: float, step: float) -> float:
    """A length in mm on a multiple of the step, free of the dust of binary fractions."""
    return round(round(value / step) * step if step else value, 6)


def _feed_field(name: str) -> tuple[Callable[[Record], float], Callable[[_Data, float, float], None]]:
    """How to read and to set a length of the feed."""

    def read(record: Record) -> float:
        return getattr(record.feed, name)

    def write(data: _Data, value: float, step: float) -> None:
        data["feed"][name] = _rounded(value, step)

    return read, write


def _write_back_short(data: _Data, value: float, step: float) -> None:
    """Moves the near end wall, and with it the origin of all positions."""
    shift = _rounded(value, step) - data["feed"]["position_mm"]
    places = [(data["guide"], "length_mm"), (data["feed"], "position_mm")]
    places += (
        [(data["slot_rule"], "first_mm")]
        if "slot_rule" in data
        else [(slot, "position_mm") for slot in data["slot"]]
    )
    for part, name in places:
        part[name] = round(part[name] + shift, 6)


def _write_slots(data: _Data, value: float, step: float) -> None:
    """Stretches all slots alike."""
    slots = [data["slot_rule"]] if "slot_rule" in data else data["slot"]
    factor = value / float(np.mean([slot["length_mm"] for slot in slots]))
    for slot in slots:
        slot["length_mm"] = _rounded(factor * slot["length_mm"], step)


def _mean_length(record: Record) -> float:
    return float(np.mean([slot.length_mm for slot in record.slots]))


ALSO = {
    "position": "position of the probe",
    "back-short": "distance of the near end wall",
    "run": "run of the probe",
    "hole-height": "height of the hole in the near end",
    "slots": "length of all slots",
}
"""What may be tuned besides the first knob; the first two of a straight probe, the next two of a bent one."""

_BENT = ("run", "hole-height")
_OF_OTHER_FEEDS = {"probe": _BENT, "bent-probe": ("position", "back-short")}

_ACCESS = {
    "height": _feed_field("height_mm"),
    "rise": _feed_field("rise_mm"),
    "position": _feed_field("position_mm"),
    "back-short": (_feed_field("position_mm")[0], _write_back_short),
    "run": _feed_field("run_mm"),
    "hole-height": _feed_field("hole_height_mm"),
    "slots": (_mean_length, _write_slots),
}


def tuning_variables(record: Record, also: Sequence[str] = ()) -> tuple[TuningVariable, ...]:
    """The knob of the feed, and what else is asked for.

    Parameters
    ----------
    also : sequence of str
        Of `ALSO`.

    Raises
    ------
    InputError
        There is no probe; a word is unknown; position and back short are both asked for.
    """
    if not isinstance(record.feed, CoaxFeed):
        raise InputError("feed.kind", record.feed.kind, "only a coax probe can be tuned")
    allowed = [name for name in ALSO if name not in _OF_OTHER_FEEDS[record.feed.kind]]
    unknown = [name for name in also if name not in allowed]
    if unknown:
        raise InputError("also", unknown[0], f"must be of {', '.join(allowed)} with this feed")
    if {"position", "back-short"} <= set(also):
        raise InputError(
            "also", "position, back-short", "both move the probe against the near end: take one of the two"
        )
    wave = 1e3 * C0 / (record.band.centre_ghz * 1e9)
    found = [_first_variable(record, wave)]
    partner = {"rise": ("run",), "run": ("hole-height",)}.get(found[0].name, ())
    wanted = [name for name in ALSO if name in (*partner, *also) and name != found[0].name]
    for name in sorted(wanted, key=lambda name: name not in partner):
        read, write = _ACCESS[name]
        move = (
            MAX_STRETCH * read(record)
            if name == "slots"
            else (MAX_BEND if name in _BENT else MAX_MOVE) * wave
        )
        least, most = (_reached(record, read, write, sign * move) for sign in (-1, 1))
        found.append(TuningVariable(name, ALSO[name], least, most, read, write))
    return tuple(found)


def _first_variable(record: Record, wave: float) -> TuningVariable:
    """The dimension of the feed that tells most; `wave`: mm."""
    feed, b = record.feed, record.guide.height_mm
    if isinstance(feed, Probe):
        name, words, here = "height", "height of the probe", feed.height_mm
        least, most = HEIGHTS[0] * wave, min(HEIGHTS[1] * wave, MAX_HEIGHT * b)
    elif feed.tip == "open":
        name, words, here = "rise", "rise of the probe", feed.rise_mm
        least, most = (
            max(here - MAX_BEND * wave, feed.wire_diameter_mm),
            min(here + MAX_BEND * wave, MAX_HEIGHT * room_above(feed, b)),
        )
    else:
        name, words, here = "run", "run of the probe", feed.run_mm
        least, most = (_reached(record, *_ACCESS[name], sign * MAX_BEND * wave) for sign in (-1, 1))
    return TuningVariable(name, words, min(least, here), max(most, here), *_ACCESS[name])


def _reached(record: Record, read: Callable, write: Callable, move: float) -> float:
    """Value at the end of a move, or of a part of it for which the record still stands."""
    for part in (1.0, 0.5, 0.25, 0.125):
        data = plain_data(record)
        write(data, read(record) + part * move, 0.0)
        try:
            return read(parse_record(data))
        except InputError:
            continue
    return read(record)


def point(record: Record, tuned: Sequence[TuningVariable]) -> Point:
    """Values of the knobs in a record, mm."""
    return tuple(variable.read(record) for variable in tuned)


def tuned_record(record: Record, tuned: Sequence[TuningVariable], values: Point, step: float = 0.0) -> Record:
    """The record with its knobs at other values, rounded to a step; all in mm.

    Raises
    ------
    InputError
        No such antenna exists.
    """
    data = plain_data(record)
    for variable, value in zip(tuned, values):
        variable.write(data, value, step)
    return parse_record(data, "tuned record")


def point_text(tuned: Sequence[TuningVariable], values: Point) -> str:
    """Knobs with their values, for people."""
    return ", ".join(f"{variable.words} {value:.2f} mm" for variable, value in zip(tuned, values))


def tuned_note(record: Record, tuned: Sequence[TuningVariable], values: Point, quality: str) -> str:
    """The note of a record with what was tuned; alone where the two are too long together.

    Parameters
    ----------
    record : Record
        As it was.
    values : tuple of float
        Of the knobs as tuned, mm.
    quality : str
        Of the mesh.
    """
    before = point(record, tuned)
    if values == before:
        return record.note
    said = f"Tuned by full-wave runs ({quality} mesh): {point_text(tuned, values)}; before: {point_text(tuned, before)}."
    both = f"{record.note} {said}".strip()
    return both if len(both) <= LONGEST_NOTE else said
