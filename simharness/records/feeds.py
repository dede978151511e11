"""How power gets into the guide."""

from __future__ import annotations

from typing import Annotated, Literal, Union

from pydantic import Field

from simharness.records.parts import Part, mm

REFERENCE_OHM = 50.0
"""Reference impedance of S11 at the coax, ohm: what a network analyser shows."""


class Probe(Part):
    """A straight coax probe through a broad wall."""

    kind: Literal["probe"]
    wall: Literal["back", "front"] = Field("back", description="back: the wall opposite the slots")
    position_mm: float = mm("axis of the probe, from the near end", gt=0)
    offset_mm: float = mm("axis of the probe from the centre line", default=0.0)
    height_mm: float = mm("tip of the probe above the inner face of its wall", gt=0)
    wire_diameter_mm: float = mm("diameter of the wire inside the guide", gt=0.1, lt=30)
    coax_inner_mm: float = mm("diameter of the centre conductor in the wall and behind it", gt=0.1, lt=30)
    coax_outer_mm: float = mm("inner diameter of the outer conductor (hole in the wall)", gt=0.2, lt=60)
    coax_permittivity: float = Field(
        2.08, ge=1, le=12, allow_inf_nan=False, strict=True, description="relative permittivity of the coax dielectric"
    )


class GuidePort(Part):
    """The TE10 mode of the guide itself, at an end declared as a port."""

    kind: Literal["guide-port"]


Feed = Annotated[Union[Probe, GuidePort], Field(discriminator="kind")]
