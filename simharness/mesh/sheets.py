"""Flat sheets of dielectric on a mesh whose lines they do not follow.

A cell that a sheet fills in part has the mean of both: along the faces of the sheet, where the electric field
is continuous, that of the permittivities; across them, where its displacement is, that of their inverses
(complex, at the centre frequency). So a sheet far thinner than a cell keeps what it adds to either, to first
order in its thickness, and its faces act where they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from simharness.constants import EPS0, TWO_PI
from simharness.geometry.solids import Material, Prism, Sheet
from simharness.mesh.grid import Grid

_FULL = 1e-9
"""Share of a cell that counts as none, or less than all of it."""


def layers(prism: Prism, grid: Grid, centre: float) -> Iterator[tuple[int, int, Material]]:
    """Layers of cells along the axis of a prism that it fills: first line, last line, and their material.

    Parameters
    ----------
    centre : float
        Frequency at which a partly filled cell has the loss of the sheet, Hz.
    """
    if not isinstance(prism, Sheet):
        yield grid.index(prism.axis, prism.low), grid.index(prism.axis, prism.high), prism.material
        return
    line = np.asarray(grid.lines[prism.axis])
    inside = np.minimum(line[1:], prism.high) - np.maximum(line[:-1], prism.low)
    share = np.maximum(0.0, inside) / np.diff(line)
    for cell in np.flatnonzero(share > _FULL):
        yield int(cell), int(cell) + 1, _mixed(prism, float(share[cell]), centre)


def _mixed(sheet: Prism, share: float, centre: float) -> Material:
    """Of a cell that the sheet fills by this share, the rest being air."""
    material = sheet.material
    if share > 1.0 - _FULL:
        return material
    along = 1.0 + share * (material.permittivity - 1.0), share * material.loss
    omega = TWO_PI * centre * EPS0
    inverse = 1.0 + share * (1.0 / (material.permittivity - 1j * material.loss / omega) - 1.0)
    across = (1.0 / inverse).real, -(1.0 / inverse).imag * omega
    axes = tuple(across if axis == sheet.axis else along for axis in range(3))
    return replace(material, name=f"{material.name}, {share:.9f} of the cell", axes=axes)
