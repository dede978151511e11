"""Where the beam points along the guide: a figure of estimate and full wave, and a sentence for the person
who mounts it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simharness.em.pattern.cuts import cut_along
from simharness.em.pattern.far_field import FarField
from simharness.em.pattern.levels import half_power_beamwidth, peak
from simharness.figures import Figure, number
from simharness.numerics.decibels import decibels

NAME = "beam_direction"
_FRONT = np.pi / 2
_MIN_TURN = 0.2
"""Least turn of the beam over the band that is named, deg."""


class Lean(NamedTuple):
    """Direction of the beam in rad, positive to the far end, and the loss of gain at broadside, dB."""

    angle: float
    loss_db: float


def lean(angle: NDArray, power: NDArray) -> Lean:
    """Beam in front of the cut along the guide.

    Parameters
    ----------
    angle, power : (n,) arrays
        The cut, rad from broadside towards the far end, and linear power.

    Examples
    --------
    >>> x = np.radians(np.arange(-180, 181, 1.0))
    >>> found = lean(x, np.maximum(np.cos(x - np.radians(5)), 0) ** 40)
    >>> print(round(float(np.degrees(found.angle)), 2), round(found.loss_db, 2))
    5.0 0.66
    """
    top = peak(angle, power, _FRONT)
    return Lean(top.angle, decibels(top.power) - decibels(float(np.interp(0.0, angle, power))))


def beam_figure(angle: NDArray, power: NDArray, basis: str, share: float | None = None) -> Figure:
    """Direction of the beam along the guide, deg from broadside; see `lean`.

    Parameters
    ----------
    share : float or None
        Error bar as a share of the half-power beamwidth.
    """
    width = float(np.degrees(half_power_beamwidth(angle, power)))
    error = share * width if share is not None and np.isfinite(width) else None
    text = f"from broadside, positive towards the far end, plane along the guide; {basis}"
    return Figure(float(np.degrees(lean(angle, power).angle)), "deg", text, error)


def beam_sentence(
    figure: Figure | None, found: Lean, least_db: float, turns: Sequence[tuple[float, float]] = ()
) -> str:
    """How far the beam leans, and what that costs; empty where broadside is as good as the beam.

    Parameters
    ----------
    figure : Figure or None
        As of `beam_figure`.
    found : Lean
    least_db : float
        Least loss at broadside that is named, dB: the error bar of the gain.
    turns : sequence of (frequency, direction)
        Hz and deg, lowest and highest, where they are known.
    """
    if figure is None or found.loss_db <= least_db:
        return ""
    towards = number(Figure(abs(figure.value), figure.unit, figure.basis, figure.error))
    end = "far" if figure.value > 0 else "near"
    turning = ""
    if len(turns) > 1 and abs(turns[-1][1] - turns[0][1]) >= _MIN_TURN:
        (low, first), (high, last) = turns[0], turns[-1]
        turning = (
            f", and turns with frequency ({first:.1f} deg at {low / 1e9:.4g} GHz, {last:.1f} deg at "
            f"{high / 1e9:.4g} GHz)"
        )
    return (
        f"The beam leans {towards} from broadside towards the {end} end of the guide{turning}: straight out "
        f"of the slots the gain is {found.loss_db:.1f} dB less, so tilt the antenna by that angle when you "
        "aim it."
    )


def simulated_lean(results: Mapping[str, NDArray], index: int) -> Lean:
    """Beam of a run at one of its far frequencies."""
    cut = cut_along(FarField.stored(results), index)
    return lean(cut.angle, cut.total)


def simulated_turns(results: Mapping[str, NDArray], low: float, high: float) -> list[tuple[float, float]]:
    """Frequency (Hz) and direction (deg) of the lowest and the highest far field of a run between two
    frequencies."""
    inside = [i for i, f in enumerate(results["far_frequency"]) if low * (1 - 1e-9) <= f <= high * (1 + 1e-9)]
    return [
        (float(results["far_frequency"][i]), float(np.degrees(simulated_lean(results, i).angle)))
        for i in inside[:1] + inside[1:][-1:]
    ]
