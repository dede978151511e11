"""Received level against the orientation of the antenna: the parts of pattern and polarization.

The distant transmitter is fixed, with linear polarization; the antenna under test is rotated about
one of its own axes. Rotated along or across the guide it shows a cut of its pattern; rotated about its
beam it shows the square of a cosine, which is polarization alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import ETA0
from simharness.em.pattern.direction import UP, angles_in_tilted, field_towards, spherical_angles
from simharness.errors import InputError
from simharness.measurement.files import Levels
from simharness.numerics.decibels import decibels
from simharness.records import Record
from simharness.results.far_field import antenna_middle, far_index, run_far_field

TURNED = ("along", "across", "beam")
"""Rotations: the beam tilted towards the ends of the guide; about the guide; about the beam."""

LARGEST_SHIFT = {"along": np.radians(30), "across": np.radians(30), "beam": np.radians(90)}
"""Largest fitted error of the zero of the angle scale, rad: that of aiming by eye; about the beam any."""

_ANGLE_STEP = np.radians(0.5)
_FLOORS_DB = np.arange(-60.0, -4.9, 1.0)
_MIN_DB = -120.0


@dataclass(frozen=True)
class LevelCurve:
    """The prediction also between the measured angles, so that a picture shows the full depth of nulls.

    Attributes
    ----------
    angle : (m,) array
        rad, as in the table, from its least to its largest in steps of at most half a degree.
    predicted, pattern, polarization : (m,) arrays
        As those of `Orientation`, dB with the same reference.
    """

    angle: NDArray
    predicted: NDArray
    pattern: NDArray
    polarization: NDArray


@dataclass(frozen=True)
class Orientation:
    """Measured and predicted level against orientation.

    Attributes
    ----------
    turned : str
        One of `TURNED`.
    angle : (n,) array
        rad, as in the table.
    measured : (n,) array
        dB, `level_shift` subtracted: comparable with `predicted`.
    predicted : (n,) array
        dB relative to the strongest direction of this rotation, scattered power included.
    pattern, polarization, scattered : (n,) arrays
        The parts of `predicted`, dB: power in both polarizations; the share of it in the polarization of the
        other antenna, both relative to the strongest direction; and what scattered power adds to it.
    loss : float
        Polarization mismatch in the strongest direction, dB.
    angle_shift : float
        rad: the antenna points this much further than the table says.
    level_shift : float
        dB.
    floor : float
        Scattered power (walls, ground, the operator, noise), dB relative to the strongest direction.
    residual : float
        Root-mean-square difference, dB.
    curve : LevelCurve
    """

    turned: str
    angle: NDArray
    measured: NDArray
    predicted: NDArray
    pattern: NDArray
    polarization: NDArray
    scattered: NDArray
    loss: float
    angle_shift: float
    level_shift: float
    floor: float
    residual: float
    curve: LevelCurve


def received_parts(
    results: Mapping[str, NDArray], record: Record, frequency: float, turned: str, angle: NDArray, tilt: float
) -> tuple[NDArray, NDArray]:
    """Radiated and received power of an antenna that is rotated.

    Parameters
    ----------
    results : mapping
        Arrays of a run with far field.
    record : Record
    frequency : float
        Hz; the nearest stored far field is taken.
    turned : str
        One of `TURNED`.
    angle : (n,) array
        rad: direction of the other end off broadside, as seen from the antenna.
    tilt : float
        Polarization of the other end against that of the antenna (E across the guide), rad.

    Returns
    -------
    total, received : (n,) arrays
        Radiation intensity in both polarizations and in that of the other end, W/sr.

    Notes
    -----
    With u the polarization of the other end, |E . u|^2 of |E|^2 is received (IEEE Std 145,
    polarization efficiency; memory). In both principal cuts u = -cos(tilt) phi + sin(tilt) theta,
    up to a sign, stays fixed in space while the antenna turns.

    Raises
    ------
    InputError
        Unknown rotation, no far field, or none near this frequency.
    """
    if turned not in TURNED:
        raise InputError("turned", turned, f"must be one of {', '.join(TURNED)}")
    far = run_far_field(results)
    zero = np.zeros_like(angle)
    along, across = (angle if turned == which else zero for which in ("along", "across"))
    turn = tilt + (angle if turned == "beam" else zero)
    mounting = record.mounting
    towards = angles_in_tilted(*spherical_angles(along, across), UP[mounting.axis], mounting.tilt)
    e_theta, e_phi = field_towards(far, far_index(far.frequency, frequency), *towards, antenna_middle(record))
    received = np.abs(-np.cos(turn) * e_phi + np.sin(turn) * e_theta) ** 2
    total = np.abs(e_theta) ** 2 + np.abs(e_phi) ** 2
    return total / (2 * ETA0), received / (2 * ETA0)


def level_comparison(
    levels: Levels,
    results: Mapping[str, NDArray],
    record: Record,
    turned: str,
    frequency: float,
    tilt: float = 0.0,
) -> Orientation:
    """Compare readings with the prediction; zero of angle, zero of level and scattered power are fitted.

    Parameters are those of `received_parts`.

    Raises
    ------
    InputError
        As `received_parts`.
    """
    most = LARGEST_SHIFT.get(turned, 0.0)
    shifts = np.arange(-most, most + 0.5 * _ANGLE_STEP, _ANGLE_STEP)
    whole = np.radians(np.arange(-180.0, 180.0))
    all_round = received_parts(results, record, frequency, turned, whole, tilt)
    strongest = int(np.argmax(all_round[1]))
    intensity, top = (float(part[strongest]) for part in all_round)
    angles = levels.angle + shifts[:, None]
    total, received = (
        part.reshape(angles.shape)
        for part in received_parts(results, record, frequency, turned, angles.ravel(), tilt)
    )
    floors = 10 ** (_FLOORS_DB / 10)
    curves = decibels(received[:, None] / top + floors[:, None])
    excess = levels.level - curves
    offset = excess.mean(axis=2, keepdims=True)
    square = np.mean((excess - offset) ** 2, axis=2)
    best, scattered = np.unravel_index(np.argmin(square + _tie_break(shifts)[:, None]), square.shape)
    shift, predicted = float(offset[best, scattered, 0]), curves[best, scattered]

    def split(whole: NDArray, arriving: NDArray) -> tuple[NDArray, NDArray]:
        return decibels(whole / intensity, _MIN_DB), decibels(arriving / whole * (intensity / top), _MIN_DB)

    pattern, polarization = split(total[best], received[best])
    low, high = levels.angle.min(), levels.angle.max()
    fine = np.union1d(levels.angle, np.linspace(low, high, 2 + int((high - low) / _ANGLE_STEP)))
    between = received_parts(results, record, frequency, turned, fine + shifts[best], tilt)
    curve = LevelCurve(fine, decibels(between[1] / top + floors[scattered], _MIN_DB), *split(*between))
    return Orientation(
        turned,
        levels.angle,
        levels.level - shift,
        predicted,
        pattern,
        polarization,
        predicted - pattern - polarization,
        decibels(intensity / top),
        float(shifts[best]),
        shift,
        float(_FLOORS_DB[scattered]),
        float(np.sqrt(square[best, scattered])),
        curve,
    )


def _tie_break(shifts: NDArray) -> NDArray:
    """Penalty by which the smallest shift wins among equal fits; far below the error of any reading."""
    return 1e-9 * np.abs(shifts)
