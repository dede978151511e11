"""How power gets into the guide."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from pydantic import Field

from simharness.records.parts import Part, metres, mm

REFERENCE_OHM = 50.0
"""Reference impedance of S11 at the coax, ohm: what a network analyser shows."""

COAX_LINE = 2.2
"""Length of the coax line behind its wall that the full wave holds, in inner diameters of its outer
conductor; its closed end takes an eleventh more."""


class CoaxFeed(Part):
    """What every feed by a coax has: its wire, its coax, what sits outside on the wall."""

    has_coax: ClassVar[bool] = True
    reference_ohm: ClassVar[float] = REFERENCE_OHM

    kind: str
    wire_diameter_mm: float = mm("diameter of the wire inside the guide", gt=0.1, lt=30)
    coax_inner_mm: float = mm("diameter of the centre conductor in the wall and behind it", gt=0.1, lt=30)
    coax_outer_mm: float = mm("inner diameter of the outer conductor (hole in the wall)", gt=0.2, lt=60)
    coax_permittivity: float = Field(
        2.08,
        ge=1,
        le=12,
        allow_inf_nan=False,
        strict=True,
        description="relative permittivity of the coax dielectric; solid PTFE about 2.03 to 2.1",
    )
    dielectric_mm: float = mm(
        "how far the coax dielectric protrudes into the guide around the wire", default=0.0, ge=0
    )
    connector: Literal["bare", "panel", "stripped"] = Field(
        "bare",
        description="what sits on the wall: bare connector, panel connector with flange, stripped coax "
        "soldered in; it decides words and drilling",
    )
    flange_mm: float | None = mm(
        "side of the square flange outside on the wall, around the hole; a panel connector needs it",
        default=None,
        gt=1,
        lt=100,
    )
    flange_thickness_mm: float = mm("thickness of that flange", default=1.6, ge=0.2, le=20)

    wire_diameter = metres()
    coax_inner = metres()
    coax_outer = metres()
    dielectric = metres()
    flange_thickness = metres()

    if TYPE_CHECKING:  # what both probes have, be it a field of theirs or not

        @property
        def position_mm(self) -> float: ...
        @property
        def position(self) -> float: ...
        @property
        def offset_mm(self) -> float: ...
        @property
        def offset(self) -> float: ...
        @property
        def coax_wall(self) -> str: ...
        @property
        def soldered_tip(self) -> bool: ...

    @property
    def behind_mm(self) -> float:
        """How far its coax reaches out of its wall at least, mm: as far as the models hold it."""
        flange = self.flange_thickness_mm if self.flange_mm is not None else 0.0
        return max(COAX_LINE * self.coax_outer_mm * 12 / 11, flange)

    @property
    def stripped(self) -> bool:
        """Whether the coax itself is soldered into its wall."""
        return self.connector == "stripped"


class Probe(CoaxFeed):
    """A straight coax probe through a broad wall."""

    kind: Literal["probe"] = Field(description="a coax probe through a broad wall")
    wall: Literal["back", "front"] = Field("back", description="back: the wall opposite the slots")
    position_mm: float = mm("axis of the probe, from the near end", gt=0)
    offset_mm: float = mm("axis of the probe from the centre line", default=0.0)
    height_mm: float = mm("tip of the probe above the inner face of its wall", gt=0.1)

    position = metres()
    offset = metres()
    height = metres()

    @property
    def coax_wall(self) -> Literal["back", "front"]:
        """The wall that the coax comes through."""
        return self.wall

    @property
    def soldered_tip(self) -> bool:
        """Whether the wire ends on a wall: never that of a straight probe."""
        return False


class BentProbe(CoaxFeed):
    """A coax probe through the near end: it runs along the guide and bends across it towards a broad wall."""

    kind: Literal["bent-probe"] = Field(
        description="a coax through the near end, its wire bent across the guide"
    )
    offset_mm: float = mm("axis of the hole in the near end from the centre line", default=0.0)
    hole_height_mm: float = mm("axis of the hole in the near end above the inner face of the back wall", gt=0)
    run_mm: float = mm("from the inner face of the near end to the axis of the riser", gt=0)
    rise_mm: float | None = mm(
        "from the axis of the run to the tip; left out where the tip is soldered", default=None, gt=0
    )
    towards: Literal["front", "back"] = Field("front", description="broad wall that the riser goes towards")
    tip: Literal["open", "soldered"] = Field(
        "open", description="soldered: the riser ends on that wall, and the wire is a loop"
    )

    position = metres()
    offset = metres()
    hole_height = metres()
    run = metres()

    @property
    def position_mm(self) -> float:
        """Axis of the riser, the part of the wire that couples to TE10, from the near end."""
        return self.run_mm

    @property
    def coax_wall(self) -> Literal["near"]:
        """The wall that the coax comes through: the near end."""
        return "near"

    @property
    def soldered_tip(self) -> bool:
        """Whether the wire ends on a wall."""
        return self.tip == "soldered"

    def riser_mm(self, height_mm: float) -> float:
        """From the axis of the run to the tip, in a guide of this inner height, mm."""
        return self.riser_room_mm(height_mm) if self.rise_mm is None or self.soldered_tip else self.rise_mm

    def riser_room_mm(self, height_mm: float) -> float:
        """From the axis of the run to the wall that the riser goes towards, mm."""
        return height_mm - self.hole_height_mm if self.towards == "front" else self.hole_height_mm


class GuidePort(Part):
    """The TE10 mode of the guide itself, at an end declared as a port."""

    has_coax: ClassVar[bool] = False
    reference_ohm: ClassVar[float] = 1.0

    kind: Literal["guide-port"] = Field(
        description="the TE10 wave of the guide itself, at a near end declared a port"
    )

    @property
    def position(self) -> None:
        """None: there is no wire."""
        return None

    @property
    def coax_wall(self) -> None:
        """None: there is no coax."""
        return None

    @property
    def stripped(self) -> bool:
        """Whether a coax is soldered into its wall: there is none."""
        return False

    @property
    def soldered_tip(self) -> bool:
        """Whether a wire ends on a wall: there is none."""
        return False


Feed = Annotated[Probe | BentProbe | GuidePort, Field(discriminator="kind")]
