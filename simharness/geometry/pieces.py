"""What a piece of the antenna adds to the scene."""

from __future__ import annotations

from dataclasses import dataclass

from simharness.geometry.scene import Feature, Port, Prism


@dataclass(frozen=True)
class Pieces:
    """Solids, what the mesh must honour of them, and the port that comes with them."""

    prisms: tuple[Prism, ...]
    features: tuple[Feature, ...]
    port: Port | None = None
