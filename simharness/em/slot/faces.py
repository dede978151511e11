"""Slots seen from outside: a half space over each broad wall, or the space around a round tube.

Coupling of the half spaces around the edges of the tube is neglected, like all other effects of the finite
plane. Basis and sign conventions: see `simharness.em.slot.basis`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from simharness.em.guide.round import slot_angle
from simharness.em.slot.basis import SlotAperture
from simharness.em.slot.outside import HalfSpaceSide
from simharness.em.slot.round_guide import Curvature
from simharness.em.slot.superstrate import Superstrate


def with_opposite_slots(slots: Sequence[SlotAperture], opposite: int) -> tuple[SlotAperture, ...]:
    """Slots of the front wall, each followed by its opposite slot at the same z in the back wall.

    Parameters
    ----------
    slots : sequence of SlotAperture
    opposite : int
        Offset of the slot in the back wall over that in the front wall: 1 or -1; 0 for no slots in the back.
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
        Dielectric on the front wall, and what it says to lie on the back wall.
    tube : tuple of 2 floats or None
        Inner diameter and outer radius of a round tube, m; all slots then belong to the front.
    """

    def __init__(
        self,
        slots: Sequence[SlotAperture],
        orders: NDArray,
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
                            superstrate=superstrate
                            if face == "front" or superstrate is None
                            else superstrate.back,
                        ),
                    )
                )

    def admittance(self, k: float, lossless: bool = False) -> NDArray:
        """Matrix of all slots, S, shape (N P, N P), slot-major; k in 1/m.

        `lossless`: see `HalfSpaceSide.admittance`.
        """
        matrix = np.zeros((self._size, self._size), dtype=complex)
        for rows, side in self._sides:
            matrix[np.ix_(rows, rows)] = side.admittance(k, lossless)
        return matrix if self._curvature is None else matrix + self._curvature.admittance(k)
