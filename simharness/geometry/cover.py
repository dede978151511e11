"""The sheets that cover the slots."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.constants import EPS0, TWO_PI
from simharness.geometry.pieces import Pieces
from simharness.geometry.scene import Feature
from simharness.geometry.solids import COVERS, Material, Sheet, rectangle
from simharness.records import Record, RectangularGuide


def cover_pieces(record: Record, guide: RectangularGuide, near: float, far: float) -> Iterator[Pieces]:
    """A sheet for each wall that is covered, over its whole outline and what it stands out beyond.

    The loss is a conductivity, right at the design frequency.

    Parameters
    ----------
    near, far : float
        Length of a guide port or a load behind either end, m.
    """
    cover = record.cover
    if cover is None:
        return
    permittivity, loss_tangent = cover.constants
    loss = TWO_PI * record.band.centre * EPS0 * permittivity * loss_tangent
    material = Material("cover", permittivity=permittivity, loss=loss)
    beyond = guide.other_walls + cover.overhang
    x, z0, z1 = guide.a / 2 + beyond, -near - beyond, guide.length + far + beyond
    finest = min(slot.width for slot in record.slots)
    for face in cover.faces:
        inner, outer = cover.gap, cover.gap + cover.thickness
        low, high = (
            (guide.front_wall + inner, guide.front_wall + outer)
            if face == "front"
            else (-guide.b - guide.other_walls - outer, -guide.b - guide.other_walls - inner)
        )
        sheet = Sheet(COVERS[face], material, 1, low, high, rectangle(-x, x, z0, z1))
        yield Pieces((sheet,), (Feature("cover", 1, low, high, scale=finest, soft=True, depth=cover.gap),))
