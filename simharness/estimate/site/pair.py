"""How much of one antenna's power comes out at the feed of the other, and what a pole does to the match."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simharness.constants import TWO_PI
from simharness.em.pattern.aperture import Aperture, radiated_field
from simharness.em.scatter.coupling import (
    coupled_wave,
    mutual_admittances,
    radiated_power,
)
from simharness.estimate.site.outlines import antenna_alone, second_points, tube_of
from simharness.records import Record

_POLAR, _AZIMUTHS = 60, 48


def watt_voltages(record: Record, aperture: Aperture, radiated: float) -> NDArray:
    """Voltages (n,) of the slots, V peak, at which the antenna alone radiates so many W."""
    cosine, weights = np.polynomial.legendre.leggauss(_POLAR)
    phi = TWO_PI * np.arange(_AZIMUTHS) / _AZIMUTHS
    tube, frequency = tube_of(antenna_alone(record)), record.band.centre
    field = radiated_field(tube, aperture, frequency, np.arccos(cosine), phi)
    mean = float(weights @ (np.abs(field) ** 2).mean(axis=1)) / 2
    return aperture.voltages * np.sqrt(radiated / radiated_power(mean, frequency))


def coupling_of(record: Record, aperture: Aperture, radiated: float) -> complex | None:
    """`pair_coupling`; None of an antenna by itself, and of one above another, whose coupling goes round the
    ends."""
    if record.pair is None or record.pair.place == "above":
        return None
    return pair_coupling(record, aperture, radiated)


def pair_coupling(record: Record, aperture: Aperture, radiated: float) -> complex:
    """Wave out of the second feed over that into the first, both matched, to first order.

    Parameters
    ----------
    record : Record
        With a pair beside each other or back to back.
    aperture : Aperture
        The slots of one antenna with their voltages.
    radiated : float
        Power that one alone radiates with 1 W available, W.

    Returns
    -------
    complex
        Its phase is referred to that of the slots.
    """
    voltages = watt_voltages(record, aperture, radiated)
    return coupled_wave(_side_by_side(record, aperture), voltages, voltages) / _turn(voltages)


def reflection_change(record: Record, aperture: Aperture, radiated: float) -> float:
    """|change of S11| that a pole, a wall or wings make at the design frequency, to first order."""
    bare = antenna_alone(record)
    apart = 2 * record.mast.distance if record.mast is not None else _wing_apart(record)
    alone, among = tube_of(bare), tube_of(record)
    points = alone.slots

    def change(wavenumber: complex) -> NDArray:
        return among.bodies.solved(wavenumber).from_points(points, points) - alone.bodies.solved(
            wavenumber
        ).from_points(points, points)

    found = mutual_admittances(change, aperture, aperture, record.band.centre, apart)
    voltages = watt_voltages(record, aperture, radiated)
    return abs(coupled_wave(found, voltages, voltages))


def _wing_apart(record: Record) -> float:
    """From a slot to the nearer wing and back, m."""
    edge = record.guide.width / 2 + record.guide.thickness("side")
    return 2 * (edge - max(abs(slot.offset) for slot in record.slots))


def _turn(voltages: NDArray) -> complex:
    """Twice the phase that slots have in common, as a factor."""
    total = complex(np.sum(voltages**2))
    return total / abs(total)


def _side_by_side(record: Record, aperture: Aperture) -> NDArray:
    """Admittances of the slots of two antennas beside each other or back to back."""
    tube = tube_of(record)
    first, second = tube.slots, second_points(record, tube.slots)

    def greens(wavenumber: complex) -> NDArray:
        solved = tube.bodies.solved(wavenumber)
        return (solved.from_points(second, first) + solved.from_points(first, second).T) / 2

    apart = float(np.hypot(*np.moveaxis(first[:, None] - second[None], 2, 0)).min())
    return mutual_admittances(greens, aperture, aperture, record.band.centre, apart)
