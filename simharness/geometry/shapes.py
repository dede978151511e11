"""What the scene asks of each shape of guide."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Protocol

from shapely.geometry import Polygon

from simharness.geometry.pieces import Hole, Pieces
from simharness.geometry.scene import ModePort, SlotMark
from simharness.geometry.shape_rectangular import RectangularShape
from simharness.geometry.shape_round import RoundShape
from simharness.geometry.solids import Material, Outline, Prism
from simharness.records import Guide, Record, Slot


class GuideShape(Protocol):
    """Geometry of a guide of one shape; lengths in m."""

    def __init__(self, guide: Any): ...

    def pieces(self, record: Record, near: float, far: float, holes: Mapping[str, Hole]) -> Iterator[Pieces]:
        """Walls with their slots and holes.

        Parameters
        ----------
        near, far : float
            Length of a guide port or a load behind either end, m.
        holes : Mapping
            Holes for a coax by the wall they go through: 'front', 'back', 'near', 'far'.
        """
        ...

    def filling(self, part: str, material: Material, low: float, high: float) -> Prism:
        """The whole inside from z = `low` to `high`."""
        ...

    def mode_port(self, direction: int, plane: float, reference: float, source: float | None) -> ModePort:
        """A port of the lowest mode; see `ModePort`."""
        ...

    def slot_mark(self, slot: Slot) -> SlotMark:
        """Where the voltage across a slot is recorded."""
        ...

    def front_outline(self, slot: Slot) -> Polygon:
        """Outline of a slot as it is seen from the front, (x, z)."""
        ...

    def unrolled(self, slots: Sequence[Slot], holes: Mapping[str, Hole]) -> tuple[Outline, ...]:
        """Openings of a curved wall on its outer surface, (arc from the front line, z), slots first."""
        ...

    @property
    def side_wall_mm(self) -> float | None:
        """Height of the side wall that meets the front wall in a seam, mm; None: there is no such seam."""
        ...


_SHAPES: dict[str, type[GuideShape]] = {"rectangular": RectangularShape, "round": RoundShape}


def guide_shape(guide: Guide) -> GuideShape:
    """The geometry of a guide by its shape."""
    return _SHAPES[guide.shape](guide)


def front_outline(guide: Guide, slot: Slot) -> Polygon:
    """Outline of a slot as it is seen from the front, (x, z) in m."""
    return guide_shape(guide).front_outline(slot)
