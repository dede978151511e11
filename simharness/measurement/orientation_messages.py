"""Levels over orientation as sentences and as a table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from simharness.measurement.orientation import Orientation

_LARGE_RESIDUAL_DB = 3.0
"""Readings of common receivers outdoors scatter by a few decibels (common practice, no source)."""

_MENTIONED_LOSS_DB = 3.0
"""Polarization mismatch from which it is mentioned."""

_NEGLIGIBLE_DB = 40.0
"""A choice: power this far below the strongest direction counts as none."""


def orientation_sentences(found: Orientation) -> tuple[str, ...]:
    """What the readings show, the most important first."""
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
            "Turning the antenna about its beam changes polarization alone: "
            "the level follows the square of a cosine."
        )
    elif found.loss > _MENTIONED_LOSS_DB:
        said.append(
            f"The other end is turned against this antenna: {found.loss:.0f} dB are lost in every direction."
        )
    said.append(
        f"The readings lie {found.residual:.1f} dB from the prediction (root mean square) once the zero of "
        f"the scale is moved by {np.degrees(found.angle_shift):+.1f} deg and power scattered all around is "
        f"taken as {-found.floor:.0f} dB below the strongest direction."
    )
    if found.residual > _LARGE_RESIDUAL_DB:
        said.append(
            "That is much: reflections, a receiver that steps or saturates, "
            "or another axis of rotation than stated."
        )
    return tuple(said)


def rounded_parts(whole: float, parts: Sequence[float]) -> tuple[float, ...]:
    """Parts in tenths that add up to the whole in tenths; the parts that rounding changed most take the rest.

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
    """Parts of the predicted change; scattered power reduces it."""
    if max(parts[0], parts[1]) >= _NEGLIGIBLE_DB:
        named = [
            f"{'40 dB or more' if part >= _NEGLIGIBLE_DB else f'{part + 0.0:.1f} dB'} come from {name}"
            for name, part in (("the pattern", parts[0]), ("polarization", parts[1]))
        ]
        left = f"power scattered all around leaves {whole:.1f} dB of it"
        return f"By themselves {named[0]} and {named[1]}; {left}."
    pattern, polarization, scattered = (part + 0.0 for part in rounded_parts(whole, parts))
    filled = f", less {-scattered:.1f} dB that power scattered all around fills up" if scattered < 0 else ""
    return (
        f"Of the predicted change, {pattern:.1f} dB come from the pattern and {polarization:.1f} dB from "
        f"polarization{filled}."
    )


def level_rows(found: Orientation) -> list[tuple[str, ...]]:
    """Rows of angle, measured, predicted and the three parts that add up to it, in tenths of a decibel."""
    rows = []
    for angle, measured, predicted, *parts in zip(
        np.degrees(found.angle),
        found.measured,
        found.predicted,
        found.pattern,
        found.polarization,
        found.scattered,
    ):
        shown = [f"{part + 0.0:.1f}" for part in rounded_parts(predicted, parts)]
        if min(parts[:2]) <= -_NEGLIGIBLE_DB:  # no direct power: the rest is scattered
            shown = [
                *(
                    f"below -{_NEGLIGIBLE_DB:g}" if part <= -_NEGLIGIBLE_DB else f"{round(part, 1) + 0.0:.1f}"
                    for part in parts[:2]
                ),
                "the rest",
            ]
        rows.append(
            (
                f"{round(float(angle), 1):g} deg",
                *(f"{round(float(value), 1) + 0.0:.1f}" for value in (measured, predicted)),
                *shown,
            )
        )
    return rows
