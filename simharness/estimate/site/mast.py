"""What a pole or a wall does to the pattern across the antenna, with it against without it, in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, MM
from simharness.em.pattern.aperture import Aperture
from simharness.em.pattern.around import Null, nulls
from simharness.estimate.site.figures import ACROSS_ERROR
from simharness.estimate.site.outlines import antenna_alone, power_across
from simharness.estimate.site.pair import reflection_change
from simharness.numerics.decibels import decibels
from simharness.records import Record

SECTOR = 60.0
"""Half width of the sector in front in which changes are told, deg."""
LITTLE_DB = 1.0
"""Change of a level that counts as little, dB."""
_NULLS_WITHIN = 120.0
"""Deg from the front; behind, there is little to lose."""
_NEAREST, _FARTHEST = 0.1, 20.0
"""Distances that are tried, in wavelengths."""
_TRIED = 14
_PHASES = (0.0, 0.25)
"""Shifts of each of them, in wavelengths: what comes back in phase and against it."""


@dataclass(frozen=True)
class MastEffect:
    """With the pole or wall against without it.

    Attributes
    ----------
    ahead_db : float
        Change of the gain straight ahead, dB.
    most_db, most_deg : float
        Largest change within `SECTOR` of the front, dB, and where, deg towards +x.
    null : Null or None
        Deepest null that was not there without it, within `_NULLS_WITHIN` of the front.
    reflection : float
        |change of S11| at the design frequency.
    little_mm : float or None
        Distance beyond which nothing within `SECTOR` changes by `LITTLE_DB`; 0: it never does; None: it does
        as far as was tried.
    """

    ahead_db: float
    most_db: float
    most_deg: float
    null: Null | None
    reflection: float
    little_mm: float | None


def mast_effect(record: Record, aperture: Aperture, radiated: float) -> MastEffect:
    """What the pole or wall of a record does.

    Parameters
    ----------
    record : Record
        With a mast.
    aperture : Aperture
        Its slots with their voltages.
    radiated : float
        Power that the antenna radiates with 1 W available, W.
    """
    angle = np.radians(np.arange(-180, 180.5, 0.5))
    alone = power_across(antenna_alone(record), aperture, angle)
    here = power_across(record, aperture, angle)
    change = _change(angle, here, alone)
    front = np.abs(angle) <= np.radians(SECTOR)
    most = int(np.argmax(np.where(front, np.abs(change), 0.0)))
    before = {_sector(null) for null in nulls(angle, alone)}
    found = [
        null
        for null in nulls(angle, here)
        if _sector(null) not in before and abs(null.angle) <= np.radians(_NULLS_WITHIN)
    ]
    return MastEffect(
        float(change[angle.size // 2]),
        float(change[most]),
        float(np.degrees(angle[most])),
        min(found, key=lambda null: null.level_db, default=None),
        reflection_change(record, aperture, radiated),
        _little(record, aperture),
    )


def mast_sentences(record: Record, effect: MastEffect) -> list[str]:
    """The effect for the person who mounts the antenna."""
    mast = record.mast
    assert mast is not None
    side = _side(mast.direction_deg)
    size = f" of {mast.diameter_mm:g} mm" if mast.diameter_mm is not None else ""
    said = [
        f"the {mast.noun}{size}, {mast.distance_mm:g} mm {side}, changes the gain straight ahead "
        f"by {effect.ahead_db:+.1f} dB, and by up to {effect.most_db:+.1f} dB ({towards(effect.most_deg)}) "
        f"within {SECTOR:g} deg of the front, by the estimate",
        f"that takes the antenna and {mast.noun} as endless and leaves out what sticks out behind, connector "
        f"and cable: its levels are trusted to about {ACROSS_ERROR:g} dB, low ones behind to less; solve the "
        "record where a level matters",
    ]
    if record.mounting.tilt_deg:
        said.append(
            f"the {mast.noun} is taken as parallel to the antenna, tilted with it: with tilt_deg "
            f"{record.mounting.tilt_deg:g} an upright one comes nearer at one end"
        )
    if effect.null is not None:
        angle = float(np.degrees(effect.null.angle))
        said.append(f"it makes a null {depth(effect.null.level_db)}, {towards(angle)}")
    said.append(f"it moves S11 by about {max(effect.reflection, 0.001):.1g} at the design frequency")
    little = effect.little_mm
    if little is None:
        said.append(
            f"however far the {mast.noun} is (up to {_FARTHEST:g} wavelengths were tried), it changes the "
            f"level within {SECTOR:g} deg of the front by more than {LITTLE_DB:g} dB"
        )
    elif little == 0:
        said.append(
            f"at no distance that was tried would the {mast.noun} change the level within {SECTOR:g} deg of "
            f"the front by {LITTLE_DB:g} dB"
        )
    else:
        said.append(
            f"farther than about {float(f'{little:.2g}'):g} mm the {mast.noun} matters little: less than "
            f"{LITTLE_DB:g} dB within {SECTOR:g} deg of the front"
        )
    return said


def _sector(null: Null) -> int:
    return round(float(np.degrees(null.angle)) / 15)


def depth(level_db: float) -> str:
    """How deep a null is, in words."""
    return "more than 30 dB deep" if level_db < -30 else f"{-level_db:.0f} dB deep"


def towards(angle: float) -> str:
    """A direction across, deg from the front towards +x, in words."""
    if abs(angle) < 0.5:
        return "straight ahead"
    if abs(angle) > 179.5:
        return "straight behind"
    return f"{abs(angle):.0f} deg from the front towards {'+x' if angle > 0 else '-x'}"


def _side(direction: float) -> str:
    if abs(direction) == 180:
        return "behind the antenna"
    if abs(direction) == 90:
        return f"beside the antenna towards {'+x' if direction > 0 else '-x'}"
    if direction == 0:
        return "before the antenna"
    return (
        f"from the antenna, {abs(direction):g} deg from its front towards {'+x' if direction > 0 else '-x'}"
    )


def _change(angle: NDArray, here: NDArray, alone: NDArray) -> NDArray:
    return decibels(here / here.max(), -80.0) - decibels(alone / here.max(), -80.0)


def _little(record: Record, aperture: Aperture) -> float | None:
    """See `MastEffect.little_mm`."""
    assert record.mast is not None
    wave = C0 / record.band.centre
    angle = np.radians(np.arange(-SECTOR, SECTOR + 1, 4.0))
    whole = np.radians(np.arange(-180, 181, 2.0))
    front = np.isin(np.round(np.degrees(whole)), np.round(np.degrees(angle)))
    alone = power_across(antenna_alone(record), aperture, whole)
    last = 0.0
    for distance in np.geomspace(_NEAREST, _FARTHEST, _TRIED):
        for phase in _PHASES:
            there = (distance + phase) * wave / MM
            moved = record.mast.model_copy(update={"distance_mm": there})
            here = power_across(record.model_copy(update={"mast": moved}), aperture, whole)
            if np.abs(_change(whole, here, alone)[front]).max() >= LITTLE_DB:
                last = there
    return None if last > 0.9 * _FARTHEST * wave / MM else last
