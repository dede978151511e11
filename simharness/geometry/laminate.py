"""The substrate of a front wall of laminate; its copper is the front wall itself, of no thickness."""

from __future__ import annotations

from collections.abc import Sequence

from simharness.constants import EPS0, TWO_PI
from simharness.geometry.pieces import Pieces
from simharness.geometry.scene import Feature
from simharness.geometry.solids import SUBSTRATE, Material, Prism, rectangle
from simharness.records import RectangularGuide, Slot
from simharness.records.outlines import slot_outline, squared_outline, squared_slot


def substrate_pieces(
    guide: RectangularGuide, slots: Sequence[Slot], near: float, far: float, centre: float
) -> Pieces:
    """The sheet of dielectric on the outside of the copper, open at routed slots.

    The loss is a conductivity, right at the design frequency.

    Parameters
    ----------
    near, far : float
        Length of a guide port behind either end, m.
    centre : float
        Design frequency, Hz.
    """
    laminate = guide.laminate
    assert laminate is not None
    other, high = guide.other_walls, guide.front_wall
    x, z0, z1 = guide.a / 2 + other, -near - other, guide.length + far + other
    loss = TWO_PI * centre * EPS0 * laminate.permittivity * laminate.loss_tangent
    material = Material("substrate", permittivity=laminate.permittivity, loss=loss)
    routed = slots if laminate.slots == "routed" else ()
    outline, meshed = (
        rectangle(-x, x, z0, z1, tuple(shape(slot) for slot in routed))
        for shape in (slot_outline, squared_outline)
    )
    off_grid = tuple(squared_slot(slot) for slot in routed if slot.off_grid)
    sheet = Prism(SUBSTRATE, material, 1, 0.0, high, outline, meshed, off_grid)
    finest = min((slot.width for slot in slots), default=0.0)
    return Pieces((sheet,), (Feature("substrate", 1, 0.0, high, scale=finest),))
