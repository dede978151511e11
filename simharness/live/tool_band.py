"""What the errors of tools do to the match of an antenna near a known one: a band behind its curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.estimate.deviation import Deviation
from simharness.live.differences import PLAIN_SHARE, SIZE_SHARE, field_step, length_step
from simharness.live.model import LiveModel
from simharness.numerics.decibels import decibels
from simharness.records import Record
from simharness.tolerance.tool_errors import (
    TOOLS,
    common_dimensions,
    error_sizes,
    random_errors,
    require_tools,
    slot_dimensions,
)

SAMPLES = 200
LOW, HIGH = 5.0, 95.0
"""Percentiles of |S11| between which the band lies."""
_SCALE_STEP = 0.2
"""Step of the scale of a template, per cent."""


@dataclass(frozen=True)
class ToolBand:
    """What a sample of antennas made with tools does.

    Attributes
    ----------
    tools : str
    frequency : (f,) array
        Hz.
    low_db, high_db : (f,) arrays
        |S11| in dB that 5 and 95 of 100 antennas stay below, at each frequency by itself.
    share : float
        Share of them that meets the target over the whole band, 0 to 1.
    """

    tools: str
    frequency: NDArray
    low_db: NDArray
    high_db: NDArray
    share: float


def tool_dimensions(record: Record) -> tuple[Deviation, ...]:
    """All dimensions in which tools err: those in common, and those of each slot."""
    return (*common_dimensions(record), *slot_dimensions(record))


def dimension_step(record: Record, dimension: Deviation) -> float:
    """Step of the finite differences, as for the field of the same meaning, so that it is solved once."""
    if dimension.unit == "%":
        return _SCALE_STEP if dimension.name == "scale" else 100 * PLAIN_SHARE
    step = length_step(record)
    if dimension.name == "guide width":
        return field_step(record, f"guide.{record.guide.width_field}") or step
    if dimension.name == "slot width":
        return min(step, SIZE_SHARE * min(slot.width_mm for slot in record.slots))
    if dimension.name == "front wall":
        return min(step, SIZE_SHARE * record.guide.thickness_mm("front"))
    return step


def solve_dimension(model: LiveModel, dimension: Deviation) -> None:
    """Solve the path of a dimension that tools make, and keep it under its name."""

    def changed(amount: float) -> Record:
        return dimension.applied(model.record, amount)

    model.paths[dimension.name] = model.solved_path(changed, dimension_step(model.record, dimension))


def tool_band(
    model: LiveModel, record: Record, tools: str, count: int = SAMPLES, seed: int = 1
) -> ToolBand | None:
    """The band of a record near that of a model, in some ten milliseconds.

    Parameters
    ----------
    model : LiveModel
        With the paths of all of `tool_dimensions`.
    record : Record
    tools : str
        As in `simharness tolerance`: "hand" or "mill".
    count, seed : int
        Of the sample; see `random_errors`.

    Returns
    -------
    ToolBand or None
        None where a path is not known, or the record cannot be predicted.

    Raises
    ------
    InputError
        Unknown tools.
    """
    require_tools(tools)
    errors = error_sizes(model.record, TOOLS[tools])
    parts = model.parts(record)
    if parts is None or model.unknown(errors):
        return None
    drawn = random_errors(np.array(list(errors.values())), count, seed)
    sample = np.tile(parts, (count, 1))
    for column, (name, size) in enumerate(errors.items()):
        path = model.paths[name]
        if path is not None and size:
            sample += path.change(drawn[:, column])
    levels = decibels(np.abs(model.s11(sample)) ** 2)
    grid = model.surface.grid
    low, high = np.percentile(levels[:, : grid.size], (LOW, HIGH), axis=0)
    worst = levels[:, grid.size : -1].max(axis=1)
    return ToolBand(tools, grid, low, high, float(np.mean(worst <= record.band.target_s11_db)))
