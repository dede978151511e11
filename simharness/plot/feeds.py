"""What pictures show of a feed: its mark in a field map, and the reference of S11; one object per kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, ClassVar, Protocol

from matplotlib.axes import Axes
from matplotlib.patches import Circle
from matplotlib.patheffects import AbstractPathEffect

from simharness.records import REFERENCE_OHM, BentProbe, GuidePort, Probe, Record

Halo = list[AbstractPathEffect]
"""Path effects that set a mark off from the map below it."""


class FeedPicture(Protocol):
    """A kind of feed as pictures see it.

    Attributes
    ----------
    marks : str
        What its mark in a map of the field means; empty where it has none.
    reference : str
        What S11 refers to.
    chart_unit : str
        Unit of the numbers of the Smith chart.
    """

    marks: ClassVar[str]
    reference: ClassVar[str]
    chart_unit: ClassVar[str]

    def draw(self, axes: Axes, colour: str, halo: Halo) -> tuple[float, float] | None:
        """Mark the feed in a map seen from the front, mm; returns where its name belongs, if anywhere."""
        ...


class _CoaxPicture:
    """What the coax feeds have in common: the reference plane."""

    reference: ClassVar[str] = f"{REFERENCE_OHM:g} ohm at the outer face of the wall"
    chart_unit: ClassVar[str] = "ohm"


@dataclass(frozen=True)
class StraightProbePicture(_CoaxPicture):
    """A straight probe: its wire in its hole."""

    marks: ClassVar[str] = "circle and dot: hole and wire of the probe"

    feed: Probe

    def draw(self, axes: Axes, colour: str, halo: Halo) -> tuple[float, float] | None:
        """A dot for the wire, a circle for the hole."""
        feed, centre = self.feed, (self.feed.position_mm, self.feed.offset_mm)
        hole = feed.coax_outer_mm / 2
        axes.add_patch(Circle(centre, feed.wire_diameter_mm / 2, color=colour, zorder=3))
        axes.add_patch(
            Circle(centre, hole, fill=False, edgecolor=colour, linewidth=1.2, zorder=3, path_effects=halo)
        )
        return centre[0], centre[1] - hole


@dataclass(frozen=True)
class BentProbePicture(_CoaxPicture):
    """A bent probe: its run from the near end, and its riser."""

    marks: ClassVar[str] = "line and dot: probe"

    feed: BentProbe

    def draw(self, axes: Axes, colour: str, halo: Halo) -> tuple[float, float] | None:
        """A line for the run, a dot for the riser; the hole is in the near end."""
        feed, centre = self.feed, (self.feed.run_mm, self.feed.offset_mm)
        axes.add_patch(Circle(centre, feed.wire_diameter_mm / 2, color=colour, zorder=3))
        axes.plot(
            [0, centre[0]], [feed.offset_mm] * 2, color=colour, linewidth=1.5, zorder=3, path_effects=halo
        )
        return centre[0], centre[1] - feed.coax_outer_mm / 2


@dataclass(frozen=True)
class GuidePortPicture:
    """A port at the end of the guide: nothing to draw."""

    marks: ClassVar[str] = ""
    reference: ClassVar[str] = "TE10 of the guide at its near end"
    chart_unit: ClassVar[str] = "units of the wave impedance"

    feed: GuidePort

    def draw(self, axes: Axes, colour: str, halo: Halo) -> tuple[float, float] | None:
        """Nothing."""
        return None


FEEDS: dict[str, Callable[[Any], FeedPicture]] = {
    "probe": StraightProbePicture,
    "bent-probe": BentProbePicture,
    "guide-port": GuidePortPicture,
}
"""By `feed.kind`."""


def feed_picture(record: Record) -> FeedPicture:
    """The feed of a record as pictures see it."""
    return FEEDS[record.feed.kind](record.feed)
