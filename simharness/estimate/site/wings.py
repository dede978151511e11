"""What wings do to the pattern across the antenna and to its match, against the bare guide, in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0
from simharness.em.pattern.aperture import Aperture
from simharness.em.pattern.around import Null, nulls
from simharness.em.pattern.levels import front_to_back, half_power_beamwidth, peak
from simharness.estimate.site.mast import depth, towards
from simharness.estimate.site.outlines import antenna_alone, power_across
from simharness.estimate.site.pair import reflection_change
from simharness.numerics.decibels import decibels
from simharness.records import Record

LONG = 4.0
"""Length in wavelengths from which on the estimate holds wings that are bent forward: their trough guides
waves to its ends, which the estimate leaves out."""
_NULLS_WITHIN = 120.0
"""Deg from the front; behind, there is little to lose."""
_SAME_DEG = 3.0
"""Directions of the strongest level that count as straight ahead."""


@dataclass(frozen=True)
class Across:
    """The pattern across in figures: half-power beamwidth (rad, nan: none), front to back (dB), direction of
    the strongest level (rad) and how much weaker it is straight ahead (dB)."""

    beamwidth: float
    front_to_back: float
    strongest: float
    ahead_db: float


@dataclass(frozen=True)
class WingEffect:
    """With the wings, without them; the change of the gain straight ahead (dB); the deepest null within
    `_NULLS_WITHIN` of the front; |change of S11| at the design frequency."""

    here: Across
    bare: Across
    gain_db: float
    null: Null | None
    reflection: float


def across_of(angle: NDArray, power: NDArray) -> Across:
    """Figures of a cut across; rad from the front over a full turn, linear power."""
    top = peak(angle, power)
    return Across(
        float(half_power_beamwidth(angle, power)),
        float(front_to_back(angle, power)),
        float(top.angle),
        float(decibels(top.power / np.interp(0.0, angle, power))),
    )


def cut_across(record: Record, aperture: Aperture) -> tuple[NDArray, NDArray]:
    """Directions (n,), rad from the front over a full turn, and power (n,) over its mean around."""
    angle = np.radians(np.arange(-180, 180.5, 0.5))
    return angle, power_across(record, aperture, angle)


def wing_effect(record: Record, aperture: Aperture, radiated: float) -> WingEffect:
    """What the wings of a record do.

    Parameters
    ----------
    record : Record
        With wings.
    aperture : Aperture
        Its slots with their voltages.
    radiated : float
        Power that the antenna radiates with 1 W available, W.
    """
    angle, here = cut_across(record, aperture)
    _, bare = cut_across(antenna_alone(record), aperture)
    front = angle.size // 2
    found = [null for null in nulls(angle, here) if abs(null.angle) <= np.radians(_NULLS_WITHIN)]
    return WingEffect(
        across_of(angle, here),
        across_of(angle, bare),
        float(decibels(here[front] / bare[front])),
        min(found, key=lambda null: null.level_db, default=None),
        reflection_change(record, aperture, radiated),
    )


def is_long(record: Record) -> bool:
    """Whether the antenna is as long as the estimate wants it for wings that are bent forward."""
    return record.guide.length >= LONG * C0 / record.band.centre


def wing_sentences(record: Record, effect: WingEffect) -> list[str]:
    """The effect for the person who bends the sheet."""
    wings = record.wings
    assert wings is not None
    here, bare = effect.here, effect.bare
    said = [
        f"the wings, {wings.width_mm:g} mm wide {_stand(wings.angle_deg)}, change the gain straight ahead by "
        f"{effect.gain_db:+.1f} dB; half power across is {_width(here)} instead of {_width(bare)}, front to "
        f"back {here.front_to_back:.0f} dB instead of {bare.front_to_back:.0f} dB, by the estimate, which "
        "takes the antenna as endless",
    ]
    if abs(np.degrees(here.strongest)) > _SAME_DEG:
        said.append(
            f"with them the antenna is strongest {towards(float(np.degrees(here.strongest)))}, and "
            f"{here.ahead_db:.1f} dB weaker straight ahead"
        )
    if effect.null is not None:
        said.append(
            f"across there is a null {depth(effect.null.level_db)}, "
            f"{towards(float(np.degrees(effect.null.angle)))}"
        )
    said.append(
        f"the estimate of the match is that without wings; they move S11 by about "
        f"{max(effect.reflection, 0.001):.1g} at the design frequency"
    )
    if wings.angle_deg > 0 and not is_long(record):
        said.append(
            "wings that are bent forward make a trough whose open ends the estimate leaves out: of an "
            f"antenna shorter than {LONG:g} wavelengths its levels to the sides and behind are a guess; "
            "solve the record"
        )
    return said


def _width(across: Across) -> str:
    return "not reached" if np.isnan(across.beamwidth) else f"{np.degrees(across.beamwidth):.0f} deg"


def _stand(angle: float) -> str:
    if angle == 0:
        return "in the plane of the slotted face"
    return f"bent {abs(angle):g} deg {'forward' if angle > 0 else 'back'}"
