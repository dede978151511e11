"""An antenna whose front looks below the horizon: where its beam points, and what goes to the horizon."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from simharness.em.pattern.levels import peak
from simharness.figures import Figure, number
from simharness.numerics.decibels import decibels
from simharness.records import Record

BEAM, HORIZON = "beam_elevation", "horizon_gain"
Curve = tuple[NDArray, NDArray]
_FRONT = np.pi / 2
_SAME_DB = 0.1
"""Difference of gains that is not worth a word, dB."""


def tilt_figures(
    record: Record,
    along: Curve,
    across: Curve,
    gain: Figure,
    basis: str,
    beam_error: float | None = None,
) -> dict[str, Figure]:
    """Elevation of the beam and gain towards the horizon; none for an antenna that is not tilted.

    Parameters
    ----------
    record : Record
    along, across : pair of (n,) arrays
        Cuts: rad from broadside, towards the far end and towards +x; linear power, both on one scale.
    gain : Figure
        Realized gain in the strongest direction, dBi.
    basis : str
        Where the cuts come from.
    beam_error : float or None
        Error bar of the direction, deg.

    Returns
    -------
    dict
        'beam_elevation' (deg, positive above the horizon) and 'horizon_gain' (dBi, straight ahead).
    """
    tilt = record.mounting.tilt
    if not tilt:
        return {}
    angle, power = along if record.mounting.axis == "vertical" else across
    top = peak(angle, power, _FRONT)
    level = decibels(float(np.interp(tilt, angle, power)) / max(along[1].max(), across[1].max()))
    # the slope of the beam turns an error of its direction into one of the level
    slope = abs(float(np.interp(tilt, angle, np.gradient(10 * np.log10(np.maximum(power, 1e-30)), angle))))
    error = None if gain.error is None else float(np.hypot(gain.error, slope * np.radians(beam_error or 0.0)))
    return {
        BEAM: Figure(
            float(np.degrees(top.angle - tilt)), "deg", f"above the horizon, as mounted; {basis}", beam_error
        ),
        HORIZON: Figure(
            gain.value + level,
            "dBi",
            f"realized gain straight ahead at the horizon, as mounted; {basis}",
            error,
        ),
    }


def tilt_sentences(record: Record, figures: Mapping[str, Figure]) -> list[str]:
    """Where the beam points once the antenna hangs as the record says."""
    if BEAM not in figures:
        return []
    mounting, beam, horizon = record.mounting, figures[BEAM], figures[HORIZON]
    lost = figures["realized_gain"].value - horizon.value
    size = number(Figure(abs(beam.value), beam.unit, beam.basis, beam.error))
    there = "at" if abs(beam.value) < 0.05 else f"{size} {'above' if beam.value > 0 else 'below'}"
    less = f", {lost:.1f} dB less than in the strongest direction" if lost > _SAME_DB else ""
    looks = "down" if mounting.tilt_deg > 0 else "up"
    end = "with the near end below" if mounting.axis == "vertical" else "with +x on top"
    return [
        f"Mounted {end} and tilted {looks} by {abs(mounting.tilt_deg):g} deg, the beam points {there} the "
        f"horizon; straight ahead at the horizon the gain is {number(horizon)}{less}."
    ]
