"""A guide as it comes from the shelf or the folding bench; one class for each shape."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0
from simharness.em.guide.rectangular import cutoff_frequency, next_mode
from simharness.em.guide.round import equivalent_offset, slot_angle, tm01_cutoff
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.pattern.round_tube import RoundTube
from simharness.errors import InputError

if TYPE_CHECKING:
    from simharness.design.requirements import Requirements

_BOX_RATIO = 1.41
"""Frequency over cutoff of a folded box: the guide wavelength is 1.42 free ones, and slots clear each other
by far."""
_MIN_RATIO, _MAX_RATIO = 1.05, 0.99
"""Frequency over cutoff, and over that of the next mode, beyond which nothing good can be made."""
_MIN_EDGE = 1.021
"""Lower edge of a band over the cutoff; a record asks for 1.02."""
_GOOD_NEXT_RATIO = 0.95
"""Frequency over the cutoff of the next mode where the standard bands end."""
_FLAT = 0.25
"""Height over width of a guide in which a probe is short, its match narrow and the loss high."""


def single_wave_width(frequency: float) -> float:
    """Inner width (m) of a folded box that suits a frequency (Hz)."""
    return _BOX_RATIO * C0 / (2 * frequency)


def in_mm(value: float) -> float:
    """Millimetres of a length in m, without the last bits of binary fractions."""
    return round(float(value) * 1e3, 6)


@dataclass(frozen=True)
class StockGuide:
    """A rectangular guide; lengths in m.

    Attributes
    ----------
    name : str
        As the builder says it.
    a, b : float
        Inner width and height.
    wall : float
    material : str
        Of `simharness.records.materials`, what it is usually made of.
    diameter : float or None
        Of a round tube, inside; `a` and `b` are then those of the rectangular guide that stands for it.
    make : str
        "tube" or "folded" from sheet, as in a record.
    """

    name: str
    a: float
    b: float
    wall: float
    material: str
    diameter: float | None = None
    make: str = "tube"

    good_ratio = 1.25
    """Frequency over cutoff where the standard bands begin."""
    feeds: ClassVar[tuple[str, ...] | None] = None
    """Kinds of feed that it is designed with; None for all."""
    even_rows = False
    """Whether a row of several slots must have an even number of them."""
    far_ends: ClassVar[tuple[str, ...]] = ("short", "load")
    """Ends that its rows are designed with."""

    @property
    def inside_text(self) -> str:
        """The inner size."""
        return f"{self.a * 1e3:g} x {self.b * 1e3:g} mm inside"

    @property
    def next_wave(self) -> tuple[str, float]:
        """The next mode and where it begins, Hz."""
        return next_mode(self.a, self.b)

    def outline(self, front: float) -> RectangularTube | RoundTube:
        """The outside, with a front wall of this thickness, m."""
        return RectangularTube(self.a + 2 * self.wall, self.b + self.wall + front)

    @property
    def section(self) -> dict[str, Any]:
        """Fields of a record for size and walls."""
        wall = in_mm(self.wall)
        return {
            "a_mm": in_mm(self.a),
            "b_mm": in_mm(self.b),
            "front_wall_mm": wall,
            "other_walls_mm": wall,
            "make": self.make,
        }

    def marked(self, across: NDArray) -> NDArray:
        """Where a slot (n,) is marked on the wall that lies at x (n,) in the guide, m."""
        return np.asarray(across)

    def across(self, marked: NDArray) -> NDArray:
        """The x (n,) of a slot that is marked there (n,), m: the inverse of `marked`."""
        return np.asarray(marked)

    def side_share(self, offset: float) -> float:
        """How near to a side wall an offset (m) lies: over the width."""
        return offset / self.a

    def conflicts(self, requirements: Requirements) -> Iterator[tuple[str, str, str]]:
        """What of the requirements it is not designed with: name, value, and what would be allowed."""
        return iter(())

    def suits(self, frequency: float) -> bool:
        """Whether it is a good choice for a frequency (Hz)."""
        ratio, following = frequency / cutoff_frequency(self.a), self.next_wave[1]
        return ratio >= self.good_ratio and frequency <= _GOOD_NEXT_RATIO * following and self._high_enough

    @property
    def _high_enough(self) -> bool:
        return self.b >= _FLAT * self.a

    def _size_carrying(self, frequency: float) -> str:
        """A size that would carry a frequency (Hz), where this one is too small."""
        width = self.a * self.good_ratio * cutoff_frequency(self.a) / frequency * 1e3
        return f"its inner width must be about {width:.0f} mm or more"

    def _size_of_one_wave(self, frequency: float) -> str:
        """A size in which no second wave travels at a frequency (Hz)."""
        width = single_wave_width(frequency) * 1e3
        return f"take one about {width:.0f} mm wide inside and half as high"

    def require_single_wave(self, frequency: float) -> None:
        """Refuse a frequency (Hz) that does not travel well as the lowest mode, or not as that mode alone.

        Raises
        ------
        InputError
        """
        cutoff, (mode, following) = cutoff_frequency(self.a), self.next_wave
        shown = f"{frequency / 1e9:g} GHz"
        if frequency < _MIN_RATIO * cutoff:
            raise InputError(
                "guide",
                self.name,
                f"{shown} hardly travels in it, the cutoff is {cutoff / 1e9:.3f} GHz; "
                f"{self._size_carrying(frequency)}",
            )
        if frequency > _MAX_RATIO * following:
            raise InputError(
                "guide",
                self.name,
                f"at {shown} a second wave ({mode}, from {following / 1e9:.3f} GHz) travels in it; "
                f"{self._size_of_one_wave(frequency)}",
            )

    def require_band(self, low: float, high: float) -> None:
        """Refuse a band (Hz) that reaches down to the cutoff or up to a second wave.

        Raises
        ------
        InputError
        """
        cutoff, (mode, following) = cutoff_frequency(self.a), self.next_wave
        shown = f"{low / 1e9:g} to {high / 1e9:g} GHz"
        if low < _MIN_EDGE * cutoff:
            raise InputError(
                "band",
                shown,
                f"its lower edge must be {_MIN_EDGE * cutoff / 1e9:.3f} GHz or more in {self.name}, whose "
                f"cutoff is {cutoff / 1e9:.3f} GHz",
            )
        if high > following:
            raise InputError(
                "band",
                shown,
                f"its upper edge must be less than {following / 1e9:.3f} GHz in {self.name}, where a second "
                f"wave ({mode}) begins",
            )


@dataclass(frozen=True)
class RoundStock(StockGuide):
    """A round tube: `diameter` is its inside, a slot is marked by the arc from the front line on its
    outside."""

    diameter: float

    good_ratio = 1.12
    """Its next wave begins at 1.306 times the cutoff: a judgement."""
    feeds: ClassVar[tuple[str, ...]] = ("probe",)
    even_rows = True
    far_ends: ClassVar[tuple[str, ...]] = ("short",)

    @property
    def inside_text(self) -> str:
        """The inner diameter."""
        return f"{self.diameter * 1e3:g} mm inside"

    @property
    def next_wave(self) -> tuple[str, float]:
        """TM01 and where it begins, Hz."""
        return "TM01", tm01_cutoff(self.diameter)

    def outline(self, front: float) -> RoundTube:
        """The outside; the wall is one."""
        return RoundTube(self.diameter + 2 * self.wall)

    @property
    def section(self) -> dict[str, Any]:
        """Fields of a record for size and wall."""
        return {"shape": "round", "diameter_mm": in_mm(self.diameter), "wall_mm": in_mm(self.wall)}

    def marked(self, across: NDArray) -> NDArray:
        """Arcs on the outside."""
        return (self.diameter / 2 + self.wall) * slot_angle(self.diameter, across)

    def across(self, marked: NDArray) -> NDArray:
        """From arcs on the outside."""
        return equivalent_offset(self.diameter, np.asarray(marked) / (self.diameter / 2 + self.wall))

    def side_share(self, offset: float) -> float:
        """There is no side wall."""
        return 0.0

    def conflicts(self, requirements: Requirements) -> Iterator[tuple[str, str, str]]:
        """Anything but slots in the front of the metal, before a short, and a connector that fits on a
        tube."""
        front = "not with a round tube: its slots are designed in the front of the metal, before a short"
        if requirements.opposite:
            yield "faces", "both", front
        if requirements.far_end == "load":
            yield "far end", "load", front
        if requirements.superstrate is not None:
            yield "laminate", "front", front
        if requirements.cover is not None:
            yield "cover", requirements.cover.name, "not with a round tube, on which no flat sheet lies"
        feed = requirements.feed
        if feed.kind not in self.feeds:
            yield "feed", feed.kind, "not with a round tube: it is designed with a straight probe"
        if feed.connector == "panel":
            fitting = "not with a round tube, on which no flat flange lies: take bare or stripped"
            yield "connector", feed.connector, fitting

    @property
    def _high_enough(self) -> bool:
        return True

    def _size_carrying(self, frequency: float) -> str:
        least = self.diameter * self.good_ratio * cutoff_frequency(self.a) / frequency * 1e3
        return f"its inner diameter must be about {least:.0f} mm or more"

    def _size_of_one_wave(self, frequency: float) -> str:
        most = _GOOD_NEXT_RATIO * self.next_wave[1] / frequency * self.diameter * 1e3
        return f"its inner diameter must be about {most:.0f} mm or less"
