"""Received level against the orientation of the antenna: how much is pattern, how much polarization.

The far transmitter stays where it is, with linear polarization; the antenna under test is turned
about one of its own axes. Turned along or across the guide it shows a cut of its pattern; turned
about its beam it shows the square of a cosine, which is polarization alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import ETA0
from simharness.em.pattern.direction import field_towards, spherical_angles
from simharness.errors import InputError
from simharness.measurement.files import Levels
from simharness.records import Record
from simharness.results.far_field import antenna_middle, far_index, run_far_field

TURNED = ("along", "across", "beam")
"""Ways to turn: tilt the beam towards the ends of the guide; turn it about the guide; turn the guide about its beam."""

LARGEST_SHIFT = {"along": np.radians(30), "across": np.radians(30), "beam": np.radians(90)}
"""Zero of the angle scale that is looked for on either side, rad: how badly one aims by eye; for the beam any."""

_ANGLE_STEP = np.radians(0.5)
_FLOORS_DB = np.arange(-60.0, -4.9, 1.0)
_MIN_DB = -120.0


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
    pattern, polarization, scattered : (n,) arrays
        What `predicted` is the sum of, dB: power in both polarizations, and the share of it that the other antenna's
        polarization takes, both relative to the strongest direction; and what scattered power adds to what then arrives.
    loss : float
        Polarization mismatch in the strongest direction, dB.
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
    e_theta, e_phi = field_towards(
        far, far_index(far.frequency, frequency), *spherical_angles(along, across), antenna_middle(record)
    )
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
    all_round = received_parts(results, record, frequency, turned, whole, tilt)
    strongest = int(np.argmax(all_round[1]))
    intensity, top = (float(part[strongest]) for part in all_round)
    angles = levels.angle + shifts[:, None]
    total, received = (
        part.reshape(angles.shape)
        for part in received_parts(results, record, frequency, turned, angles.ravel(), tilt)
    )
    floors = 10 ** (_FLOORS_DB / 10)
    curves = 10 * np.log10(received[:, None] / top + floors[:, None])
    excess = levels.level - curves
    offset = excess.mean(axis=2, keepdims=True)
    square = np.mean((excess - offset) ** 2, axis=2)
    best, scattered = np.unravel_index(np.argmin(square + _tie_break(shifts)[:, None]), square.shape)
    shift, predicted = float(offset[best, scattered, 0]), curves[best, scattered]

    def split(whole: NDArray, arriving: NDArray) -> tuple[NDArray, NDArray]:
        return _decibels(whole / intensity), _decibels(arriving / whole * (intensity / top))

    pattern, polarization = split(total[best], received[best])
    low, high = levels.angle.min(), levels.angle.max()
    fine = np.union1d(levels.angle, np.linspace(low, high, 2 + int((high - low) / _ANGLE_STEP)))
    between = received_parts(results, record, frequency, turned, fine + shifts[best], tilt)
    curve = LevelCurve(fine, _decibels(between[1] / top + floors[scattered]), *split(*between))
    return Orientation(
        turned,
        levels.angle,
        levels.level - shift,
        predicted,
        pattern,
        polarization,
        predicted - pattern - polarization,
        10 * float(np.log10(intensity / top)),
        float(shifts[best]),
        shift,
        float(_FLOORS_DB[scattered]),
        float(np.sqrt(square[best, scattered])),
        curve,
    )


def _tie_break(shifts: NDArray) -> NDArray:
    """Of equal fits the one with the least turn is taken; far below any reading's error."""
    return 1e-9 * np.abs(shifts)


def _decibels(share: NDArray) -> NDArray:
    return 10 * np.log10(np.maximum(share, 10 ** (_MIN_DB / 10)))


