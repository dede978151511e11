"""Received level against the orientation of the antenna: how much is pattern, how much polarization.

The far transmitter stays where it is, with linear polarization; the antenna under test is turned
about one of its own axes. Turned along or across the guide it shows a cut of its pattern; turned
about its beam it shows the square of a cosine, which is polarization alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.budget import antenna_middle, far_index, run_far_field
from simharness.constants import ETA0
from simharness.em.direction import field_towards, spherical_angles
from simharness.errors import InputError
from simharness.measured import Levels
from simharness.records import Record

TURNED = ("along", "across", "beam")
"""Ways to turn: tilt the beam towards the ends of the guide; turn it about the guide; turn the guide about its beam."""

LARGEST_SHIFT = {"along": np.radians(30), "across": np.radians(30), "beam": np.radians(90)}
"""Zero of the angle scale that is looked for on either side, rad: how badly one aims by eye; for the beam any."""

_ANGLE_STEP = np.radians(0.5)
_FLOORS_DB = np.arange(-60.0, -4.9, 1.0)
_LEAST_DB = -120.0


@dataclass(frozen=True)
class LevelCurve:
    """The prediction between the angles of a table, for a picture: nulls have their depth.

    Attributes
    ----------
    angle : (m,) array
        rad, as in the table, from its least to its largest in steps of half a degree at most.
    predicted, pattern, polarization : (m,) arrays
        As those of `Orientation`, to the same zero of dB.
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
        dB, `level_shift` taken off: comparable with `predicted`.
    predicted : (n,) array
        dB relative to the strongest direction of this turn, scattered power included.
    pattern, polarization : (n,) arrays
        Its two parts without scattered power, dB: power in both polarizations relative to the
        largest of the turn, and the share of it that the other antenna's polarization takes.
    angle_shift : float
        rad: the antenna points this much further than the table says.
    level_shift : float
        dB.
    floor : float
        Scattered power (walls, ground, the own hand, noise), dB relative to the strongest direction.
    residual : float
        Root mean square of what is left, dB.
    curve : LevelCurve
    """

    turned: str
    angle: NDArray
    measured: NDArray
    predicted: NDArray
    pattern: NDArray
    polarization: NDArray
    angle_shift: float
    level_shift: float
    floor: float
    residual: float
    curve: LevelCurve


def received_parts(
    results: Mapping[str, NDArray], record: Record, frequency: float, turned: str, angle: NDArray, tilt: float
) -> tuple[NDArray, NDArray]:
    """Radiated and received power of an antenna that is turned.

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
        rad: the other end seen from the antenna lies at this angle off broadside.
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
        Unknown way to turn, no far field, or none near this frequency.
    """
    if turned not in TURNED:
        raise InputError("turned", turned, f"must be one of {', '.join(TURNED)}")
    far = run_far_field(results)
    zero = np.zeros_like(angle)
    along, across = (angle if turned == which else zero for which in ("along", "across"))
    turn = tilt + (angle if turned == "beam" else zero)
    e_theta, e_phi = field_towards(far, far_index(far.frequency, frequency), *spherical_angles(along, across), antenna_middle(record))
    received = np.abs(-np.cos(turn) * e_phi + np.sin(turn) * e_theta) ** 2
    total = np.abs(e_theta) ** 2 + np.abs(e_phi) ** 2
    return total / (2 * ETA0), received / (2 * ETA0)


def orientation(
    levels: Levels, results: Mapping[str, NDArray], record: Record, turned: str, frequency: float, tilt: float = 0.0
) -> Orientation:
    """Lay readings over the prediction; zero of angle and of level and scattered power are fitted.

    Parameters are those of `received_parts`.

    Raises
    ------
    InputError
        As `received_parts`.
    """
    most = LARGEST_SHIFT[turned] if turned in LARGEST_SHIFT else 0.0
    shifts = np.arange(-most, most + 0.5 * _ANGLE_STEP, _ANGLE_STEP)
    whole = np.radians(np.arange(-180.0, 180.0))
    top = float(np.max(received_parts(results, record, frequency, turned, whole, tilt)[1]))
    angles = levels.angle + shifts[:, None]
    total, received = (
        part.reshape(angles.shape) for part in received_parts(results, record, frequency, turned, angles.ravel(), tilt)
    )
    floors = 10 ** (_FLOORS_DB / 10)
    curves = 10 * np.log10(received[:, None] / top + floors[:, None])
    excess = levels.level - curves
    offset = excess.mean(axis=2, keepdims=True)
    square = np.mean((excess - offset) ** 2, axis=2)
    best, scattered = np.unravel_index(np.argmin(square + _tie_break(shifts)[:, None]), square.shape)
    shift, share = float(offset[best, scattered, 0]), received[best] / total[best]
    low, high = levels.angle.min(), levels.angle.max()
    fine = np.union1d(levels.angle, np.linspace(low, high, 2 + int((high - low) / _ANGLE_STEP)))
    whole_fine, received_fine = received_parts(results, record, frequency, turned, fine + shifts[best], tilt)
    curve = LevelCurve(
        fine, _decibels(received_fine / top + floors[scattered]), _decibels(whole_fine / total.max()), _decibels(received_fine / whole_fine),
    )
    return Orientation(
        turned, levels.angle, levels.level - shift, curves[best, scattered], _decibels(total[best] / total.max()),
        _decibels(share), float(shifts[best]), shift, float(_FLOORS_DB[scattered]), float(np.sqrt(square[best, scattered])), curve,
    )


def _tie_break(shifts: NDArray) -> NDArray:
    """Of equal fits the one with the least turn is taken; far below any reading's error."""
    return 1e-9 * np.abs(shifts)


