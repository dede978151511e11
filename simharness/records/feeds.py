"""How power gets into the guide."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from simharness.records.parts import Part, metres, mm

REFERENCE_OHM = 50.0
"""Reference impedance of S11 at the coax, ohm: what a network analyser shows."""


class CoaxFeed(Part):
    """What every feed by a coax has: its wire, its coax, what sits outside on the wall."""

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
        description="relative permittivity of the coax dielectric",
    )
    dielectric_mm: float = mm(
        "how far the coax dielectric protrudes into the guide around the wire", default=0.0, ge=0
    )
    connector: Literal["bare", "panel", "stripped"] = Field(
        "bare",
        description="what sits on the wall: bare connector, panel connector with flange, stripped coax soldered in",
    )
    flange_mm: float | None = mm(
        "side of the square flange outside on the wall, around the hole", default=None, gt=1, lt=100
    )
    flange_thickness_mm: float = mm("thickness of that flange", default=1.6, ge=0.2, le=20)

    wire_diameter = metres()
    coax_inner = metres()
    coax_outer = metres()
    dielectric = metres()
    flange_thickness = metres()


class Probe(CoaxFeed):
    """A straight coax probe through a broad wall."""

    kind: Literal["probe"]
    wall: Literal["back", "front"] = Field("back", description="back: the wall opposite the slots")
    position_mm: float = mm("axis of the probe, from the near end", gt=0)
    offset_mm: float = mm("axis of the probe from the centre line", default=0.0)
    height_mm: float = mm("tip of the probe above the inner face of its wall", gt=0.1)

    position = metres()
    offset = metres()
    height = metres()


class BentProbe(CoaxFeed):
    """A coax probe through the near end that runs along the guide, then bends across it towards a broad wall."""

    kind: Literal["bent-probe"]
    offset_mm: float = mm("axis of the hole in the near end from the centre line", default=0.0)
    hole_height_mm: float = mm("axis of the hole in the near end above the inner face of the back wall", gt=0)
    run_mm: float = mm("from the inner face of the near end to the axis of the riser", gt=0)
    rise_mm: float | None = mm(
        "from the axis of the run to the tip; left out where the tip is soldered", default=None, gt=0
    )
    towards: Literal["front", "back"] = Field("front", description="broad wall that the riser goes towards")
    tip: Literal["open", "soldered"] = Field("open", description="soldered: the riser ends on that wall")

    offset = metres()
    hole_height = metres()
    run = metres()


class GuidePort(Part):
    """The TE10 mode of the guide itself, at an end declared as a port."""

    kind: Literal["guide-port"]


Feed = Annotated[Probe | BentProbe | GuidePort, Field(discriminator="kind")]


def feed_position(feed: CoaxFeed) -> float:
    """Where the wire that couples to TE10 stands: its axis from the near end, mm."""
    return feed.run_mm if isinstance(feed, BentProbe) else feed.position_mm


def rise(feed: BentProbe, b_mm: float) -> float:
    """From the axis of the run to the tip of a bent probe in a guide of this inner height, mm."""
    if feed.tip == "soldered":
        return room_above(feed, b_mm)
    return feed.rise_mm  # type: ignore[return-value]


def room_above(feed: BentProbe, b_mm: float) -> float:
    """From the axis of the run to the wall that the riser goes towards, mm."""
    return b_mm - feed.hole_height_mm if feed.towards == "front" else feed.hole_height_mm
