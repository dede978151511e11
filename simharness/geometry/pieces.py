"""What a piece of the antenna adds to the scene."""

from __future__ import annotations

from dataclasses import dataclass

from simharness.geometry.scene import Feature, Port
from simharness.geometry.solids import Prism


@dataclass(frozen=True)
class Pieces:
    """Solids, what the mesh must honour of them, and the port that comes with them."""

    prisms: tuple[Prism, ...]
    features: tuple[Feature, ...]
    port: Port | None = None


@dataclass(frozen=True)
class Hole:
    """A round hole in a wall; `u`, `v` its centre on the two axes along the wall in ascending order, m."""

    u: float
    v: float
    diameter: float
