"""A pole or a wall beside the antenna, as far as the full wave holds it."""

from __future__ import annotations

from simharness.constants import C0
from simharness.geometry.pieces import Pieces
from simharness.geometry.scene import Feature
from simharness.geometry.solids import METAL, Outline, Prism, block
from simharness.records import Record
from simharness.records.mast import mast_section, outer_section, wall_place

BEYOND = 0.5
"""How far the pole or the wall goes beyond both ends of the antenna, in wavelengths: from there on what it
does to a cut across the antenna no longer changes by as much as the mesh does. It ends inside the recording
box, through which no metal may pass."""

WALL_ASIDE = 1.5
"""How far a wall of no stated width goes beyond the antenna to either side, in wavelengths."""


def mast_pieces(record: Record, near: float, far: float) -> Pieces:
    """The pole or the wall of a record; `near`, `far` the lengths of guide beyond its ends, m."""
    mast, guide, wave = record.mast, record.guide, C0 / record.band.centre
    assert mast is not None
    plate, beyond = guide.thickness("near"), BEYOND * wave
    z0, z1 = -near - plate - beyond, guide.length + far + plate + beyond
    ends = Feature("mast end", 2, z0, z0, soft=True), Feature("mast end", 2, z1, z1, soft=True)
    if mast.shape == "pole":
        section = mast_section(guide, mast)
        x0, y0, x1, y1 = section.bounds
        prism = Prism("pole", METAL, 2, z0, z1, Outline.of(section))
        return Pieces(
            (prism,), (Feature("pole", 0, x0, x1, soft=True), Feature("pole", 1, y0, y1, soft=True), *ends)
        )
    axis, place = wall_place(guide, mast)
    across = outer_section(guide).bounds
    half = (across[3] - across[1] if axis == 0 else across[2] - across[0]) / 2 + WALL_ASIDE * wave
    u0, v0, u1, v1 = mast_section(guide, mast, half).bounds
    bounds = (place, place, v0, v1, z0, z1) if axis == 0 else (u0, u1, place, place, z0, z1)
    sheet = block("wall behind", METAL, bounds) if axis == 1 else None
    if sheet is None:
        sheet = Prism("wall beside", METAL, 0, place, place, _sheet(v0, v1, z0, z1))
    low, high = (v0, v1) if axis == 0 else (u0, u1)
    return Pieces(
        (sheet,),
        (
            Feature("mast face", axis, place, place),
            Feature("mast side", 1 - axis, low, high, soft=True),
            *ends,
        ),
    )


def _sheet(low: float, high: float, z0: float, z1: float) -> Outline:
    return Outline(((low, z0), (high, z0), (high, z1), (low, z1)))