def _decibels(share: NDArray) -> NDArray:
    return 10 * np.log10(np.maximum(share, 10 ** (_LEAST_DB / 10)))


def orientation_sentences(found: Orientation) -> tuple[str, ...]:
    """What the readings say, the most telling first."""
    strong, weak = int(np.argmax(found.predicted)), int(np.argmin(found.predicted))
    change = found.measured[strong] - found.measured[weak]
    pattern = found.pattern[strong] - found.pattern[weak]
    turn = found.polarization[strong] - found.polarization[weak]
    here, there = (f"{round(float(np.degrees(found.angle[i])), 1):g} deg" for i in (strong, weak))
    said = [
        f"From {here} to {there} the level fell by {change:.1f} dB; predicted are {found.predicted[strong] - found.predicted[weak]:.1f} dB.",
        f"Of the predicted change, {_part(pattern)} come from the pattern and {_part(turn)} from polarization"
        + ("; what is scattered around you fills up the rest." if pattern + turn > change + 3 else "."),
    ]
    if found.turned == "beam":
        said.append("Turning the antenna about its beam changes polarization alone: the level follows the square of a cosine.")
    elif found.polarization[strong] < -3:
        said.append(f"The other end is turned against this antenna: {-found.polarization[strong]:.0f} dB are lost in every direction.")
    said.append(
        f"The readings lie {found.residual:.1f} dB from the prediction (root mean square) once the zero of the scale is moved by "
        f"{np.degrees(found.angle_shift):+.1f} deg and power scattered all around is taken as {-found.floor:.0f} dB below the strongest direction."
    )
    if found.residual > _LARGE_RESIDUAL_DB:
        said.append("That is much: reflections, a receiver that steps or saturates, or another axis of turning than said.")
    return tuple(said)


_LARGE_RESIDUAL_DB = 3.0
"""Readings of common receivers outdoors scatter by a few decibels (common practice, no source)."""


def _part(decibels: float) -> str:
    return f"{round(float(decibels), 1) + 0.0:.1f} dB" if abs(decibels) < 40 else "40 dB or more"
