"""Slots seen from outside: a half space over each broad wall, or the space around a round tube.

The field that one half space hands to the other around the edges of the tube is left out, like all else that
makes the plane finite. Basis and sign conventions: see ``slot_basis``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from simharness.em.guide.round import slot_angle
from simharness.em.slot.basis import SlotAperture
from simharness.em.slot.outside import HalfSpaceSide
from simharness.em.slot.round_outside import Curvature
from simharness.em.slot.superstrate import Superstrate


def with_opposite_slots(slots: Sequence[SlotAperture], opposite: int) -> tuple[SlotAperture, ...]:
    """Slots of the front wall, each followed by an equal slot at the same place along the guide in the back wall.

    Parameters
    ----------
    slots : sequence of SlotAperture
    opposite : int
        Offset of the slot in the back wall over that of the one in the front: 1 or -1; 0 for no slots in the back.
    """
    if not opposite:
        return tuple(slots)
    return tuple(
        part for slot in slots for part in (slot, replace(slot, offset=opposite * slot.offset, face="back"))
    )


class OuterSides:
    """The half spaces over front and back wall; slots couple within each of them only.

    Parameters
    ----------
    slots : sequence of SlotAperture
    orders : ndarray of int, shape (P,)
    exponent : float
        Profile exponent.
    superstrate : Superstrate or None
        Dielectric on the front wall.
    tube : tuple of 2 floats or None
        Diameter inside and radius outside of a round tube whose slots these are, m; all of them in its front then.
    """

    def __init__(
        self,
        slots: Sequence[SlotAperture],
        orders: np.ndarray,
        exponent: float,
        superstrate: Superstrate | None = None,
        tube: tuple[float, float] | None = None,
    ):
        self._curvature = None
        if tube is not None:
            diameter, radius = tube
            angles = slot_angle(diameter, [slot.offset for slot in slots])
            self._curvature = Curvature(slots, angles, orders, exponent, radius)
            slots = [replace(slot, offset=float(angle) * radius) for slot, angle in zip(slots, angles)]
        self._size, self._sides = len(slots) * len(orders), []
        for face in ("front", "back"):
            there = [i for i, slot in enumerate(slots) if slot.face == face]
            if there:
                rows = (np.array(there)[:, None] * len(orders) + np.arange(len(orders))).ravel()
                self._sides.append(
                    (
                        rows,
                        HalfSpaceSide(
                            [slots[i] for i in there],
                            orders,
                            exponent,
                            superstrate=superstrate if face == "front" else None,
                        ),
                    )
                )

    def admittance(self, k: float, lossless: bool = False) -> np.ndarray:
        """Return the matrix of all slots in siemens, shape (N P, N P), slot-major; `lossless`: see `HalfSpaceSide`."""
        matrix = np.zeros((self._size, self._size), dtype=complex)
        for rows, side in self._sides:
            matrix[np.ix_(rows, rows)] = side.admittance(k, lossless)
        return matrix if self._curvature is None else matrix + self._curvature.admittance(k)
