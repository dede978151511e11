"""Sheets of dielectric: the substrate of a front wall of laminate, whose copper is the front wall itself, of
no thickness; and the sheets that cover the slots."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from simharness.constants import EPS0, TWO_PI
from simharness.geometry.pieces import Pieces
from simharness.geometry.scene import Feature
from simharness.geometry.solids import COVERS, SUBSTRATE, Material, Prism, Sheet, rectangle
from simharness.records import Record, RectangularGuide, Slot
from simharness.records.outlines import slot_outline, squared_outline, squared_slot


def _dielectric(name: str, permittivity: float, loss_tangent: float, centre: float) -> Material:
    """Its loss is a conductivity, right at the design frequency (Hz)."""
    return Material(
        name, permittivity=permittivity, loss=TWO_PI * centre * EPS0 * permittivity * loss_tangent
    )


def substrate_pieces(
    guide: RectangularGuide, slots: Sequence[Slot], near: float, far: float, centre: float
) -> Pieces:
    """The sheet of dielectric on the outside of the copper, open at routed slots.

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
    material = _dielectric("substrate", laminate.permittivity, laminate.loss_tangent, centre)
    routed = slots if laminate.slots == "routed" else ()
    outline, meshed = (
        rectangle(-x, x, z0, z1, tuple(shape(slot) for slot in routed))
        for shape in (slot_outline, squared_outline)
    )
    off_grid = tuple(squared_slot(slot) for slot in routed if slot.off_grid)
    sheet = Prism(SUBSTRATE, material, 1, 0.0, high, outline, meshed, off_grid)
    finest = min((slot.width for slot in slots), default=0.0)
    return Pieces((sheet,), (Feature("substrate", 1, 0.0, high, scale=finest),))


def cover_pieces(record: Record, guide: RectangularGuide, near: float, far: float) -> Iterator[Pieces]:
    """A sheet for each wall that is covered, over its whole outline and what it stands out beyond.

    Parameters
    ----------
    near, far : float
        Length of a guide port or a load behind either end, m.
    """
    cover = record.cover
    if cover is None:
        return
    material = _dielectric("cover", *cover.constants, record.band.centre)
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
