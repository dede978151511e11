"""A sheet that keeps the weather off the slots, and the plastics that it may be made of.

The permittivities and loss tangents are those of handbooks of dielectrics at microwave frequencies (von
Hippel, Dielectric Materials and Applications, 1954; data sheets of sheet and film), all from memory. `low`
and `high` bracket what a builder may have bought: filler, plasticizer, glass content, the voids of a print.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pydantic import Field

from simharness.records.parts import Part, metres, mm

CoverName = Literal[
    "polyethylene",
    "polypropylene",
    "PTFE",
    "polystyrene",
    "PVC",
    "PVC tape",
    "ABS",
    "PLA",
    "PETG",
    "PET foil",
    "polycarbonate",
    "acrylic",
    "polyimide tape",
    "glass-fibre epoxy",
    "glass-fibre polyester",
]


@dataclass(frozen=True)
class CoverMaterial:
    """A plastic at microwave frequencies: relative permittivity with its range, loss tangent, source."""

    name: str
    permittivity: float
    low: float
    high: float
    loss_tangent: float
    source: str


_BOOK = "handbook of dielectrics, from memory"
_SHEET = "data sheets, from memory"
_PRINT = "printed solid, published measurements, from memory; voids of a print make it lower"
COVER_MATERIALS = (
    CoverMaterial("polyethylene", 2.26, 2.25, 2.35, 0.0004, _BOOK),
    CoverMaterial("polypropylene", 2.25, 2.2, 2.3, 0.0005, _BOOK),
    CoverMaterial("PTFE", 2.05, 2.0, 2.1, 0.0003, _BOOK),
    CoverMaterial("polystyrene", 2.54, 2.5, 2.6, 0.0005, _BOOK),
    CoverMaterial("PVC", 2.85, 2.7, 3.1, 0.008, f"rigid; {_BOOK}; filler makes it higher"),
    CoverMaterial("PVC tape", 3.0, 2.7, 3.5, 0.03, f"plasticized; {_BOOK}; plasticizer makes both higher"),
    CoverMaterial("ABS", 2.75, 2.5, 3.0, 0.006, _PRINT),
    CoverMaterial("PLA", 2.75, 2.4, 3.0, 0.01, _PRINT),
    CoverMaterial("PETG", 2.7, 2.4, 2.9, 0.012, _PRINT),
    CoverMaterial("PET foil", 3.0, 2.8, 3.3, 0.01, _SHEET),
    CoverMaterial("polycarbonate", 2.77, 2.7, 2.9, 0.006, _BOOK),
    CoverMaterial("acrylic", 2.6, 2.55, 2.7, 0.007, _BOOK),
    CoverMaterial("polyimide tape", 3.3, 3.0, 3.6, 0.01, f"{_SHEET}; its adhesive makes it lower"),
    CoverMaterial("glass-fibre epoxy", 4.4, 3.9, 4.8, 0.02, f"{_BOOK}; glass content makes it higher"),
    CoverMaterial("glass-fibre polyester", 4.2, 3.8, 4.6, 0.015, f"{_BOOK}; glass content makes it higher"),
)


class Cover(Part):
    """A flat sheet on the slots, or held off from them; all of it dielectric.

    Its material is one of the table, or given by permittivity and loss tangent.
    """

    material: CoverName | None = Field(
        None, description="what it is made of; or permittivity and loss_tangent instead"
    )
    permittivity: float | None = Field(
        None,
        ge=1,
        le=15,
        allow_inf_nan=False,
        strict=True,
        description="relative permittivity, in the place of a material",
    )
    loss_tangent: float | None = Field(
        None,
        ge=0,
        le=0.2,
        allow_inf_nan=False,
        strict=True,
        description="loss tangent, in the place of that of a material",
    )
    thickness_mm: float = mm("thickness of the sheet; a tape about 0.1 to 0.2", ge=0.01, le=20)
    gap_mm: float = mm("air between wall and sheet; 0: it lies on the wall", default=0.0, ge=0, le=100)
    overhang_mm: float = mm(
        "how far the sheet stands out beyond the outline of the guide on all sides", default=0.0, ge=0, le=200
    )
    face: Literal["front", "both"] = Field(
        "front", description="both: a sheet like it on the back wall too, where there are slots in it"
    )

    thickness = metres()
    gap = metres()
    overhang = metres()

    @property
    def faces(self) -> tuple[str, ...]:
        """The broad walls that it covers."""
        return ("front", "back") if self.face == "both" else ("front",)

    @property
    def name(self) -> str:
        """What it is made of, in words."""
        return self.material or f"permittivity {self.permittivity:g}"

    @property
    def text(self) -> str:
        """Thickness, material and place, in words.

        Examples
        --------
        >>> Cover(material="PVC", thickness_mm=2.0).text
        '2 mm of PVC on the slots'
        """
        where = f"{self.gap_mm:g} mm before the slots" if self.gap_mm else "on the slots"
        stuff = self.material or f"a plastic of permittivity {self.permittivity:g}"
        return f"{self.thickness_mm:g} mm of {stuff} {where}"

    @property
    def constants(self) -> tuple[float, float]:
        """Relative permittivity and loss tangent."""
        if self.material is None:
            assert self.permittivity is not None and self.loss_tangent is not None
            return self.permittivity, self.loss_tangent
        entry = cover_material(self.material)
        return entry.permittivity, entry.loss_tangent

    @property
    def layers(self) -> tuple[tuple[float, ...], ...]:
        """Outward from the wall, air and sheet: thickness (m), relative permittivity, loss tangent."""
        return (self.gap, 1.0, 0.0), (self.thickness, *self.constants)

    @property
    def spread(self) -> tuple[float, float]:
        """Lowest and highest permittivity that it may have; both the stated one where that is given."""
        if self.material is None:
            assert self.permittivity is not None
            return self.permittivity, self.permittivity
        entry = cover_material(self.material)
        return entry.low, entry.high


def cover_material(name: str) -> CoverMaterial:
    """The plastic of this name in `COVER_MATERIALS`.

    Examples
    --------
    >>> cover_material("PTFE").permittivity
    2.05
    """
    return next(entry for entry in COVER_MATERIALS if entry.name == name)
