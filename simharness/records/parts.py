"""What all tables of a record share; the band and the mounting."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from simharness.printable import is_printable

MIN_BEYOND = 0.04
"""Least widening of the band on either side, of the design frequency, so that a detuned match is seen."""


def mm(description: str, **limits: Any) -> Any:
    """A length in millimetres: a strict, finite number within `limits`."""
    return Field(
        description=description, json_schema_extra={"unit": "mm"}, allow_inf_nan=False, strict=True, **limits
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


class Band(Part):
    """Frequencies the antenna is meant for, and the match asked for."""

    low_ghz: float = Field(gt=0.1, lt=100, allow_inf_nan=False, strict=True, description="lower edge, GHz")
    centre_ghz: float = Field(
        gt=0.1, lt=100, allow_inf_nan=False, strict=True, description="design frequency, GHz"
    )
    high_ghz: float = Field(gt=0.1, lt=100, allow_inf_nan=False, strict=True, description="upper edge, GHz")
    target_s11_db: float = Field(
        -10.0,
        ge=-40,
        le=-3,
        allow_inf_nan=False,
        strict=True,
        description="largest |S11| wanted in the band, dB",
    )

    @property
    def beyond_ghz(self) -> float:
        """How far to look beyond either edge: the width of the band, or enough to see a detuned match."""
        return max(self.high_ghz - self.low_ghz, MIN_BEYOND * self.centre_ghz)


class Mounting(Part):
    """How the finished antenna hangs, so that polarization can be told in words."""

    axis: Literal["vertical", "horizontal"] = Field(description="direction of the long axis of the guide")
