"""The guide of a record: size, walls, ends."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from simharness.records.parts import Part, mm


class Laminate(Part):
    """A front wall of copper-clad laminate; its thickness is that of the front wall."""

    permittivity: float = Field(ge=1, le=15, allow_inf_nan=False, strict=True, description="relative permittivity of the substrate")
    loss_tangent: float = Field(ge=0, le=0.2, allow_inf_nan=False, strict=True, description="loss tangent of the substrate")
    copper: Literal["inside", "outside", "both"] = Field("inside", description="which faces of the substrate bear copper")
    slots: Literal["etched", "routed"] = Field(
        "etched", description="etched: in the copper only; routed: through the substrate too"
    )
    copper_um: float = Field(
        35.0, gt=0, le=500, allow_inf_nan=False, strict=True, json_schema_extra={"unit": "um"},
        description="thickness of the copper, for words only: the models take it as nothing",
    )


class Guide(Part):
    """A rectangular guide: inner size, walls, ends."""

    shape: Literal["rectangular"] = "rectangular"
    a_mm: float = mm("inner broad dimension", gt=1, lt=500)
    b_mm: float = mm("inner narrow dimension", gt=0.5, lt=500)
    length_mm: float = mm("inner length from end to end", gt=1, lt=5000)
    front_wall_mm: float = mm("thickness of the slotted wall", ge=0.05, le=20)
    other_walls_mm: float = mm("thickness of all other walls", ge=0.05, le=20)
    material: Literal[
        "perfect", "silver", "copper", "aluminium", "brass", "tin plate", "zinc-coated steel", "stainless steel"
    ] = Field("copper", description="wall material; 'perfect' has no loss")
    conductivity_s_per_m: float | None = Field(
        None, gt=1e3, le=1e9, allow_inf_nan=False, strict=True, description="overrides the material's usual conductivity, S/m"
    )
    laminate: Laminate | None = None
    near_end: Literal["short", "port"] = Field("short", description="what closes the guide at position 0")
    far_end: Literal["short", "load", "port"] = Field(
        "short", description="what closes the guide at its full length; 'load': an absorber that reflects nothing"
    )
    load_mm: float | None = mm("length of the absorber beyond the full length, far_end 'load' only", default=None, gt=0, lt=5000)

    @property
    def substrate(self) -> Laminate | None:
        """The laminate where it acts as a dielectric: copper on both faces and round the slots' edges is a metal wall."""
        return None if self.laminate is None or self.laminate.copper == "both" else self.laminate

    @property
    def front_metal_mm(self) -> float:
        """Thickness of the slotted metal, mm: none for copper on a substrate."""
        return self.front_wall_mm if self.substrate is None else 0.0
