"""Both cuts of the pattern from the voltages of the slots, in a millisecond.

The response of the tube is that to the slots as drawn; their places along the guide, lengths and voltages
enter without approximation.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, TWO_PI
from simharness.em.pattern.aperture import Aperture, slot_weights
from simharness.estimate import model_inputs
from simharness.numerics.decibels import decibels
from simharness.records import Record

ANGLE = np.radians(np.arange(-360, 361) / 2.0)
"""Directions of the cuts, rad from broadside."""
FLOOR_DB = -60.0


class SlotCuts:
    """The cuts of antennas near one.

    Parameters
    ----------
    record : Record
        With slots.
    """

    def __init__(self, record: Record):
        tube, drawn = model_inputs.tube(record), model_inputs.aperture(record)
        self._frequency = record.band.centre
        k = TWO_PI * self._frequency / C0
        self._theta = np.arccos(np.clip(np.sin(ANGLE), -1, 1))
        sides = np.array([0.5, 1.5]) * math.pi
        both = tube.responses(k * np.sin(self._theta), drawn.offsets, sides, drawn.behind)
        self._along = np.where(np.cos(ANGLE) >= 0, both[:, :, 0].T, both[:, :, 1].T)
        self._broadside = np.array([math.pi / 2])
        quarter = tube.responses(np.array([k]), drawn.offsets, math.pi / 2 - ANGLE, drawn.behind)
        self._across = quarter[0]

    def levels(self, aperture: Aperture) -> tuple[NDArray, NDArray]:
        """Cut along and cut across at `ANGLE`, dB below the larger of their peaks.

        Parameters
        ----------
        aperture : Aperture
            The slots in the order of the antenna as drawn.
        """
        along = (slot_weights(aperture, self._frequency, self._theta) * self._along).sum(axis=0)
        across = slot_weights(aperture, self._frequency, self._broadside)[:, 0] @ self._across
        return relative_levels(np.abs(along) ** 2, np.abs(across) ** 2)


def relative_levels(along: NDArray, across: NDArray) -> tuple[NDArray, NDArray]:
    """Two cuts in dB below the larger of their peaks, not below `FLOOR_DB`."""
    top = max(along.max(), across.max())
    return decibels(along / top, FLOOR_DB), decibels(across / top, FLOOR_DB)
