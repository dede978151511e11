"""The guide of a record: size, walls, ends; one class for each shape."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import Discriminator, Field, Tag

from simharness.constants import MM
from simharness.em.guide.rectangular import cutoff_frequency, next_mode
from simharness.em.guide.round import equivalent_rectangle, te11_cutoff, tm01_cutoff
from simharness.records.parts import Part, metres, mm

Material = Literal[
    "perfect", "silver", "copper", "aluminium", "brass", "tin plate", "zinc-coated steel", "stainless steel"
]
NearEnd = Literal["short", "port"]
FarEnd = Literal["short", "load", "port"]
_MATERIAL: Any = Field("copper", description="wall material; 'perfect' has no loss")
_CONDUCTIVITY: Any = Field(
    None,
    gt=1e3,
    le=1e9,
    allow_inf_nan=False,
    strict=True,
    description="overrides the material's usual conductivity",
)
_NEAR_END: Any = Field("short", description="what closes the guide at position 0")
_FAR_END: Any = Field(
    "short", description="what closes the guide at its full length; 'load': an absorber that reflects nothing"
)
_NEAR_PLATE = mm(
    "face of a plate set inside the near end, from its wall; the guide begins there. Positions still count "
    "from the wall",
    default=None,
    gt=0,
    lt=5000,
)
_FAR_PLATE = mm("face of a plate set inside the far end, from its wall", default=None, gt=0, lt=5000)
_LOAD = mm(
    "length of the absorber beyond the full length; a guide wavelength or more, far_end 'load' only",
    default=None,
    gt=0,
    lt=5000,
)


class Laminate(Part):
    """A front wall of copper-clad laminate; its thickness is that of the front wall."""

    permittivity: float = Field(
        ge=1,
        le=15,
        allow_inf_nan=False,
        strict=True,
        description="relative permittivity of the substrate; glass epoxy about 4.2 to 4.7, "
        "PTFE with glass 2.2 to 2.6 (common practice)",
    )
    loss_tangent: float = Field(
        ge=0,
        le=0.2,
        allow_inf_nan=False,
        strict=True,
        description="loss tangent of the substrate; glass epoxy about 0.02, PTFE with glass about 0.001 "
        "(common practice)",
    )
    copper: Literal["inside", "outside", "both"] = Field(
        "inside", description="which faces of the substrate bear copper"
    )
    slots: Literal["etched", "routed"] = Field(
        "etched", description="etched: in the copper only; routed: through the substrate too"
    )
    copper_um: float = Field(
        35.0,
        gt=0,
        le=500,
        allow_inf_nan=False,
        strict=True,
        json_schema_extra={"unit": "um"},
        description="thickness of the copper, for words only: the models take it as nothing",
    )


class _AnyGuide(Part):
    """What guides of every shape have in common.

    Each shape has `mode` (name of its lowest mode), `noun` (what it is called), `make` (how it is made), and
    the names of the fields that hold its inner width, inner height and the thickness of its front wall.
    """

    length = metres()
    width = metres()
    height = metres()
    front_metal = metres()

    if TYPE_CHECKING:  # fields of both shapes, None where one has none

        @property
        def load_mm(self) -> float | None: ...
        @property
        def near_plate_mm(self) -> float | None: ...
        @property
        def far_plate_mm(self) -> float | None: ...

    def thickness_mm(self, wall: str) -> float:
        """Thickness of a wall: 'front', 'back', or any other."""
        raise NotImplementedError

    def thickness(self, wall: str) -> float:
        """Thickness of a wall, m."""
        return self.thickness_mm(wall) * MM

    @property
    def near_face(self) -> float:
        """Where the guide begins inside: the near end, or the face of the plate inside it, m."""
        return (self.near_plate_mm or 0.0) * MM

    @property
    def far_face(self) -> float:
        """Where the guide ends inside: its full length, or the face of the plate inside it, m."""
        return self.length - (self.far_plate_mm or 0.0) * MM

    @property
    def load(self) -> float:
        """Length of the absorber beyond the far end, m; 0 where there is none."""
        return 0.0 if self.load_mm is None else self.load_mm * MM


class RectangularGuide(_AnyGuide):
    """A rectangular guide: inner size, walls, ends."""

    shape: Literal["rectangular"] = Field("rectangular", description="need not be written")
    a_mm: float = mm("inner broad dimension", gt=1, lt=500)
    b_mm: float = mm("inner narrow dimension", gt=0.5, lt=500)
    length_mm: float = mm("inner length from end to end", gt=1, lt=5000)
    front_wall_mm: float = mm("thickness of the slotted wall", ge=0.05, le=20)
    other_walls_mm: float = mm("thickness of all other walls; the ends too", ge=0.05, le=20)
    material: Material = _MATERIAL
    conductivity_s_per_m: float | None = _CONDUCTIVITY
    laminate: Laminate | None = None
    near_end: NearEnd = _NEAR_END
    far_end: FarEnd = _FAR_END
    load_mm: float | None = _LOAD
    near_plate_mm: float | None = _NEAR_PLATE
    far_plate_mm: float | None = _FAR_PLATE
    make: Literal["folded", "tube"] = Field(
        "folded",
        description="for the cut sheets: a box folded from sheet with a front wall of its own, "
        "or slots cut in a stock tube",
    )

    mode: ClassVar[str] = "TE10"
    noun: ClassVar[str] = "guide"
    width_field: ClassVar[str] = "a_mm"
    height_field: ClassVar[str] = "b_mm"
    front_wall_field: ClassVar[str] = "front_wall_mm"
    bore: ClassVar[float] = 0.0

    a = metres()
    b = metres()
    front_wall = metres()
    other_walls = metres()

    @property
    def width_mm(self) -> float:
        """Inner width across."""
        return self.a_mm

    @property
    def height_mm(self) -> float:
        """Inner height from back to front."""
        return self.b_mm

    def thickness_mm(self, wall: str) -> float:
        """Thickness of a wall: 'front', or any other."""
        return self.front_wall_mm if wall == "front" else self.other_walls_mm

    @property
    def substrate(self) -> Laminate | None:
        """The laminate where it acts as a dielectric: copper on both faces and round the slots' edges is a
        metal wall."""
        return None if self.laminate is None or self.laminate.copper == "both" else self.laminate

    @property
    def front_metal_mm(self) -> float:
        """Thickness of the slotted metal, mm: none for copper on a substrate."""
        return self.front_wall_mm if self.substrate is None else 0.0

    @property
    def line(self) -> tuple[float, float]:
        """Width and height of the rectangular guide that the mode and its slots see, m."""
        return self.a, self.b

    @property
    def cutoff(self) -> float:
        """Cutoff of the lowest mode, Hz."""
        return cutoff_frequency(self.a)

    @property
    def next_mode(self) -> tuple[str, float]:
        """Name and cutoff (Hz) of the mode above."""
        return next_mode(self.a, self.b)


class RoundGuide(_AnyGuide):
    """A round tube in TE11, E from back to front: inner diameter, wall, ends."""

    near_plate_mm = far_plate_mm = property(lambda self: None, doc="None: not modelled in a tube.")

    shape: Literal["round"] = Field(description="a round tube, in TE11")
    diameter_mm: float = mm("inner diameter", gt=1, lt=500)
    length_mm: float = mm("inner length from end to end", gt=1, lt=5000)
    wall_mm: float = mm("thickness of tube and end plates", ge=0.05, le=20)
    material: Material = _MATERIAL
    conductivity_s_per_m: float | None = _CONDUCTIVITY
    near_end: NearEnd = _NEAR_END
    far_end: FarEnd = _FAR_END
    load_mm: float | None = _LOAD

    mode: ClassVar[str] = "TE11"
    noun: ClassVar[str] = "tube"
    width_field: ClassVar[str] = "diameter_mm"
    height_field: ClassVar[str] = "diameter_mm"
    front_wall_field: ClassVar[str] = "wall_mm"
    make: ClassVar[str] = "tube"

    diameter = metres()
    wall = metres()
    outer_radius = metres()

    @property
    def bore(self) -> float:
        """Inner diameter, m; 0 for a guide that is not round."""
        return self.diameter

    @property
    def width_mm(self) -> float:
        """Inner width across."""
        return self.diameter_mm

    @property
    def height_mm(self) -> float:
        """Inner height from back to front."""
        return self.diameter_mm

    def thickness_mm(self, wall: str) -> float:
        """Thickness of the tube, which is that of its ends too."""
        return self.wall_mm

    @property
    def laminate(self) -> None:
        """None: a laminate needs a flat front."""
        return None

    @property
    def substrate(self) -> None:
        """None, as there is no laminate."""
        return None

    @property
    def front_metal_mm(self) -> float:
        """Thickness of the slotted metal."""
        return self.wall_mm

    @property
    def outer_radius_mm(self) -> float:
        """Radius of the outer surface, where slots are marked."""
        return self.diameter_mm / 2 + self.wall_mm

    @property
    def line(self) -> tuple[float, float]:
        """Width and height of the rectangular guide that mode and slots see, m; see `em.guide.round`."""
        return equivalent_rectangle(self.diameter)

    @property
    def cutoff(self) -> float:
        """Cutoff of the lowest mode, Hz."""
        return te11_cutoff(self.diameter)

    @property
    def next_mode(self) -> tuple[str, float]:
        """Name and cutoff (Hz) of the mode above."""
        return "TM01", tm01_cutoff(self.diameter)


def _shape(value: Any) -> Any:
    """Shape of a guide table, which of old was not written."""
    shape = (
        value.get("shape", "rectangular")
        if isinstance(value, dict)
        else getattr(value, "shape", "rectangular")
    )
    return shape if isinstance(shape, str) else None


Guide = Annotated[
    Annotated[RectangularGuide, Tag("rectangular")] | Annotated[RoundGuide, Tag("round")],
    Discriminator(_shape),
]
