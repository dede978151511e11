"""The flat parts of an antenna, by the shape of its guide."""

from __future__ import annotations

from typing import Protocol

from simharness.geometry.scene import Scene
from simharness.sheets.flat.fabrication import FOLDED, Fabrication
from simharness.sheets.flat.part import Part
from simharness.sheets.flat.shape_rectangular import RectangularShape
from simharness.sheets.flat.shape_round import RoundShape


class FlatShape(Protocol):
    """What is asked of the shape of a guide when it is cut."""

    def parts(self, scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
        """All flat parts."""

    def seam_lengths(self, scene: Scene, fabrication: Fabrication) -> dict[str, float]:
        """Lengths of the joints that have to be closed all round, m."""


SHAPES: dict[str, FlatShape] = {"rectangular": RectangularShape(), "round": RoundShape()}


def shape_of(scene: Scene) -> FlatShape:
    """The shape of the guide that a scene holds."""
    return SHAPES[scene.shape]


def parts(scene: Scene, fabrication: Fabrication = FOLDED) -> tuple[Part, ...]:
    """All flat parts of an antenna.

    Parameters
    ----------
    scene : of a record, with the coax feed (`antenna_scene`).

    Raises
    ------
    InputError
        The walls do not suit how the box is made: a tube of two thicknesses, a radius greater than a flap.
    """
    return shape_of(scene).parts(scene, fabrication)


def seam_lengths(scene: Scene, fabrication: Fabrication) -> dict[str, float]:
    """Lengths of the joints that have to be closed all round, m, by what they join."""
    return shape_of(scene).seam_lengths(scene, fabrication)
