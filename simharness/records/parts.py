"""What all tables of a record share; the band and the mounting."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, overload

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from simharness.constants import MM
from simharness.printable import is_printable

MIN_BEYOND = 0.04
"""Least widening of the band on either side, of the design frequency, so that a detuned match is seen."""


def mm(description: str, **limits: Any) -> Any:
    """A length in millimetres: a strict, finite number within `limits`."""
    return Field(
        description=description, json_schema_extra={"unit": "mm"}, allow_inf_nan=False, strict=True, **limits
    )


def degrees(description: str, default: float, **limits: Any) -> Any:
    """An angle in degrees: a strict, finite number within `limits`."""
    return Field(
        default,
        description=description,
        json_schema_extra={"unit": "deg"},
        allow_inf_nan=False,
        strict=True,
        **limits,
    )


def _line(text: str) -> str:
    if not is_printable(text):
        raise ValueError("must be one line without control characters")
    return text


def _lines(text: str) -> str:
    if not is_printable(text, keep="\n\t"):
        raise ValueError("must be free of control characters other than line breaks")
    return text


Line = Annotated[str, AfterValidator(_line)]
"""Text that stands on one line of a terminal or a drawing."""
Lines = Annotated[str, AfterValidator(_lines)]
"""Text of several lines."""


class Part(BaseModel):
    """A table of a record: frozen, unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True)


_SUFFIXES = {"_ghz": "GHz", "_db": "dB", "_s_per_m": "S/m"}


def field_unit(name: str, extra: Any) -> str:
    """Unit of a field by what its schema says besides the type (`json_schema_extra`), or by its name; empty
    where it has none.

    Examples
    --------
    >>> field_unit("copper_um", {"unit": "um"}), field_unit("centre_ghz", None), field_unit("count", None)
    ('um', 'GHz', '')
    """
    if isinstance(extra, dict) and "unit" in extra:
        return str(extra["unit"])
    return next((unit for suffix, unit in _SUFFIXES.items() if name.endswith(suffix)), "")


class InSI(property):
    """A field of a record in its SI unit: `length` is `length_mm` in m, `low` is `low_ghz` in Hz."""

    def __init__(self, suffix: str, unit: str, factor: float):
        super().__init__()
        self._suffix, self._unit, self._factor = suffix, unit, factor

    def __set_name__(self, owner: type, name: str) -> None:
        self._field = f"{name}_{self._suffix}"
        self.__doc__ = f"`{self._field}` in {self._unit}."

    @overload
    def __get__(self, part: None, owner: type | None = None, /) -> InSI: ...
    @overload
    def __get__(self, part: object, owner: type | None = None, /) -> float: ...
    def __get__(self, part: object | None, owner: type | None = None, /) -> InSI | float:
        if part is None:
            return self
        return getattr(part, self._field) * self._factor


def metres() -> InSI:
    """The length in m that is written as `<name>_mm`."""
    return InSI("mm", "m", MM)


def hertz() -> InSI:
    """The frequency in Hz that is written as `<name>_ghz`."""
    return InSI("ghz", "Hz", 1e9)


class Band(Part):
    """Frequencies the antenna is meant for, and the match asked for."""

    low_ghz: float = Field(gt=0.1, lt=100, allow_inf_nan=False, strict=True, description="lower edge")
    centre_ghz: float = Field(
        gt=0.1, lt=100, allow_inf_nan=False, strict=True, description="design frequency; between the edges"
    )
    high_ghz: float = Field(gt=0.1, lt=100, allow_inf_nan=False, strict=True, description="upper edge")
    target_s11_db: float = Field(
        -10.0,
        ge=-40,
        le=-3,
        allow_inf_nan=False,
        strict=True,
        description="largest |S11| wanted in the band",
    )

    low = hertz()
    centre = hertz()
    high = hertz()
    beyond = hertz()

    @property
    def beyond_ghz(self) -> float:
        """How far to look beyond either edge: the width of the band, or enough to see a detuned match."""
        return max(self.high_ghz - self.low_ghz, MIN_BEYOND * self.centre_ghz)


class Mounting(Part):
    """How the finished antenna hangs, so that polarization can be told in words."""

    axis: Literal["vertical", "horizontal"] = Field(
        description="direction of the long axis of the guide; it decides the polarization"
    )
    tilt_deg: float = degrees(
        "how far the front looks below the horizon, the axis or the whole antenna tilted; negative: above it",
        0.0,
        ge=-90,
        le=90,
    )

    @property
    def tilt(self) -> float:
        """`tilt_deg` in rad."""
        return math.radians(self.tilt_deg)
