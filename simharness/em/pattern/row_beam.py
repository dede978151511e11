"""Beam of a row of longitudinal slots with given voltages, before any of them is designed.

The cut along the guide is that of slots in phase on an infinite plane. The directivity
takes the pattern as the product of that cut and of the cut across the tube at
broadside: true for a narrow beam, and within 0.3 dB of the integral over the sphere for
four slots or more (`tests/unit/test_row_beam.py`).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, TWO_PI
from simharness.em.pattern.aperture import Tube, slot_spectrum
from simharness.em.pattern.levels import half_power_beamwidth
from simharness.errors import InputError

MAX_SLOTS = 40
"""Longest row that is considered, as many slots as a design record may have."""

_HALF_WAVE = 0.48
"""Length of a slot in free-space wavelengths, where only its pattern matters."""


def row_field(voltages: NDArray, place: NDArray, frequency: float, angle: NDArray) -> NDArray:
    """Far field in the plane along the guide, complex, in arbitrary unit.

    Parameters
    ----------
    voltages, place : (n,) arrays
        Of the slots, any unit; of their centres along the guide, m.
    frequency : float
        Hz.
    angle : (k,) array
        rad from broadside, -pi/2 to pi/2.
    """
    axial = TWO_PI * frequency / C0 * np.sin(angle)
    row = np.exp(1j * np.outer(axial, place)) @ voltages
    return np.cos(angle) * slot_spectrum(axial, _HALF_WAVE * C0 / frequency) * row


def row_cut(voltages: NDArray, place: NDArray, frequency: float) -> tuple[NDArray, NDArray]:
    """Angles from broadside (rad) and power of the cut along the guide, in front; see `row_field`."""
    angle = np.linspace(-np.pi / 2, np.pi / 2, 4001)
    return angle, np.abs(row_field(voltages, place, frequency, angle)) ** 2


def row_beamwidth(voltages: NDArray, place: NDArray, frequency: float) -> float:
    """Half-power beamwidth along the guide, rad; see `row_field`.

    Examples
    --------
    The half-wave dipole has 78 degrees; the slot here is 0.48 wavelengths long.

    >>> round(float(np.degrees(row_beamwidth(np.ones(1), np.zeros(1), 3e9))))
    79
    """
    return half_power_beamwidth(*row_cut(voltages, place, frequency))


def row_directivity(
    voltages: NDArray, place: NDArray, frequency: float, tube: Tube, opposite: int = 0
) -> float:
    """Directivity in the direction of the beam along the guide, in front, linear.

    See `row_field`, and for `opposite` `simharness.em.slot.faces.with_opposite_slots`.
    """
    sine, weight = np.polynomial.legendre.leggauss(400)
    angle = np.arcsin(sine)
    around = np.abs(row_field(voltages, place, frequency, angle)) ** 2
    along = 2 * row_cut(voltages, place, frequency)[1].max() / (weight @ around)
    across = _around(tube, frequency, opposite)
    return float(along * across[0] / across.mean())


def _around(tube: Tube, frequency: float, opposite: int) -> NDArray:
    """Power of slots on the centre line at 180 angles around the tube, from broadside on."""
    phi, k = TWO_PI * np.arange(180) / 180 + np.pi / 2, TWO_PI * frequency / C0
    behind = np.array([False, True]) if opposite else np.array([False])
    voltages = np.array([1.0, opposite])[: behind.size]
    return np.abs(voltages @ tube.responses(np.array([k]), np.zeros(behind.size), phi, behind)[0]) ** 2


def minimum_slots(enough: Callable[[int], bool], what: str, value: object) -> int:
    """Smallest number of slots that is enough.

    Parameters
    ----------
    enough : callable
        Whether a number of slots will do; once true it stays true for more slots.
    what, value : str, object
        Name and value of the requirement, for the message.

    Raises
    ------
    InputError
        `MAX_SLOTS` are not enough.
    """
    low, high = 0, MAX_SLOTS
    if not enough(high):
        raise InputError(what, value, f"more than {MAX_SLOTS} slots would be needed")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high
