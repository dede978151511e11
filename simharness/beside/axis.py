"""The axis of frequency that sides share: in GHz where their curves lie over each other, else over the design
frequency of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from numpy.typing import NDArray

from simharness.beside.side import Side


@dataclass(frozen=True)
class SharedAxis:
    """Where the curves of sides are drawn.

    Attributes
    ----------
    label : str
        Of the axis, with its unit.
    places : tuple of (f,) array
        Of the frequencies of each side.
    bands : tuple of (float, float)
        Edges of the bands of the records on this axis, each band once.
    """

    label: str
    places: tuple[NDArray, ...]
    bands: tuple[tuple[float, float], ...]


def shared_axis(sides: Sequence[Side]) -> SharedAxis:
    """In GHz, or as a share of the design frequency where some curves have no frequency in common.

    A measurement takes the design frequency of the first record; where there is no record, all is in GHz.
    """
    records = [side.record for side in sides]
    first = next((record for record in records if record is not None), None)
    overlap = min(side.frequency[-1] for side in sides) > max(side.frequency[0] for side in sides)
    if overlap or first is None:
        scales, label = [1e9 for _ in sides], "frequency in GHz"
    else:
        scales = [(record or first).band.centre for record in records]
        label = "frequency over design frequency"
    bands = {
        (record.band.low / scale, record.band.high / scale)
        for record, scale in zip(records, scales)
        if record is not None
    }
    return SharedAxis(
        label, tuple(side.frequency / scale for side, scale in zip(sides, scales)), tuple(sorted(bands))
    )
