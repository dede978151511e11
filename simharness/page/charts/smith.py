"""S11 in the complex plane over circles of constant resistance and arcs of constant reactance.

The chart must be square: both axes have the same length and the same margins.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from simharness.live.answers import Prediction
from simharness.page.charts import look
from simharness.page.charts.reflection import Curve
from simharness.records import Record

STEPS = (0.2, 0.5, 1.0, 2.0, 5.0)
"""Resistances and reactances of the grid over the reference."""
_POINTS = 61
_EDGE = 1.08


def reflection_of(impedance: NDArray) -> NDArray:
    """Reflection of impedances over the reference.

    Examples
    --------
    >>> print(reflection_of(np.array([0, 1, 3 + 0j])).real)
    [-1.   0.   0.5]
    """
    return (impedance - 1) / (impedance + 1)


def resistance_circle(resistance: float) -> NDArray:
    """Reflections (n,) with one resistance over the reference: a circle through 1."""
    turn = np.exp(1j * np.linspace(0, 2 * np.pi, 2 * _POINTS))
    return resistance / (1 + resistance) + turn / (1 + resistance)


def reactance_arc(reactance: float) -> NDArray:
    """Reflections (n,) with one reactance over the reference, from the rim to 1."""
    open_circuit = np.tan(np.linspace(0, np.pi / 2, _POINTS, endpoint=False))
    return np.append(reflection_of(open_circuit + 1j * reactance), 1.0)


def _pairs(values: NDArray) -> list[Any]:
    return look.points(values.real, values.imag, (4, 4))


def _grid() -> list[dict[str, Any]]:
    """Rim, circles and arcs, a gap after each."""
    data: list[Any] = []
    for curve in (
        *(resistance_circle(value) for value in STEPS),
        *(reactance_arc(sign * value) for value in STEPS for sign in (1, -1)),
        np.array([-1.0, 1.0]),
    ):
        data += [*_pairs(curve), [None, None]]
    fine = look.line("grid", "", data, look.LINE, width=1)
    return [fine, look.line("rim", "", _pairs(resistance_circle(0.0)), look.FAINT, width=1.5)]


def _labels(record: Record) -> dict[str, Any]:
    """Resistances along the axis, in ohm or over the wave impedance of a guide port."""
    ohm = record.feed.reference_ohm
    return {
        "id": "labels",
        "type": "scatter",
        "symbolSize": 0,
        "silent": True,
        "data": [
            {
                "value": [round(float(reflection_of(np.array(value)).real), 4), 0.0],
                "label": {
                    "show": True,
                    "formatter": f"{value * ohm:g}",
                    "position": "bottom",
                    "color": look.FAINT,
                },
            }
            for value in STEPS
        ],
    }


def smith_options(record: Record, found: Prediction | None, run: Curve | None = None) -> dict[str, Any]:
    """The chart as first drawn; `run` is that of `s11_options`."""
    plain = {
        "type": "value",
        "min": -_EDGE,
        "max": _EDGE,
        "show": False,
    }
    series = [*_grid(), _labels(record), *smith_update(record, found, run)["series"]]
    options = look.chart(plain, dict(plain), series, legend=False)
    options["grid"] = {"left": 4, "right": 4, "top": 4, "bottom": 4, "containLabel": False}
    return options


def smith_update(record: Record, found: Prediction | None, run: Curve | None = None) -> dict[str, Any]:
    """What changes with the record."""
    return {"series": [_run(record, run), *_curves(record, found), _marks(record, found)]}


def smith_curve(record: Record, found: Prediction | None) -> dict[str, Any]:
    """What changes while a dimension is dragged."""
    return {"series": [*_curves(record, found), _marks(record, found)]}


def _run(record: Record, run: Curve | None) -> dict[str, Any]:
    data = [] if run is None else _pairs(_within(record, *run))
    return look.line("run", "last full wave", data, look.SECOND, look.DASHED, 1.5)


def _within(record: Record, frequency: NDArray, s11: NDArray) -> NDArray:
    """S11 over the band, its edges included."""
    low, high = record.band.low, record.band.high
    inside = frequency[(frequency > low) & (frequency < high)]
    return np.interp(np.concatenate([[low], inside, [high]]), frequency, s11)


def _in_band(record: Record, found: Prediction) -> NDArray:
    return _within(record, found.frequency, found.s11)


def _curves(record: Record, found: Prediction | None) -> list[dict[str, Any]]:
    """The whole span thin, and the arc of the band thick."""
    if found is None:
        return [look.line("span", "", []), look.line("band", "", [])]
    dashes = "solid" if found.exact else look.DOTTED
    return [
        look.line("span", "", _pairs(found.s11), dashes=dashes, width=1),
        look.line("band", look.how(found.exact), _pairs(_in_band(record, found)), dashes=dashes, width=3.5),
    ]


def _marks(record: Record, found: Prediction | None) -> dict[str, Any]:
    """Both edges of the band and the design frequency."""
    data: list[Any] = []
    if found is not None:
        band = record.band
        for at, symbol in ((band.low, "rect"), (band.centre, "circle"), (band.high, "triangle")):
            point = complex(np.interp(at, found.frequency, found.s11))
            data.append({"value": [round(point.real, 4), round(point.imag, 4)], "symbol": symbol})
    return {
        "id": "marks",
        "type": "scatter",
        "silent": True,
        "symbolSize": 9,
        "itemStyle": {"color": look.CURVE, "borderColor": look.GROUND, "borderWidth": 1},
        "data": data,
    }


def smith_summary(record: Record, found: Prediction | None) -> str:
    """The chart in a sentence, marks explained.

    Examples
    --------
    >>> import simharness
    >>> smith_summary(simharness.read_record("models/five-slot-2g45.toml"), None)
    'Impedance: not known yet.'
    """
    if found is None:
        return "Impedance: not known yet."
    ohm, band = record.feed.reference_ohm, record.band
    point = complex(np.interp(band.centre, found.frequency, found.s11))
    value = ohm * (1 + point) / (1 - point) if point != 1 else complex("inf")
    unit = " ohm" if ohm != 1 else " of the wave impedance"
    digits = 1 if ohm != 1 else 2
    sign = "-" if round(value.imag, digits) < 0 else "+"
    said = f"{value.real:.{digits}f} {sign} j{abs(value.imag):.{digits}f}{unit}"
    return (
        f"Impedance at {band.centre_ghz:g} GHz, {look.how(found.exact)}: {said}. "
        f"Square {band.low_ghz:g}, circle {band.centre_ghz:g}, triangle {band.high_ghz:g} GHz."
    )
