"""What is asked of the models about a finished antenna, and what they find: plain data."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from numpy.typing import NDArray

from simharness.page.compare.dropped import Dropped

Row = tuple[str, ...]


@dataclass(frozen=True)
class Asked:
    """What a process is asked.

    Attributes
    ----------
    name, record : str
        Of the record as drawn, and its text.
    runs : str
        Folder of the stored runs.
    readings : str or None
        The table of readings; None where nothing was read.
    measured : Dropped or None
        S11 of the finished antenna.
    options : dict
        As `simharness.as_built` takes them.
    step_mm : float
        What can be marked.
    """

    name: str
    record: str = field(repr=False)
    runs: str
    readings: str | None = field(repr=False)
    measured: Dropped | None
    options: dict[str, Any]
    step_mm: float


@dataclass(frozen=True)
class Curves:
    """S11 before and after, over frequencies (f,) and (g,) in Hz.

    Attributes
    ----------
    frequency, before, after : (f,) arrays
        Before and after are complex.
    grid, least, most : (g,) arrays
        What 95 of 100 such antennas lie within, dB.
    measured : (f,) complex array or None
    """

    frequency: NDArray
    before: NDArray
    after: NDArray
    grid: NDArray
    least: NDArray
    most: NDArray
    measured: NDArray | None = None


@dataclass(frozen=True)
class BuiltAnswer:
    """What the antenna does as built.

    Attributes
    ----------
    state : str
        Of the match: "met", "close" or "missed".
    sentences : tuple of str
        The match first.
    figures, dimensions : tuple of tuple of str
        Tables, the head first.
    curves : Curves
        As drawn and as built.
    record : str
        Text of the record as built.
    """

    state: str
    sentences: tuple[str, ...]
    figures: tuple[Row, ...]
    dimensions: tuple[Row, ...]
    curves: Curves
    record: str = field(repr=False)


@dataclass(frozen=True)
class Operation:
    """One thing that can be done: in words, S11 as built and with it done, the text of the record with it
    done."""

    title: str
    sentences: tuple[str, ...]
    curves: Curves
    record: str = field(repr=False)


@dataclass(frozen=True)
class MendAnswer:
    """What can be done: sentences before the operations, those, and sentences after them."""

    head: tuple[str, ...]
    operations: tuple[Operation, ...]
    rest: tuple[str, ...]
