"""A second, equal antenna."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from simharness.records.parts import Part, metres, mm


class Pair(Part):
    """A second antenna, equal to the first, near it and parallel to it."""

    place: Literal["beside", "above", "back to back"] = Field(
        description="where the second one is: beside, towards +x; above, beyond the far end; back to back, "
        "behind and turned to the other side"
    )
    distance_mm: float = mm(
        "beside: from axis to axis; above: between the ends that face each other; back to back: between the "
        "outer faces of the backs",
        gt=0,
        lt=20000,
    )
    fed: Literal["in phase", "alone"] = Field(
        "in phase",
        description="in phase: both with half the power, by a splitter of your own; alone: only the first, "
        "the second one ends in a matched load",
    )

    distance = metres()

    @property
    def noun(self) -> str:
        """Where the second one is, in words."""
        return {
            "beside": "beside it, towards +x",
            "above": "above it, beyond the far end",
            "back to back": "behind it, back to back",
        }[self.place]
