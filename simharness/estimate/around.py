"""How even an antenna with slots in both broad walls is around its axis: figures and sentences."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from simharness.em.pattern.around import NULL_DB, SECTOR, Null, nulls, ripple_db
from simharness.figures import Figure
from simharness.records import Record

SIDES = {"null_plus_x": "towards +x", "null_minus_x": "towards -x"}


def around_figures(
    record: Record,
    angle: NDArray,
    power: NDArray,
    basis: str,
    ripple_error: float | None = None,
    null_error: float | None = None,
) -> dict[str, Figure]:
    """Ripple and nulls of the cut across the guide; nulls alone for slots in one wall with wings or before a
    pole or wall, nothing for those without.

    Parameters
    ----------
    record : Record
    angle, power : (n,) arrays
        Cut over a full turn, rad from broadside towards +x.
    basis : str
        Where the cut comes from.
    ripple_error, null_error : float or None
        Error bars, dB and deg.

    Returns
    -------
    dict
        'ripple_across' (dB), and the deepest null on either side, 'null_plus_x' and 'null_minus_x' (deg from
        the front, towards +x positive; None where there is none), 'null_depth' the level of the shallower of
        them (dB).
    """
    if not record.two_faced and record.mast is None and record.wings is None:
        return {}
    words = f"within {np.degrees(SECTOR):g} deg of front and back; {basis}"
    figures = {}
    if record.two_faced:
        figures["ripple_across"] = Figure(ripple_db(angle, power), "dB", words, ripple_error)
    found = nulls(angle, power)
    deepest: list[Null | None] = []
    for name, sign in (("null_plus_x", 1), ("null_minus_x", -1)):
        there = [null for null in found if sign * np.sin(null.angle) > 0]
        deepest.append(min(there, key=lambda null: null.level_db, default=None))
        value = None if deepest[-1] is None else float(np.degrees(deepest[-1].angle))
        figures[name] = Figure(value, "deg", f"from the front, plane across the guide; {basis}", null_error)
    levels = [null.level_db for null in deepest if null is not None]
    figures["null_depth"] = Figure(
        max(levels, default=None), "dB", f"under the strongest direction across; {basis}"
    )
    return figures


def around_sentences(record: Record, figures: Mapping[str, Figure]) -> list[str]:
    """Ripple, nulls, and where they point once the antenna hangs as the record says."""
    if "ripple_across" not in figures:
        return []
    said = [
        f"Around the guide the level stays within {figures['ripple_across'].value:.1f} dB up to "
        f"{np.degrees(SECTOR):g} deg to either side of front and back."
    ]
    angles = [figures[name].value for name in SIDES if figures[name].value is not None]
    if not angles:
        return [*said, f"It has no null: nowhere around the guide is it more than {NULL_DB:g} dB down."]
    many = "Nulls" if len(angles) > 1 else "A null"
    told = " and ".join(_direction(record, angle) for angle in angles)
    return [*said, f"{many} {_depth(figures['null_depth'].value)} {told}."]


def _depth(level_db: float) -> str:
    return "more than 30 dB deep" if level_db < -30 else f"{-level_db:.0f} dB deep"


def _direction(record: Record, angle: float) -> str:
    """A direction across the guide for the person who mounts the antenna; deg from the front towards +x."""
    if record.mounting.axis == "vertical":
        return (
            f"{abs(angle):.0f} deg to the {'right' if angle > 0 else 'left'} of where the front looks "
            f"(bearing {angle % 360:.0f} deg with the front to north and the near end down)"
        )
    return (
        f"{abs(angle):.0f} deg {'above' if angle > 0 else 'below'} where the front looks "
        f"(with the near end to the left of a viewer who faces the front)"
    )
