"""What the field records of each shape of guide give: wall loss, power into the load, field across the
axis."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from simharness.geometry.scene import Scene
from simharness.geometry.solids import FAR_LOAD
from simharness.results.fields import Field, within
from simharness.results.tube_fields import tube_load_power, tube_wall_loss
from simharness.results.wall_fields import load_power, wall_loss
from simharness.solver.settings import SolverRequest


class ShapeResults(Protocol):
    """The questions; `scale` is the factor (frequency,) of all fields."""

    def wall_loss(self, request: SolverRequest, fields: Mapping[str, Field], scale: NDArray) -> NDArray:
        """Power lost in the walls, W."""

    def load_power(self, scene: Scene, cut: Field, scale: NDArray) -> NDArray:
        """Power into the load at the far end, W."""

    def axis_arrays(self, cut: Field, scale: NDArray) -> dict[str, NDArray]:
        """What else the field cut tells of the mode."""


class RectangularResults:
    """TE10."""

    def wall_loss(self, request: SolverRequest, fields: Mapping[str, Field], scale: NDArray) -> NDArray:
        """From H along each of the six walls."""
        return wall_loss(request, fields, scale)

    def load_power(self, scene: Scene, cut: Field, scale: NDArray) -> NDArray:
        """Of TE10."""
        return load_power(scene, cut, scale)

    def axis_arrays(self, cut: Field, scale: NDArray) -> dict[str, NDArray]:
        """Nothing: E has one direction."""
        return {}


class RoundResults:
    """TE11, whose direction may turn."""

    def wall_loss(self, request: SolverRequest, fields: Mapping[str, Field], scale: NDArray) -> NDArray:
        """From H in the whole bore."""
        scene = request.scene
        assert scene.inside is not None
        lines, field = within(fields["inner_h"], scene.inside)
        return tube_wall_loss(scene, request.grid, lines, field) * np.abs(scale) ** 2

    def load_power(self, scene: Scene, cut: Field, scale: NDArray) -> NDArray:
        """Of TE11 in both directions of E."""
        return tube_load_power(scene, cut, scale)

    def axis_arrays(self, cut: Field, scale: NDArray) -> dict[str, NDArray]:
        """E across, on the axis."""
        (x, _, _), field = cut
        return {"axis_across": field[:, 0, np.argmin(np.abs(x)), 0, :] * scale[:, None]}


_SHAPES: dict[str, ShapeResults] = {"rectangular": RectangularResults(), "round": RoundResults()}


def guide_arrays(request: SolverRequest, fields: Mapping[str, Field], scale: NDArray) -> dict[str, NDArray]:
    """Result arrays from the records inside the guide; `scale`: (frequency,) factor of all fields."""
    scene, shape = request.scene, _SHAPES[request.scene.shape]
    if "cut_e" not in fields:
        return {}
    cut = fields["cut_e"]
    (x, _, z), field = cut
    arrays = {"wall_loss": shape.wall_loss(request, fields, scale)}
    if any(prism.part == FAR_LOAD for prism in scene.prisms):
        arrays["load_power"] = shape.load_power(scene, cut, scale)
    arrays |= {"cut_x": x, "cut_z": z, "cut_field": field[:, 1, :, 0, :] * scale[:, None, None]}
    return arrays | shape.axis_arrays(cut, scale)