def orientation_sentences(found: Orientation) -> tuple[str, ...]:
    """What the readings say, the most telling first."""
    strong, weak = int(np.argmax(found.predicted)), int(np.argmin(found.predicted))
    here, there = (f"{round(float(np.degrees(found.angle[i])), 1):g} deg" for i in (strong, weak))
    change = found.measured[strong] - found.measured[weak]
    predicted = found.predicted[strong] - found.predicted[weak]
    parts = [part[strong] - part[weak] for part in (found.pattern, found.polarization, found.scattered)]
    said = [
        f"From {here} to {there} the level fell by {change:.1f} dB; predicted are {predicted:.1f} dB.",
        _parts_sentence(predicted, parts),
    ]
    if found.turned == "beam":
        said.append(
            "Turning the antenna about its beam changes polarization alone: the level follows the square of a cosine."
        )
    elif found.loss > _WORTH_A_WORD_DB:
        said.append(
            f"The other end is turned against this antenna: {found.loss:.0f} dB are lost in every direction."
        )
    said.append(
        f"The readings lie {found.residual:.1f} dB from the prediction (root mean square) once the zero of the scale is moved by "
        f"{np.degrees(found.angle_shift):+.1f} deg and power scattered all around is taken as {-found.floor:.0f} dB below the strongest direction."
    )
    if found.residual > _LARGE_RESIDUAL_DB:
        said.append(
            "That is much: reflections, a receiver that steps or saturates, or another axis of turning than said."
        )
    return tuple(said)


_LARGE_RESIDUAL_DB = 3.0
"""Readings of common receivers outdoors scatter by a few decibels (common practice, no source)."""


_WORTH_A_WORD_DB = 3.0
_NOTHING_DB = 40.0
"""A choice: what arrives so far below the strongest direction counts as nothing."""


def rounded_parts(whole: float, parts: Sequence[float]) -> tuple[float, ...]:
    """Parts in tenths that add up to the whole in tenths: what rounding misses goes to those that it moved most.

    Examples
    --------
    >>> rounded_parts(-5.08, (-3.04, -2.04, 0.0))
    (-3.1, -2.0, 0.0)
    """
    tenths = [round(10 * part) for part in parts]
    missing = round(10 * whole) - sum(tenths)
    way = int(np.sign(missing))
    order = sorted(range(len(parts)), key=lambda i: way * (tenths[i] - 10 * parts[i]))
    for i in order[: abs(missing)]:
        tenths[i] += way
    return tuple(tenth / 10 for tenth in tenths)


def _parts_sentence(whole: float, parts: Sequence[float]) -> str:
    """What the predicted change is made of; what scattered power fills up counts against it."""
    if max(parts[0], parts[1]) >= _NOTHING_DB:
        named = [
            f"{'40 dB or more' if part >= _NOTHING_DB else f'{part + 0.0:.1f} dB'} come from {name}"
            for name, part in (("the pattern", parts[0]), ("polarization", parts[1]))
        ]
        return f"By themselves {named[0]} and {named[1]}; power scattered all around leaves {whole:.1f} dB of it."
    pattern, polarization, scattered = (part + 0.0 for part in rounded_parts(whole, parts))
    filled = f", less {-scattered:.1f} dB that power scattered all around fills up" if scattered < 0 else ""
    return f"Of the predicted change, {pattern:.1f} dB come from the pattern and {polarization:.1f} dB from polarization{filled}."


def level_rows(found: Orientation) -> list[tuple[str, ...]]:
    """Table of angle, measured, predicted and the three parts that add up to it, in tenths of a decibel."""
    rows = []
    for angle, measured, predicted, *parts in zip(
        np.degrees(found.angle),
        found.measured,
        found.predicted,
        found.pattern,
        found.polarization,
        found.scattered,
    ):
        told = [f"{part + 0.0:.1f}" for part in rounded_parts(predicted, parts)]
        if min(parts[:2]) <= -_NOTHING_DB:  # nothing arrives by itself: the rest is scattered
            told = [
                *(
                    f"below -{_NOTHING_DB:g}" if part <= -_NOTHING_DB else f"{round(part, 1) + 0.0:.1f}"
                    for part in parts[:2]
                ),
                "the rest",
            ]
        rows.append(
            (
                f"{round(float(angle), 1):g} deg",
                *(f"{round(float(value), 1) + 0.0:.1f}" for value in (measured, predicted)),
                *told,
            )
        )
    return rows
