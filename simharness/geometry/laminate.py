"""The substrate of a front wall of copper-clad laminate; its copper is the front wall itself, of no thickness."""

from __future__ import annotations

from simharness.constants import EPS0, TWO_PI
from simharness.geometry.pieces import Pieces
from simharness.geometry.scene import SUBSTRATE, Feature, Material, Prism, rectangle
from simharness.geometry.walls import finest_slot
from simharness.records import Record
from simharness.records.outlines import slot_outline, squared_outline, squared_slot


def substrate_pieces(record: Record, near: float, far: float, centre: float) -> Pieces:
    """The sheet of dielectric on the outside of the copper, open at routed slots.

    The loss is a conductivity, right at the design frequency.

    Parameters
    ----------
    near, far : float
        Length of a guide port behind either end, m.
    centre : float
        Design frequency, Hz.
    """
    guide, board = record.guide, record.guide.laminate
    other, high = guide.other_walls, guide.front_wall
    x, z0, z1 = guide.a / 2 + other, -near - other, guide.length + far + other
    loss = TWO_PI * centre * EPS0 * board.permittivity * board.loss_tangent
    material = Material("substrate", permittivity=board.permittivity, loss=loss)
    routed = record.slots if board.slots == "routed" else ()
    outlines = (
        rectangle(-x, x, z0, z1, tuple(shape(s) for s in routed)) for shape in (slot_outline, squared_outline)
    )
    off_grid = tuple(squared_slot(slot) for slot in routed if slot.off_grid)
    sheet = Prism(SUBSTRATE, material, 1, 0.0, high, *outlines, off_grid)
    return Pieces((sheet,), (Feature("substrate", 1, 0.0, high, scale=finest_slot(record)),))
