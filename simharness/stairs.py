"""Slots whose edges run askew to the mesh: what makes up for the stairs of cells in their place.

On stairs a wave along the slot is slow: the electric field across it ends at the tips of the stairs, the magnetic field
fills their notches too. The capacitance is that of a narrower gap than the inductance. A filling of less than
unit permittivity takes the excess away.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from simharness.mesh_settings import MeshSettings
from simharness.scene import Askew, Material, Outline, Prism, Scene

MORE_CELLS = 2
"""More cells across such a slot than across one along the mesh."""

STAIR_TABLE = (0.0, 7.5, 15.0, 20.0, 27.0, 35.0, 45.0, 63.0, 90.0), (0.2, 0.32, 0.41, 0.55, 0.65, 0.73, 0.75, 0.63, 0.5)
"""By how many cells a gap between stairs seems narrower to the electric field, both edges together, against the slope of
the gap in degrees: two-dimensional electrostatics on the lattice, mean over places of the gap, 3 to 8 cells across."""

STRENGTH = 1.8
"""Of the filling over what electrostatics between two walls asks for: the fields before and behind the slot see the stairs
too, and edges along the metal see half of the filling. Found on a bent and an S-shaped slot of 15.3 x 1.6 mm in WR-90."""

_STEP = 0.01
"""Permittivities are rounded to this: equal pieces share a material."""


def stair_cell(width: float, settings: MeshSettings) -> float:
    """Size of the cells over the whole extent of a slot askew to the mesh, m."""
    return width / (settings.slot_cells + MORE_CELLS)


def filled(scene: Scene, settings: MeshSettings) -> Scene:
    """The scene with a filling in its openings askew to the mesh."""
    fillings = tuple(f for prism in scene.prisms for hole in prism.askew for f in _fillings(prism, hole, settings))
    return replace(scene, prisms=scene.prisms + fillings) if fillings else scene


def _fillings(wall: Prism, hole: Askew, settings: MeshSettings) -> Iterator[Prism]:
    across = hole.width / stair_cell(hole.width, settings)
    whole = hole.outline.polygon()
    for outline, slope in hole.pieces:
        narrower = float(np.interp(abs(math.degrees(slope)), *STAIR_TABLE))
        permittivity = _STEP * round((1 - STRENGTH * narrower / across) / _STEP)
        filling = Material(f"slot filling {permittivity:.2f}", permittivity=permittivity)
        yield Prism("slot filling", filling, wall.axis, wall.low, wall.high, Outline.of(outline.polygon().intersection(whole)))
