"""What the advice asks of a guide; one class for each shape, found by `shape_advice`."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from simharness.advice.feeds import feed_advice
from simharness.advice.quantities import guide_wavelength
from simharness.constants import C0
from simharness.records import Record, RectangularGuide, RoundGuide

_MAX_FOLD_MM = 2.0
"""Thickest sheet that is folded by hand (common practice)."""
_UNEQUAL_MM = 1e-6
_TURN_LIMIT = math.radians(5)
"""A choice: 20 log tan(5 deg) = -21 dB of the mode in the wrong direction."""
SPLIT = 0.918
"""Relative difference of the two cutoffs of TE11 over that of the diameters of a slightly elliptic tube,
(1 + 1/p^2) / (2 (1 - 1/p^2)) with p = 1.8412: perturbation of the wall, own derivation, held by
`tests/unit/test_tube_cells.py`."""


class ShapeAdvice(ABC):
    """What the advice asks of a guide.

    Attributes
    ----------
    size_field : str
        Field of the record that the guide wavelength depends on.
    excites : str
        What may excite the next mode.
    """

    record: Record
    size_field: str
    excites: str

    @abstractmethod
    def guide_warnings(self) -> Iterator[str]:
        """What its shape brings with it."""

    @abstractmethod
    def fabrication_warnings(self) -> Iterator[str]:
        """What cannot be made of its walls."""

    @abstractmethod
    def joining_warnings(self) -> Iterator[str]:
        """What of the record contradicts the way it is made."""

    @abstractmethod
    def side_clearance(self, left: float, right: float) -> float:
        """From a slot between these places across the guide (m from the centre line) to the side wall, mm."""


@dataclass(frozen=True)
class RectangularAdvice(ShapeAdvice):
    """A rectangular guide, folded or a stock tube."""

    record: Record
    size_field = "a_mm"
    excites = "an uneven fold or the feed"

    @property
    def guide(self) -> RectangularGuide:
        """That of the record."""
        return self.record.guide  # type: ignore[return-value]  # found by its shape

    def guide_warnings(self) -> Iterator[str]:
        """Nothing: its side walls hold the mode."""
        return iter(())

    def fabrication_warnings(self) -> Iterator[str]:
        """Sheet that is too thick to fold."""
        if self.guide.make == "folded" and self.guide.other_walls_mm > _MAX_FOLD_MM:
            yield (
                f"sheet of {self.guide.other_walls_mm:g} mm is not folded by hand; take thinner sheet, or a "
                f"tube (make = 'tube')"
            )

    def joining_warnings(self) -> Iterator[str]:
        """A stock tube with walls that no stock tube has."""
        guide = self.guide
        if guide.make != "tube":
            return
        if guide.laminate is not None:
            yield (
                "guide.make is 'tube', but a stock tube has a front wall of its own: a laminate front needs "
                "make = 'folded'"
            )
        elif abs(guide.front_wall_mm - guide.other_walls_mm) > _UNEQUAL_MM:
            yield (
                "guide.make is 'tube', but a stock tube has walls of one thickness, not "
                f"{guide.front_wall_mm:g} and {guide.other_walls_mm:g} mm: make them equal, or set make = "
                "'folded'"
            )

    def side_clearance(self, left: float, right: float) -> float:
        """To the nearer side wall, mm."""
        return self.guide.a_mm / 2 - max(right, -left) * 1e3


@dataclass(frozen=True)
class RoundAdvice(ShapeAdvice):
    """A round tube, in which nothing but the feed holds E to one direction."""

    record: Record
    size_field = "diameter_mm"
    excites = "the feed"

    @property
    def guide(self) -> RoundGuide:
        """That of the record."""
        return self.record.guide  # type: ignore[return-value]  # found by its shape

    def guide_warnings(self) -> Iterator[str]:
        """What turns the mode."""
        record, guide = self.record, self.guide
        yield (
            f"in a round tube E may point in any direction: {feed_advice(record).direction(guide)}; where E "
            "is turned, slots on the front line, which should not radiate, begin to radiate: scribe the "
            "front and the back line in one set-up"
        )
        wave, length = guide_wavelength(record), guide.length
        out_of_round = _TURN_LIMIT / (SPLIT * math.pi * length / wave * (wave * guide.cutoff / C0) ** 2)
        yield (
            f"a dent, or a tube that is not round, splits {guide.mode} into two waves of unequal speed, and "
            "E turns on its way: over this length keep the largest and the smallest diameter within "
            f"{max(out_of_round * guide.diameter_mm, 0.1):.1f} mm of each other"
        )
        if any(slot.offset_mm for slot in record.slots):
            feed = feed_advice(record)
            angle = max(abs(slot.offset_mm) for slot in record.slots) / guide.outer_radius_mm
            yield (
                f"slots {math.degrees(angle):.0f} degrees off the front line couple "
                f"{1 / math.tan(angle):.1f} times as strongly to the wave turned by 90 degrees as to that "
                f"of the {feed.held_by}: {feed.turned_by} changes match and pattern"
            )
        if len({slot.offset_mm > 0 for slot in record.slots if slot.offset_mm}) == 1:
            yield (
                "all slots lie on one side of the front line: each couples to the mode turned by 90 degrees, "
                "and here nothing cancels that"
            )

    def fabrication_warnings(self) -> Iterator[str]:
        """Nothing: it is bought."""
        return iter(())

    def joining_warnings(self) -> Iterator[str]:
        """Nothing: it is a tube in any case."""
        return iter(())

    def side_clearance(self, left: float, right: float) -> float:
        """There is no side wall."""
        return math.inf


_SHAPES: dict[str, Callable[[Record], ShapeAdvice]] = {"rectangular": RectangularAdvice, "round": RoundAdvice}


def shape_advice(record: Record) -> ShapeAdvice:
    """The advice on the guide of a record."""
    return _SHAPES[record.guide.shape](record)
