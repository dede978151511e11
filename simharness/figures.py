"""A figure, and how a person reads it: the digits it deserves, its unit, and its error bar."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

_SCALES = {"Hz": (1e9, "GHz", 3), "m": (1e-3, "mm", 1)}
_WIDE_DB = 3.0
_DEEPEST_DB = -40.0  # a choice: below it neither a model nor a bench tells decibels apart
_DIGITS = {
    "dB": 1,
    "dBi": 1,
    "dBm": 1,
    "deg": 1,
    "ohm": 1,
    "dB/m": 3,
    "guide wavelengths": 3,
    "free-space wavelengths": 3,
}


@dataclass(frozen=True)
class Figure:
    """One number of a design or an estimate.

    Attributes
    ----------
    value : float, complex, str or None
        None where the quantity does not exist (no band edge, no slots).
    unit : str
        SI unit, "dB", "dBi", "deg" or "" for pure numbers and words.
    basis : str
        Where it comes from, and how far to trust it.
    error : float or None
        Half width of the error bar in the same unit; None where none is known.
    """

    value: Any
    unit: str
    basis: str
    error: float | None = None

    def __str__(self) -> str:
        """As people read it; see `number`."""
        return number(self)


def number(figure: Figure | None) -> str:
    """Value with unit, the digits it deserves, and its error bar where there is one.

    Examples
    --------
    >>> number(Figure(2.4338e9, "Hz", "", 0.015e9))
    '2.434 ± 0.015 GHz'
    >>> number(Figure(0.9871, "", "", 0.004))
    '0.987 ± 0.004'

    Nothing is not less than nothing.

    >>> number(Figure(-0.02, "deg", "", 0.3))
    '0.0 ± 0.3 deg'

    A bar is rounded up: it says no less than is known.

    >>> number(Figure(12.34, "dBi", "", 0.15))
    '12.3 ± 0.2 dBi'

    A bar that is even in the complex plane is not even in dB: deep matches get their upper end.

    >>> number(Figure(-46.3, "dB", "", 24.9))
    '-46.3 dB, at most -21.4'

    Without a bar, decibels mean nothing far down.

    >>> number(Figure(-58.9, "dB", ""))
    'below -40 dB'
    """
    if figure is None or figure.value is None:
        return "-"
    value = figure.value
    if isinstance(value, str):
        return value
    scale, unit, digits = _SCALES.get(figure.unit, (1.0, figure.unit, _DIGITS.get(figure.unit, 3)))
    error = (
        ""
        if figure.error is None
        else f" ± {math.ceil(figure.error / scale * 10**digits - 1e-6) / 10**digits:.{digits}f}"
    )
    if isinstance(value, complex):
        sign = "+" if value.imag >= 0 else "-"
        text = f"{value.real / scale:.{digits}f} {sign} j{abs(value.imag) / scale:.{digits}f}"
        return f"({text}){error} {unit}".rstrip() if error else f"{text} {unit}".rstrip()
    if unit == "dB" and figure.error is not None and figure.error > _WIDE_DB:
        return f"{value:.1f} dB, at most {value + figure.error:.1f}"
    if unit == "dB" and figure.error is None and value < _DEEPEST_DB:
        return f"below {_DEEPEST_DB:g} dB"
    return f"{round(value / scale, digits) + 0.0:.{digits}f}{error} {unit}".rstrip()
