"""The dimensions that caliper and rule can read on a finished antenna, numbered as on its form."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simharness.estimate.deviation import Deviation, field_changed
from simharness.estimate.deviations import deviations
from simharness.records import Record, parse_record
from simharness.records.text import plain_data
from simharness.tolerance.tool_errors import TOOLS, require_tools

_BOX = (
    ("guide width", "a_mm", "guide width"),
    ("guide height", "b_mm", "guide height"),
    ("guide length", "length_mm", "far end"),
)

_GUIDE = {
    ("rectangular", "folded"): (
        *_BOX,
        ("front wall", "front_wall_mm", "front wall"),
        ("other walls", "other_walls_mm", "front wall"),
    ),
    ("rectangular", "tube"): (*_BOX, ("wall", "front_wall_mm", "front wall")),
    ("round", "tube"): (
        ("tube diameter", "diameter_mm", "guide width"),
        ("guide length", "length_mm", "far end"),
        ("wall", "wall_mm", "front wall"),
    ),
}
"""What is read inside a guide, by its shape and how it is made: name, field of the record, and whose error it
has. A stock tube has walls of one thickness."""

_FEED: dict[str, tuple[tuple[str, str, str], ...]] = {
    "probe": (
        ("probe position", "position_mm", "probe position"),
        ("probe height", "height_mm", "probe height"),
    ),
    "bent-probe": (
        ("hole height", "hole_height_mm", "hole height"),
        ("probe run", "run_mm", "probe run"),
        ("probe rise", "rise_mm", "probe rise"),
    ),
    "guide-port": (),
}
"""What is read of a feed, by its kind."""

_SLOT = (
    ("position", "position_mm", "slot position"),
    ("offset", "offset_mm", "slot offset"),
    ("length", "length_mm", "slot length"),
    ("width", "width_mm", "slot width"),
)
"""What is read of a slot."""

WHAT = {
    "guide width": "inside, from side wall to side wall",
    "guide height": "inside, from back wall to front wall",
    "tube diameter": "inside",
    "guide length": "inside, from near end to far end",
    "front wall": "thickness of the slotted wall",
    "other walls": "thickness of the other walls",
    "wall": "thickness of the wall of the tube",
    "probe position": "from the near end, inside, to the middle of the probe",
    "probe height": "from the inner face of its wall to the tip",
    "hole height": "from the inner face of the back wall to the middle of the hole",
    "probe run": "from the near end, inside, to the middle of the riser",
    "probe rise": "from the middle of the run to the tip",
    "position": "from the near end, inside, to the middle of the slot",
    "offset": "from the centre line of the wall to the middle of the slot",
    "length": "from end to end",
    "width": "across",
}
"""Between what a dimension is read; those of slots without their numbers."""


@dataclass(frozen=True)
class Dimension:
    """One dimension of a finished antenna.

    Attributes
    ----------
    name : str
        "guide width", "slot 3 length".
    drawn : float
        mm; of an offset the distance from the centre line, whatever the side.
    error : str
        Name of the dimension in `tool_errors.TOOLS` whose error it has where it is not read.
    deviation : Deviation
        Changes it in a record; an offset away from the centre line.
    """

    name: str
    drawn: float
    error: str
    deviation: Deviation

    @property
    def slot(self) -> int | None:
        """Number of its slot from the near end; None for what is no slot's."""
        return int(self.name.split()[1]) if self.name.startswith("slot ") else None

    @property
    def what(self) -> str:
        """Between what it is read."""
        return WHAT[self.name.split()[-1] if self.slot else self.name]


def explicit_slots(record: Record) -> Record:
    """The record with every slot by itself, in order along the guide."""
    data = plain_data(record, rule=False)
    data["slot"] = [slot.model_dump(exclude_none=True) for slot in record.slots]
    for slot in data["slot"]:
        slot["position_mm"] = round(slot["position_mm"], 6)  # a rule leaves the noise of its sums
    return parse_record(data, record.name)


def dimensions(record: Record) -> tuple[Dimension, ...]:
    """Every dimension that can be read on an antenna, those of the guide first."""
    return tuple(_found(record))


def _found(record: Record) -> Iterator[Dimension]:
    data = plain_data(explicit_slots(record))
    limit = next((one.limit for one in deviations(record) if one.unit == "mm"), 1.0)

    def dimension(name: str, drawn: float, error: str, change: Callable) -> Dimension:
        found = Deviation(name, f"{name} is", "mm", limit, "more", "less", change)
        return Dimension(name, drawn, error, found)

    guide = _GUIDE[record.guide.shape, record.guide.make]
    for part, table in (("guide", guide), ("feed", _FEED[record.feed.kind])):
        for name, field, error in table:
            if data[part].get(field) is not None:
                one_wall = (name, field) == ("wall", "front_wall_mm")
                change = _all_walls if one_wall else field_changed(part, field)
                yield dimension(name, data[part][field], error, change)
    for index, slot in enumerate(data["slot"]):
        for name, field, error in _SLOT:
            yield dimension(f"slot {index + 1} {name}", abs(slot[field]), error, _of_slot(field, index))


def _all_walls(data: dict[str, Any], amount: float) -> None:
    """Walls of one thickness."""
    data["guide"]["front_wall_mm"] += amount
    data["guide"]["other_walls_mm"] = data["guide"]["front_wall_mm"]


def _of_slot(field: str, index: int) -> Callable[[dict[str, Any], float], None]:
    """A change of one slot in the data of a record; of the offset away from the centre line."""

    def change(data: dict[str, Any], amount: float) -> None:
        slot = data["slot"][index]
        slot[field] += -amount if slot[field] < 0 else amount

    return change


def tool_covariance(wanted: tuple[Dimension, ...], tools: str) -> NDArray:
    """Covariance (n, n) of the errors with which tools make some dimensions, mm^2.

    What tools keep in 95 of 100 cases counts as two standard deviations. All slots share a part of their
    error, so that what is not read of one is likely to be off as much in another.

    Raises
    ------
    InputError
        Unknown tools.
    """
    require_tools(tools)
    common = np.array([0.5 * TOOLS[tools][one.error].common for one in wanted])
    own = np.array([0.5 * TOOLS[tools][one.error].own for one in wanted])
    kinds = [(one.error, one.slot is not None) for one in wanted]
    shared = np.array([[one == other and one[1] for other in kinds] for one in kinds])
    np.fill_diagonal(shared, True)
    return shared * np.outer(common, common) + np.diag(own**2)
