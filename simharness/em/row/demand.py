"""Required slot voltages of a row and the guide it is cut into."""

from __future__ import annotations

from dataclasses import dataclass

from simharness.errors import InputError


@dataclass(frozen=True)
class RowDemand:
    """Guide, slots and required voltages of a row; lengths in m.

    Attributes
    ----------
    a, b, wall, width : float
        Inner width and height of the guide, thickness of the slotted wall, width of the slots.
    frequency : float
        Hz.
    weights : tuple of float
        Required magnitudes of the slot voltages from the feed to the far end, positive, in any unit.
    """

    a: float
    b: float
    wall: float
    width: float
    frequency: float
    weights: tuple[float, ...]

    def __post_init__(self) -> None:
        if not self.weights or min(self.weights) <= 0:
            raise InputError("weights", self.weights, "every slot needs a positive voltage")
