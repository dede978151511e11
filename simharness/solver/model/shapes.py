"""What the solver is asked about each shape of guide: its cutoff, and where the field at its walls is
recorded."""

from __future__ import annotations

from typing import Protocol

from simharness.em.guide.rectangular import cutoff_frequency
from simharness.em.guide.round import te11_cutoff
from simharness.geometry.scene import Scene
from simharness.solver.model.properties import AT_CELLS, FACES, MAGNETIC_RECORD, Model, side_name


class GuideShape(Protocol):
    """The questions."""

    def cutoff(self, scene: Scene) -> float:
        """Cutoff frequency of the lowest mode, Hz."""

    def add_wall_records(self, model: Model) -> None:
        """Record the magnetic field from which the loss in the walls follows."""


class RectangularShape:
    """TE10; the field is recorded half a cell inside each of the six walls."""

    def cutoff(self, scene: Scene) -> float:
        """Cutoff frequency of TE10, Hz."""
        x0, x1, *_ = _inside(scene)
        return cutoff_frequency(x1 - x0)

    def add_wall_records(self, model: Model) -> None:
        """Record H on a plane along each wall."""
        inside = _inside(model.request.scene)
        low, high = model.near(*inside[0::2]), model.near(*inside[1::2])
        for axis, side in FACES:
            start, stop = model.corner(low), model.corner(high)
            start[axis] = stop[axis] = model.middle(axis, low[axis] if side < 0 else high[axis] - 1)
            model.add_record(f"wall_h_{axis}_{side_name(side)}", MAGNETIC_RECORD, AT_CELLS, start, stop)


class RoundShape:
    """TE11; the wall is a staircase all around, so the field is recorded in the whole bore."""

    def cutoff(self, scene: Scene) -> float:
        """Cutoff frequency of TE11, Hz."""
        return te11_cutoff(scene.bore)

    def add_wall_records(self, model: Model) -> None:
        """Record H in the whole bore."""
        inside = _inside(model.request.scene)
        low, high = (model.corner(model.near(*inside[side::2])) for side in (0, 1))
        model.add_record("inner_h", MAGNETIC_RECORD, AT_CELLS, low, high)


_SHAPES: dict[str, GuideShape] = {"rectangular": RectangularShape(), "round": RoundShape()}


def guide_shape(scene: Scene) -> GuideShape:
    """What is asked about the shape of a scene's guide."""
    return _SHAPES[scene.shape]


def _inside(scene: Scene) -> tuple[float, float, float, float, float, float]:
    assert scene.inside is not None
    return scene.inside
