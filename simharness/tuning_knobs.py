"""Dimensions that may be tuned: the height of the probe, and what may be tuned with it.

A point holds the values of all knobs in mm, the height first; a record and a point make the record tuned so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from simharness.constants import C0
from simharness.errors import InputError
from simharness.record_text import plain_data
from simharness.records import Record, parse_record

HEIGHTS = (0.10, 0.32)
"""Heights of a probe that are looked at, in free-space wavelengths: a quarter wave lies well within."""

MOST_HEIGHT = 0.85
"""Of the inner height of the guide: a probe that ends nearer to the opposite wall is detuned by the least dent."""

MOST_MOVE = 1 / 16
"""Largest move of the probe or of the end wall, in free-space wavelengths."""

MOST_STRETCH = 0.03
"""Largest change of all slot lengths."""

Point = tuple[float, ...]
"""Values of all knobs, mm, the height first."""

_Data = dict[str, Any]


@dataclass(frozen=True)
class Knob:
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


def _write_height(data: _Data, value: float, step: float) -> None:
    data["feed"]["height_mm"] = _rounded(value, step)


def _write_position(data: _Data, value: float, step: float) -> None:
    data["feed"]["position_mm"] = _rounded(value, step)


def _write_back_short(data: _Data, value: float, step: float) -> None:
    """Moves the near end wall, and with it the origin of all positions."""
    shift = _rounded(value, step) - data["feed"]["position_mm"]
    places = [(data["guide"], "length_mm"), (data["feed"], "position_mm")]
    places += [(data["slot_rule"], "first_mm")] if "slot_rule" in data else [(slot, "position_mm") for slot in data["slot"]]
    for part, name in places:
        part[name] = round(part[name] + shift, 6)


def _write_slots(data: _Data, value: float, step: float) -> None:
    """Stretches all slots alike."""
    slots = [data["slot_rule"]] if "slot_rule" in data else data["slot"]
    factor = value / float(np.mean([slot["length_mm"] for slot in slots]))
    for slot in slots:
        slot["length_mm"] = _rounded(factor * slot["length_mm"], step)


def _height(record: Record) -> float:
    return record.feed.height_mm


def _position(record: Record) -> float:
    return record.feed.position_mm


def _mean_length(record: Record) -> float:
    return float(np.mean([slot.length_mm for slot in record.slots]))


ALSO = {"position": "position of the probe", "back-short": "distance of the near end wall", "slots": "length of all slots"}
"""What may be tuned besides the height of the probe."""

_ACCESS = {"position": (_position, _write_position), "back-short": (_position, _write_back_short), "slots": (_mean_length, _write_slots)}


def knobs(record: Record, also: Sequence[str] = ()) -> tuple[Knob, ...]:
    """The height of the probe, and what else is asked for.

    Parameters
    ----------
    also : sequence of str
        Of `ALSO`.

    Raises
    ------
    InputError
        There is no probe; a word is unknown; position and back short are both asked for.
    """
    if record.feed.kind != "probe":
        raise InputError("feed.kind", record.feed.kind, "only a coax probe can be tuned")
    unknown = [name for name in also if name not in ALSO]
    if unknown:
        raise InputError("also", unknown[0], f"must be of {', '.join(ALSO)}")
    if {"position", "back-short"} <= set(also):
        raise InputError("also", "position, back-short", "both move the probe against the near end: take one of the two")
    wave = 1e3 * C0 / (record.band.centre_ghz * 1e9)
    most = min(HEIGHTS[1] * wave, MOST_HEIGHT * record.guide.height_mm)
    here = record.feed.height_mm
    found = [Knob("height", "height of the probe", min(HEIGHTS[0] * wave, here), max(most, here), _height, _write_height)]
    for name in (name for name in ALSO if name in also):
        read, write = _ACCESS[name]
        move = MOST_MOVE * wave if name != "slots" else MOST_STRETCH * read(record)
        least, most = (_reached(record, read, write, sign * move) for sign in (-1, 1))
        found.append(Knob(name, ALSO[name], least, most, read, write))
    return tuple(found)


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


def point(record: Record, tuned: Sequence[Knob]) -> Point:
    """Values of the knobs in a record, mm."""
    return tuple(knob.read(record) for knob in tuned)


def tuned_record(record: Record, tuned: Sequence[Knob], values: Point, step: float = 0.0) -> Record:
    """The record with its knobs at other values, rounded to a step; all in mm.

    Raises
    ------
    InputError
        No such antenna exists.
    """
    data = plain_data(record)
    for knob, value in zip(tuned, values):
        knob.write(data, value, step)
    return parse_record(data, "tuned record")


def point_words(tuned: Sequence[Knob], values: Point) -> str:
    """Knobs with their values, for people."""
    return ", ".join(f"{knob.words} {value:.2f} mm" for knob, value in zip(tuned, values))
