"""The dimensions that tools make, and how exactly tools of two kinds make them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError
from simharness.estimate.deviation import screw_depth, screw_place
from simharness.estimate.deviations import Deviation, deviations
from simharness.records import Record


@dataclass(frozen=True)
class Tolerance:
    """Deviation that tools keep in 95 of 100 cases, to either side, mm or %.

    Attributes
    ----------
    common : float
        Error common to all slots, or of a single dimension.
    own : float
        Individual error of each slot; 0 where there is none.
    """

    common: float
    own: float = 0.0


TOOLS: dict[str, dict[str, Tolerance]] = {
    "hand": {
        "probe height": Tolerance(0.3),
        "probe position": Tolerance(0.4),
        "probe rise": Tolerance(0.4),
        "probe run": Tolerance(0.4),
        "hole height": Tolerance(0.3),
        "near end": Tolerance(0.5),
        "slot length": Tolerance(0.15, 0.3),
        "slot width": Tolerance(0.2),
        "slot offset": Tolerance(0.3, 0.3),
        "slot position": Tolerance(0.4, 0.3),
        "front wall": Tolerance(0.03),
        "guide width": Tolerance(0.5),
        "guide height": Tolerance(0.5),
        "far end": Tolerance(0.5),
        "scale": Tolerance(0.2),
        "permittivity": Tolerance(5.0),
        "cover permittivity": Tolerance(5.0),
        "cover gap": Tolerance(0.5),
        "screw depth": Tolerance(0.1),
        "screw place": Tolerance(0.4),
    },
    "mill": {
        "probe height": Tolerance(0.1),
        "probe position": Tolerance(0.05),
        "probe rise": Tolerance(0.2),
        "probe run": Tolerance(0.2),
        "hole height": Tolerance(0.05),
        "near end": Tolerance(0.1),
        "slot length": Tolerance(0.04, 0.03),
        "slot width": Tolerance(0.04),
        "slot offset": Tolerance(0.05, 0.03),
        "slot position": Tolerance(0.05, 0.03),
        "front wall": Tolerance(0.03),
        "guide width": Tolerance(0.1),
        "guide height": Tolerance(0.1),
        "far end": Tolerance(0.1),
        "scale": Tolerance(0.02),
        "permittivity": Tolerance(5.0),
        "cover permittivity": Tolerance(5.0),
        "cover gap": Tolerance(0.5),
        "screw depth": Tolerance(0.1),
        "screw place": Tolerance(0.05),
    },
}
"""Common practice, without a source: scriber, rule, drill, file and folding bench, or a three-axis milling
machine on drawn tube. Sheet thickness, the permittivity of a laminate (per cent; glass epoxy) and the
length and the bend of the probe do not depend on the machine; "scale" is the error of the printed
template, or of the axes of the machine. A screw is set within a seventh of a turn. The permittivity of a
cover has the spread of its material, these 5 % where the record says it as a number; a cover that lies on
the slots keeps `_LYING`."""

_LYING = Tolerance(0.1)
"""Gap under a sheet that is pressed or stuck to the wall, mm (common practice)."""

TOOL_NAMES = {"hand": "hand tools", "mill": "a milling machine"}

SLOT_FIELDS = {"slot length": "length_mm", "slot offset": "offset_mm", "slot position": "position_mm"}
"""Dimensions in which every slot may have an individual error, and their fields."""


def _one_slot(field: str, index: int) -> Callable[[dict[str, Any], float], None]:
    """A change of one slot in the data of a record; of the offset outwards."""

    def change(data: dict[str, Any], amount: float) -> None:
        slot = data["slot"][index]
        slot[field] += -amount if slot[field] < 0 else amount

    return change


def common_dimensions(record: Record) -> tuple[Deviation, ...]:
    """Dimensions that exist once, or that all slots share."""
    numbers = range(1, len(record.screw) + 1)
    screws = (one(number) for number in numbers for one in (screw_depth, screw_place))
    return (*(deviation for deviation in deviations(record) if deviation.unit), *screws)


def slot_dimensions(record: Record) -> tuple[Deviation, ...]:
    """Length, offset and position of each individual slot, numbered from the near end."""
    found = []
    for deviation in common_dimensions(record):
        if deviation.name in SLOT_FIELDS:
            found += [
                replace(
                    deviation,
                    name=f"{deviation.name} {i + 1}",
                    subject=f"slot {i + 1} is",
                    change=_one_slot(SLOT_FIELDS[deviation.name], i),
                )
                for i in range(len(record.slots))
            ]
    return tuple(found)


def require_tools(tools: str) -> None:
    """Refuse tools that are not known.

    Raises
    ------
    InputError
    """
    if tools not in TOOLS:
        raise InputError("tools", tools, f"must be one of {', '.join(TOOLS)}")


def tools_for(record: Record, tools: dict[str, Tolerance]) -> dict[str, Tolerance]:
    """The tools with the errors of every screw, and what its material and its lying flat make of those of a
    cover."""
    cover, numbers = record.cover, range(1, len(record.screw) + 1)
    found = tools | {
        f"screw {n} {what}": tools[f"screw {what}"] for n in numbers for what in ("depth", "place")
    }
    if cover is None:
        return found
    low, high = cover.spread
    if high > low:
        found["cover permittivity"] = Tolerance(round(50 * (high - low) / cover.constants[0], 1))
    if cover.gap_mm == 0:
        found["cover gap"] = _LYING
    return found


def error_sizes(record: Record, tools: dict[str, Tolerance]) -> dict[str, float]:
    """Name of each dimension that tools make, common ones first, and what it is kept within in 95 of 100
    cases, mm or %."""
    tools = tools_for(record, tools)
    common = {one.name: tools[one.name].common for one in common_dimensions(record)}
    own = {one.name: tools[one.name.rsplit(" ", 1)[0]].own for one in slot_dimensions(record)}
    return common | own


def random_errors(sizes: NDArray, count: int, seed: int) -> NDArray:
    """Random errors (count, dimensions), normal; the tolerance (dimensions,) is two standard deviations."""
    return 0.5 * sizes * np.random.default_rng(seed).standard_normal((count, sizes.size))
