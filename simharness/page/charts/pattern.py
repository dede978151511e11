"""Both cuts of the pattern over the angle from the front, and the voltages of the slots.

The cuts have straight axes: on a narrow screen a beam of a few degrees is a needle on round ones.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from simharness.live.answers import Prediction
from simharness.page.charts import look

FLOOR_DB = -30.0
_ENDS = {"along": (90.0, 30, "the far end"), "across": (180.0, 60, "+x")}
"""Largest angle shown, distance of its marks, and where positive angles go."""


def cut_options(which: str, found: Prediction | None) -> dict[str, Any]:
    """One cut, "along" or "across" the guide, as first drawn."""
    end, step, towards = _ENDS[which]
    x = look.axis(f"degrees from the front, towards {towards}", -end, end, interval=step)
    y = look.axis("dB below the peak", FLOOR_DB, 0.0, upright=True, interval=10)
    return look.chart(x, y, cut_update(which, found)["series"])


def cut_update(which: str, found: Prediction | None) -> dict[str, Any]:
    """What changes with the record."""
    levels = _levels(which, found)
    if found is None or levels is None:
        return {"series": [look.line("cut", "", [])]}
    angle = np.degrees(found.angle)
    shown = np.abs(angle) <= _ENDS[which][0]
    data = look.points(angle[shown], np.maximum(levels[shown], FLOOR_DB), (1, 2))
    dashes = "solid" if found.exact else look.DOTTED
    return {"series": [look.line("cut", look.how(found.exact), data, dashes=dashes)]}


def _levels(which: str, found: Prediction | None) -> NDArray | None:
    return None if found is None else found.along if which == "along" else found.across


def cut_summary(which: str, found: Prediction | None) -> str:
    """The cut in a sentence.

    Examples
    --------
    >>> cut_summary("along", None)
    'Cut along the guide: not known yet.'
    """
    levels = _levels(which, found)
    if found is None or levels is None:
        return f"Cut {which} the guide: {'not known yet' if found is None else 'no slot radiates'}."
    peak = round(float(np.degrees(found.angle[int(np.argmax(levels))]))) + 0
    said = f"Cut {which} the guide, {look.how(found.exact)}: strongest at {peak} degrees"
    if which == "along":
        return (
            f"{said}; gain {look.number(found.figures.gain, 1, 'dBi')}, side lobes "
            f"{look.number(found.figures.side_lobes, 1, 'dB')}."
        )
    back = float(np.interp(np.pi, found.angle, levels)) - float(levels.max())
    return f"{said}; straight behind {look.number(back, 1, 'dB')}."


def voltage_options(found: Prediction | None) -> dict[str, Any]:
    """Magnitude as bars and phase as marks, slot by slot along the guide, as first drawn."""
    count = 0 if found is None else found.slot_voltages.size
    x = {
        "type": "category",
        "name": "slot, from the near end",
        "nameLocation": "middle",
        "nameGap": 28,
        "nameTextStyle": {"color": look.INK},
        "data": [str(number) for number in range(1, count + 1)],
        "axisLabel": {"color": look.FAINT, "hideOverlap": True},
        "axisLine": {"lineStyle": {"color": look.FAINT}},
    }
    size = look.axis("voltage", 0.0, 1.0, upright=True)
    phase = look.axis("phase, degrees", -180.0, 180.0, upright=True, interval=90)
    phase |= {"splitLine": {"show": False}}
    phase["nameTextStyle"] = {"color": look.INK, "align": "right"}
    return look.chart(x, [size, phase], voltage_update(found)["series"])


def voltage_update(found: Prediction | None) -> dict[str, Any]:
    """What changes with the record; another number of slots needs `voltage_options`."""
    voltages = np.zeros(0, dtype=complex) if found is None else found.slot_voltages
    phases = np.degrees(np.angle(np.where(np.abs(voltages) > 1e-9, voltages, 1.0)))
    return {
        "series": [
            {
                "id": "size",
                "type": "bar",
                "name": "voltage over the largest",
                "data": np.round(np.abs(voltages), 3).tolist(),
                "itemStyle": {"color": look.CURVE, "opacity": 0.35, "borderColor": look.CURVE},
                "emphasis": {"disabled": True},
                "silent": True,
            },
            {
                "id": "phase",
                "type": "scatter",
                "name": "phase",
                "yAxisIndex": 1,
                "data": np.round(phases, 1).tolist(),
                "symbol": "diamond",
                "symbolSize": 10,
                "itemStyle": {"color": look.INK, "borderColor": look.GROUND, "borderWidth": 1},
                "emphasis": {"disabled": True},
                "silent": True,
            },
        ]
    }


def voltage_summary(found: Prediction | None) -> str:
    """The voltages in a sentence.

    Examples
    --------
    >>> voltage_summary(None)
    'Slot voltages: not known yet.'
    """
    if found is None:
        return "Slot voltages: not known yet."
    sizes = np.abs(found.slot_voltages)
    if not np.any(sizes):
        return "Slot voltages: no slot radiates."
    least = int(np.argmin(sizes))
    phases = np.degrees(np.angle(found.slot_voltages))
    return (
        f"Slot voltages, {look.how(found.exact)}: the weakest is slot {least + 1} with {sizes[least]:.2f} "
        f"of the strongest; phases from {phases.min():.0f} to {phases.max():.0f} degrees."
    )
