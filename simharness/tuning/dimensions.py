"""Dimensions that may be tuned: how each is read from a record, written into one, and how far it may move."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from simharness.errors import InputError
from simharness.records import Record, parse_record
from simharness.records.record import MOST_SCREWS
from simharness.records.text import plain_data

HEIGHTS = (0.10, 0.32)
"""Range of heights of a probe, in free-space wavelengths: it contains a quarter wave."""

MAX_HEIGHT = 0.85
"""Largest height as a share of that of the guide: closer to the opposite wall a probe is very sensitive."""

MAX_MOVE = 1 / 16
"""Largest move of the probe or of the end wall, in free-space wavelengths."""

MAX_STRETCH = 0.03
"""Largest relative change of all slot lengths."""

MAX_BEND = 1 / 10
"""Largest change of run, rise and hole height of a bent probe, in free-space wavelengths."""

_Data = dict[str, Any]
Read = Callable[[Record], float]
Write = Callable[[_Data, float, float], None]


@dataclass(frozen=True)
class TuningVariable:
    """A dimension that may be tuned.

    Attributes
    ----------
    name, label : str
        On the command line, and in a sentence.
    least, most : float
        Range, mm.
    read : function
        Its value (mm) in a record.
    write : function
        Sets it (mm) in the plain data of a record, rounded to a step (mm; 0 for none).
    """

    name: str
    label: str
    least: float
    most: float
    read: Read
    write: Write


def _rounded(value: float, step: float) -> float:
    """A length in mm at a multiple of the step, without binary rounding residues."""
    return round(round(value / step) * step if step else value, 6)


def _feed_field(name: str) -> tuple[Read, Write]:
    """How to read and to set a length of the feed."""

    def read(record: Record) -> float:
        return getattr(record.feed, name)

    def write(data: _Data, value: float, step: float) -> None:
        data["feed"][name] = _rounded(value, step)

    return read, write


def _write_back_short(data: _Data, value: float, step: float) -> None:
    """Move the near end wall, and with it the origin of all positions."""
    shift = _rounded(value, step) - data["feed"]["position_mm"]
    places = [(data["guide"], "length_mm"), (data["feed"], "position_mm")]
    places += (
        [(data["slot_rule"], "first_mm")]
        if "slot_rule" in data
        else [(slot, "position_mm") for slot in data["slot"]]
    )
    places += [(screw, "position_mm") for screw in data.get("screw", ())]
    for part, name in places:
        part[name] = round(part[name] + shift, 6)


def _write_slots(data: _Data, value: float, step: float) -> None:
    """Scale the lengths of all slots alike."""
    slots = [data["slot_rule"]] if "slot_rule" in data else data["slot"]
    factor = value / float(np.mean([slot["length_mm"] for slot in slots]))
    for slot in slots:
        slot["length_mm"] = _rounded(factor * slot["length_mm"], step)


def _mean_length(record: Record) -> float:
    """Mean length of the slots, mm."""
    return float(np.mean([slot.length_mm for slot in record.slots]))


def _plate_field(name: str) -> tuple[Read, Write]:
    """How to read and to set the place of a plate inside an end, mm."""

    def read(record: Record) -> float:
        return float(getattr(record.guide, name))

    def write(data: _Data, value: float, step: float) -> None:
        data["guide"][name] = _rounded(value, step)

    return read, write


def _screw_field(number: int) -> tuple[Read, Write]:
    """How to read and to set the depth of a screw, mm."""

    def read(record: Record) -> float:
        return record.screw[number - 1].depth_mm

    def write(data: _Data, value: float, step: float) -> None:
        data["screw"][number - 1]["depth_mm"] = _rounded(value, step)

    return read, write


SCREWS = {f"screw-{number}": number for number in range(1, MOST_SCREWS + 1)}
"""Screws that a record may have, by the names of their depths."""

PLATES = {"near-plate": "near_plate_mm", "far-plate": "far_plate_mm"}
"""Plates that a record may have, and their fields of the guide."""

ALSO = {
    "position": "position of the probe",
    "back-short": "distance of the near end wall",
    "run": "run of the probe",
    "hole-height": "height of the hole in the near end",
    "slots": "length of all slots",
    "near-plate": "distance of the plate from the near end",
    "far-plate": "distance of the plate from the far end",
    **{name: f"depth of screw {number}" for name, number in SCREWS.items()},
}
"""What may be tuned besides the first variable, with labels; each feed allows some of them."""

ACCESS: dict[str, tuple[Read, Write]] = {
    "height": _feed_field("height_mm"),
    "rise": _feed_field("rise_mm"),
    "position": _feed_field("position_mm"),
    "back-short": (_feed_field("position_mm")[0], _write_back_short),
    "run": _feed_field("run_mm"),
    "hole-height": _feed_field("hole_height_mm"),
    "slots": (_mean_length, _write_slots),
    **{name: _plate_field(field) for name, field in PLATES.items()},
    **{name: _screw_field(number) for name, number in SCREWS.items()},
}
"""How each dimension is read and written."""

_LARGEST_MOVE = {
    "position": MAX_MOVE,
    "back-short": MAX_MOVE,
    "run": MAX_BEND,
    "hole-height": MAX_BEND,
    "near-plate": MAX_MOVE,
    "far-plate": MAX_MOVE,
}
"""In free-space wavelengths."""


def largest_move(name: str, record: Record, wavelength_mm: float) -> float:
    """Largest change of a dimension of `ALSO`, mm."""
    if name == "slots":
        return MAX_STRETCH * _mean_length(record)
    return _LARGEST_MOVE.get(name, MAX_MOVE) * wavelength_mm


def reached(record: Record, name: str, move: float) -> float:
    """Value of a dimension after a move, or after the largest part of it that gives a valid record, mm."""
    read, write = ACCESS[name]
    for part in (1.0, 0.5, 0.25, 0.125):
        data = plain_data(record)
        write(data, read(record) + part * move, 0.0)
        try:
            return read(parse_record(data))
        except InputError:
            continue
    return read(record)


def movable(record: Record, name: str, wavelength_mm: float) -> TuningVariable:
    """A dimension of `ALSO` as a variable around its present value."""
    move = largest_move(name, record, wavelength_mm)
    least, most = (reached(record, name, sign * move) for sign in (-1, 1))
    return TuningVariable(name, ALSO[name], least, most, *ACCESS[name])
