"""One dimension that may be changed on purpose, and whether the change can be undone in metal."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from simharness.estimate.deviation import Deviation
from simharness.records import Record


def amount_text(amount: float) -> str:
    """An amount (mm) without its sign, with the digits that it was rounded to: a tenth at least.

    Examples
    --------
    >>> amount_text(-3.3), amount_text(0.05), amount_text(2.0)
    ('3.3 mm', '0.05 mm', '2.0 mm')
    """
    size = f"{abs(amount):.2f}"
    return f"{size.removesuffix('0')} mm"


class Undo(IntEnum):
    """How a change in metal is undone; what is easier comes first in advice."""

    SCREW = -1
    TAPE = 0
    WIRE = 1
    WALL = 2
    HOLE = 3
    SLOTS = 4
    GUIDE = 5

    @property
    def text(self) -> str:
        """Whether it can be undone, the end of a sentence."""
        return {
            Undo.SCREW: "can be undone: turn the screw back",
            Undo.TAPE: "can be undone: tape peels off",
            Undo.WIRE: "can be undone with another wire",
            Undo.WALL: "can be undone as long as that wall is not soldered",
            Undo.HOLE: "cannot be undone once the hole is drilled",
            Undo.SLOTS: "cannot be undone once the slots are cut",
            Undo.GUIDE: "cannot be undone once the sheet is bent",
        }[self]


@dataclass(frozen=True)
class ChangeRange:
    """How far a dimension may be changed.

    Attributes
    ----------
    name : str
        Of the deviation that changes it.
    low, high : float
        Smallest and largest amount, mm.
    undo : Undo
    increase, decrease : str
        What to do for a positive and a negative amount; {} stands for the amount.
    same_guide : bool
        Whether the guide with its slots stays as it is, so that the estimate need not be solved again.
    """

    name: str
    low: float
    high: float
    undo: Undo
    increase: str
    decrease: str
    same_guide: bool = False


@dataclass(frozen=True)
class Change:
    """One dimension that may be changed.

    Attributes
    ----------
    dimension : Deviation
    range : ChangeRange
    low, high : float
        Amounts that are considered, mm: those of the range that the record allows.
    """

    dimension: Deviation
    range: ChangeRange
    low: float
    high: float

    @property
    def undo(self) -> Undo:
        """How it is undone."""
        return self.range.undo

    def applied(self, record: Record, amount: float) -> Record:
        """The record with this dimension changed by an amount, mm.

        Raises
        ------
        InputError
            No such antenna exists.
        """
        return self.dimension.applied(record, amount) if amount else record

    def text(self, amount: float) -> str:
        """What to do for an amount (mm), without a full stop.

        Examples
        --------
        >>> probe = Deviation("probe height", "the probe is", "mm", 4.0, "longer", "shorter", print)
        >>> wire = ChangeRange("probe height", -4.0, 4.0, Undo.WIRE, "make it {} longer", "cut {} off")
        >>> Change(probe, wire, -4.0, 4.0).text(-3.3)
        'cut 3.3 mm off'
        """
        return (self.range.decrease if amount < 0 else self.range.increase).format(amount_text(amount))
