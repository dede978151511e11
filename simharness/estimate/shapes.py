"""What the estimate asks of a guide; one class for each shape, found by `shape_inputs`."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simharness.em.guide.rectangular import attenuation
from simharness.em.guide.round import equivalent_offset, probe_rectangle, te11_attenuation, te11_over_te10
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.pattern.round_tube import RoundTube
from simharness.em.probe.straight import Profile
from simharness.estimate.deviation import Deviation, field_changed
from simharness.records import Guide, RectangularGuide, RoundGuide, Slot
from simharness.records.materials import wall_conductivity


class ShapeInputs(ABC):
    """A guide as the kernels take it. They know the rectangular guide: another shape says which one stands
    for it.

    Attributes
    ----------
    front_wall_field : str
        Field of the record that holds the thickness of the slotted wall.
    """

    guide: Guide
    front_wall_field: str

    @property
    def diameter(self) -> float | None:
        """Of the round tube that the rectangular guide stands for, m."""
        return None

    @property
    @abstractmethod
    def probe_section(self) -> tuple[float, float]:
        """Width and height of the rectangular guide that stands for it where a straight probe is, m."""

    @property
    def probe_profile(self) -> Profile | None:
        """Field of its mode along a straight probe over that of TE10; None where they are the same."""
        return None

    @property
    @abstractmethod
    def outline(self) -> RectangularTube | RoundTube:
        """The outside of the guide with its walls."""

    @abstractmethod
    def line_offset(self, offset: float) -> float:
        """Offset (m) in `guide.line` of a slot that lies at this offset (m) on the wall."""

    @abstractmethod
    def pattern_offsets(self, slots: Sequence[Slot], line_offsets: NDArray) -> NDArray:
        """Offsets (n,) on `outline`, m, of slots whose offsets in `guide.line` are given (n,)."""

    @abstractmethod
    def wall_loss(self, frequency: float, conductivity: float) -> float:
        """Attenuation of the lowest mode in the walls, Np/m; frequency in Hz, conductivity in S/m."""

    @abstractmethod
    def deviations(self, limit: float) -> tuple[Deviation, ...]:
        """What may be wrong with the cross-section, each by up to `limit` (mm)."""

    def line_conductivity(self, frequency: float) -> float:
        """Conductivity with which `guide.line` has the loss of this guide at a frequency (Hz), S/m."""
        return wall_conductivity(self.guide)[0]


@dataclass(frozen=True)
class RectangularInputs(ShapeInputs):
    """A rectangular guide, which the kernels take as it is."""

    guide: RectangularGuide
    front_wall_field = "front_wall_mm"

    @property
    def probe_section(self) -> tuple[float, float]:
        """Of the guide itself."""
        return self.guide.line

    @property
    def outline(self) -> RectangularTube:
        """The outside of the guide with its walls."""
        guide = self.guide
        side = 2 * guide.other_walls_mm
        return RectangularTube(
            (guide.a_mm + side) * 1e-3, (guide.b_mm + guide.other_walls_mm + guide.front_wall_mm) * 1e-3
        )

    def line_offset(self, offset: float) -> float:
        """The same offset."""
        return offset

    def pattern_offsets(self, slots: Sequence[Slot], line_offsets: NDArray) -> NDArray:
        """The same offsets."""
        return line_offsets

    def wall_loss(self, frequency: float, conductivity: float) -> float:
        """That of TE10, Np/m."""
        return float(attenuation(*self.guide.line, frequency, conductivity))

    def deviations(self, limit: float) -> tuple[Deviation, ...]:
        """Width and height inside."""
        width, height = field_changed("guide", "a_mm"), field_changed("guide", "b_mm")
        wide, high = "the broad inner side of the guide is", "the narrow inner side of the guide is"
        return (
            Deviation("guide width", wide, "mm", limit, "wider", "narrower", width, calibrated=True),
            Deviation("guide height", high, "mm", limit, "higher", "lower", height),
        )


@dataclass(frozen=True)
class TE11Profile:
    """Field of TE11 along a probe on the axis plane of a round tube, over that of TE10; equal for equal
    diameters (m)."""

    diameter: float

    def __call__(self, height: NDArray) -> NDArray:
        """At heights (n,) above the wall, m."""
        return te11_over_te10(self.diameter, height)


@dataclass(frozen=True)
class RoundInputs(ShapeInputs):
    """A round tube in TE11, for which rectangular guides stand; see `simharness.em.guide.round`."""

    guide: RoundGuide
    front_wall_field = "wall_mm"

    @property
    def diameter(self) -> float:
        """Inner diameter, m."""
        return self.guide.diameter

    @property
    def probe_section(self) -> tuple[float, float]:
        """Of the rectangular guide that a probe cannot tell from the tube."""
        return probe_rectangle(self.diameter)

    @property
    def probe_profile(self) -> TE11Profile:
        """TE11 along the probe."""
        return TE11Profile(self.diameter)

    @property
    def outline(self) -> RoundTube:
        """The outside of the tube."""
        return RoundTube(2e-3 * self.guide.outer_radius_mm)

    def line_offset(self, offset: float) -> float:
        """That of an equally strong slot in the rectangular guide; `offset` is an arc on the outside of the
        tube."""
        return float(equivalent_offset(self.diameter, offset * 1e3 / self.guide.outer_radius_mm))

    def pattern_offsets(self, slots: Sequence[Slot], line_offsets: NDArray) -> NDArray:
        """Arcs on the outside of the tube, as in the record."""
        return np.array([slot.offset for slot in slots])

    def wall_loss(self, frequency: float, conductivity: float) -> float:
        """That of TE11, Np/m."""
        return float(te11_attenuation(self.diameter, frequency, conductivity))

    def line_conductivity(self, frequency: float) -> float:
        """That with which TE10 of `guide.line` loses what TE11 loses in the tube, S/m."""
        nominal = wall_conductivity(self.guide)[0]
        if not np.isfinite(nominal):
            return nominal
        line = float(attenuation(*self.guide.line, frequency, nominal))
        return nominal * (line / self.wall_loss(frequency, nominal)) ** 2

    def deviations(self, limit: float) -> tuple[Deviation, ...]:
        """The diameter inside."""
        change, subject = field_changed("guide", "diameter_mm"), "the inner diameter of the tube is"
        return (Deviation("guide width", subject, "mm", limit, "wider", "narrower", change, calibrated=True),)


_SHAPES: dict[str, Callable[[Any], ShapeInputs]] = {"rectangular": RectangularInputs, "round": RoundInputs}


def shape_inputs(guide: Guide) -> ShapeInputs:
    """A guide as the kernels take it."""
    return _SHAPES[guide.shape](guide)
