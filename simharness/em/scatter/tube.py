"""A tube with slots beside other bodies, as the far fields of `simharness.em.pattern` take it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simharness.em.pattern.aperture import Tube
from simharness.em.scatter.bodies import Bodies

_LEAST_NODES, _PER_RADIAN = 14, 1.6
"""Solutions over the wavenumber across, between which a spline goes: at least, and for each radian that a
wave turns on its way to the farthest body and back."""


@dataclass(frozen=True)
class TubeAmongBodies:
    """A tube as in `simharness.em.pattern.aperture.Tube`, whose slots are the points of `slots`.

    Attributes
    ----------
    bodies : Bodies
        The tube and what stands beside it.
    slots : (n, 2) array
        Where the slots are on the outlines, in the order of the aperture, m.
    second : (n, 2) array or None
        Where slots of a second antenna are, m; their fields are added.
    share : complex
        Their voltages over those of the first.
    """

    bodies: Bodies
    slots: NDArray
    second: NDArray | None = None
    share: complex = 1.0

    def responses(
        self, across: NDArray, offsets: NDArray, phi: NDArray, behind: NDArray | None = None
    ) -> NDArray:
        """See `Tube.responses`; offsets and faces are those of `slots`, whatever is given."""
        top = float(np.max(across))
        if np.ptp(across) < 1e-9 * top:
            same = self._response(top, phi)
            return np.broadcast_to(same, (across.size, *same.shape))
        count = max(_LEAST_NODES, math.ceil(_PER_RADIAN * top * self.bodies.reach))
        nodes = top * np.sin(np.linspace(0.03, 1.0, count) * math.pi / 2)
        table = np.stack([self._response(node, phi) for node in nodes])
        return CubicSpline(nodes, table, axis=0)(np.clip(across, nodes[0], top))

    def _response(self, wavenumber: float, phi: NDArray) -> NDArray:
        points = self.slots if self.second is None else np.concatenate([self.slots, self.second])
        found = self.bodies.solved(wavenumber).plane_waves(points, phi)
        count = len(self.slots)
        return found if self.second is None else found[:count] + self.share * found[count:]


@dataclass(frozen=True)
class StackedTubes:
    """Two equal tubes in one line, all their slots alike: the array factor of both about their middle.

    Attributes
    ----------
    tube : Tube
        The tube of one of them, taken as endless.
    wavenumber : float
        Of free space, 1/m.
    rise : float
        From a slot of one to the same slot of the other, m.
    """

    tube: Tube
    wavenumber: float
    rise: float

    def responses(
        self, across: NDArray, offsets: NDArray, phi: NDArray, behind: NDArray | None = None
    ) -> NDArray:
        """See `Tube.responses`; the phase is that of the lower antenna moved to the middle of both."""
        axial = np.sqrt(np.maximum(self.wavenumber**2 - across**2, 0.0))
        factor = 2 * np.cos(axial * self.rise / 2)
        return factor[:, None, None] * self.tube.responses(across, offsets, phi, behind)
