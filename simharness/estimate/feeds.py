"""What the estimate asks of a feed; one class for each kind, found by `feed_inputs`."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from simharness.constants import MM
from simharness.em.guide.rectangular import wave_impedance
from simharness.em.probe.bent import BentShape, bent_network
from simharness.em.probe.network import CoaxLine, ProbeNetwork
from simharness.em.probe.straight import ProbeShape, Profile, probe_network
from simharness.em.row.response import swept_network
from simharness.em.signals.impedance import input_impedance
from simharness.estimate.deviation import Deviation, field_changed, near_end_moved
from simharness.estimate.feed_surface import FeedSurface, PortSurface, ProbeSurface
from simharness.estimate.shapes import shape_inputs
from simharness.records import REFERENCE_OHM, BentProbe, CoaxFeed, Probe, Record


class FeedModel(Protocol):
    """A coax feed with the guide around it, as a function of frequency; hashable, and equal for equal
    feeds."""

    def __call__(self, frequency: NDArray) -> ProbeNetwork:
        """Three-port at frequencies (f,), Hz."""

    def __hash__(self) -> int:
        """By value."""


@dataclass(frozen=True)
class StraightFeedModel:
    """A straight probe in its guide.

    Attributes
    ----------
    a, b : float
        Inner width and height of the guide, m.
    shorts : tuple of 2 floats
        Distances from the wire to the near short and to the far one (infinity: a matched end), m.
    wire : ProbeShape
    coax : CoaxLine
    profile : function or None
        Field of the mode along the wire over that of TE10, hashable; None for TE10.
    """

    a: float
    b: float
    shorts: tuple[float, float]
    wire: ProbeShape
    coax: CoaxLine
    profile: Profile | None = None

    def __call__(self, frequency: NDArray) -> ProbeNetwork:
        """Three-port at frequencies (f,), Hz."""
        return probe_network(
            self.a, self.b, self.wire, self.coax, frequency, *self.shorts, profile=self.profile
        )


@dataclass(frozen=True)
class BentFeedModel:
    """A bent probe in its guide, whose near end is a short; lengths in m."""

    a: float
    b: float
    wire: BentShape
    coax: CoaxLine

    def __call__(self, frequency: NDArray) -> ProbeNetwork:
        """Three-port at frequencies (f,), Hz."""
        return bent_network(self.a, self.b, self.wire, self.coax, frequency)


class PortResponse(NamedTuple):
    """At the reference plane: input impedance (f,) in ohm, S11 (f,), and the error of its sweep."""

    impedance: NDArray
    s11: NDArray
    error: float


class FeedInputs(ABC):
    """A feed as the kernels take it.

    Attributes
    ----------
    record : Record
        With a feed of this kind.
    """

    record: Record

    @abstractmethod
    def exact_s11(self, frequency: NDArray, inside: NDArray) -> NDArray:
        """S11 (f,) from the reflection of TE10 at the feed (f,), each frequency (f,) in Hz solved by
        itself."""

    @abstractmethod
    def response(self, frequency: NDArray, inside: NDArray) -> PortResponse:
        """Impedance and S11 from the reflection of TE10 at the feed (f,), swept over frequencies (f,) in
        Hz."""

    @abstractmethod
    def surface(self, frequency: NDArray, span: tuple[float, float]) -> FeedSurface:
        """The feed of a response surface at frequencies (f,) within a span, Hz."""

    @abstractmethod
    def deviations(self, limit: float) -> tuple[Deviation, ...]:
        """What may be wrong with the feed, and with the wall that it is measured from, each by up to `limit`
        (mm)."""


@dataclass(frozen=True)
class PortInputs(FeedInputs):
    """A guide port: the reference plane is its near end, the reference the wave impedance of TE10."""

    record: Record

    def exact_s11(self, frequency: NDArray, inside: NDArray) -> NDArray:
        """The reflection of TE10 itself."""
        return inside

    def response(self, frequency: NDArray, inside: NDArray) -> PortResponse:
        """The reflection of TE10 itself, and the impedance that it belongs to."""
        wave = wave_impedance(self.record.guide.line[0], frequency)
        return PortResponse(wave * input_impedance(inside, 1.0), inside, 0.0)

    def surface(self, frequency: NDArray, span: tuple[float, float]) -> PortSurface:
        """S11 is the reflection of TE10."""
        return PortSurface()

    def deviations(self, limit: float) -> tuple[Deviation, ...]:
        """None: there is no wire, and the near end is no wall."""
        return ()


class CoaxInputs(FeedInputs):
    """What every coax feed has: a wire with its network, and 50 ohm at the outer face of the wall."""

    @property
    @abstractmethod
    def feed(self) -> CoaxFeed:
        """That of the record."""

    @property
    def coax(self) -> CoaxLine:
        """The coax inside its wall."""
        feed, wall = self.feed, self.record.guide.thickness(self.feed.coax_wall)
        return CoaxLine(feed.coax_inner, feed.coax_outer, feed.coax_permittivity, wall)

    @property
    @abstractmethod
    def network(self) -> FeedModel:
        """The wire in its guide."""

    def exact_s11(self, frequency: NDArray, inside: NDArray) -> NDArray:
        """Of the coax; networks that were solved before are kept."""
        network = _solved(self.network, tuple(map(float, frequency)))
        return network.reflection(input_impedance(inside, 1.0), REFERENCE_OHM)

    def response(self, frequency: NDArray, inside: NDArray) -> PortResponse:
        """Of the coax, by a rational function of frequency."""
        network, error = swept_network(self.network, frequency)
        s11 = network.reflection(input_impedance(inside, 1.0), REFERENCE_OHM)
        return PortResponse(input_impedance(s11, REFERENCE_OHM), s11, error)

    def surface(self, frequency: NDArray, span: tuple[float, float]) -> ProbeSurface:
        """The numbers of its network."""
        return ProbeSurface(coax_network, self.coax, frequency, span)


def coax_network(record: Record) -> FeedModel:
    """The coax feed of a record; a function of the module, so that a response surface can be sent to another
    process."""
    inputs = feed_inputs(record)
    assert isinstance(inputs, CoaxInputs)
    return inputs.network


@lru_cache(maxsize=256)
def _solved(model: FeedModel, frequency: tuple[float, ...]) -> ProbeNetwork:
    return model(np.array(frequency))


def _near_end(limit: float, *measured: str) -> Deviation:
    """The near end wall, with the fields of the feed that are measured from it but stay where they are."""
    change = near_end_moved(*measured)
    return Deviation("near end", "the near end wall is", "mm", limit, "farther out", "farther in", change)


def _of_wire(
    name: str, subject: str, limit: float, field: str, more: str = "longer", less: str = "shorter"
) -> Deviation:
    """A dimension of the wire, on which S11 depends much."""
    return Deviation(name, subject, "mm", limit, more, less, field_changed("feed", field), calibrated=True)


@dataclass(frozen=True)
class StraightInputs(CoaxInputs):
    """A straight probe through a broad wall."""

    record: Record

    @property
    def feed(self) -> Probe:
        """That of the record."""
        return self.record.feed  # type: ignore[return-value]  # found by its kind

    @property
    def wire(self) -> ProbeShape:
        """Its wire."""
        feed = self.feed
        return ProbeShape(feed.offset, feed.height, feed.wire_diameter, feed.dielectric)

    @property
    def shorts(self) -> tuple[float, float]:
        """Distances to the near short and to the far one (infinity: a matched end), m."""
        guide, place = self.record.guide, self.feed.position
        return place - guide.near_face, guide.far_face - place if guide.far_end == "short" else math.inf

    @property
    def network(self) -> StraightFeedModel:
        """The wire in its guide."""
        shape = shape_inputs(self.record.guide)
        return StraightFeedModel(*shape.probe_section, self.shorts, self.wire, self.coax, shape.probe_profile)

    def deviations(self, limit: float) -> tuple[Deviation, ...]:
        """Its height, its place, the near end."""
        away, towards = "farther from the near end", "nearer to the near end"
        return (
            _of_wire("probe height", "the probe is", limit, "height_mm"),
            _of_wire("probe position", "the probe is", limit, "position_mm", away, towards),
            _near_end(limit, "position_mm"),
        )


@dataclass(frozen=True)
class BentInputs(CoaxInputs):
    """A bent probe through the near end."""

    record: Record

    @property
    def feed(self) -> BentProbe:
        """That of the record."""
        return self.record.feed  # type: ignore[return-value]  # found by its kind

    @property
    def wire(self) -> BentShape:
        """Its wire."""
        feed = self.feed
        return BentShape(
            feed.offset,
            feed.hole_height,
            feed.run,
            feed.riser_mm(self.record.guide.height_mm) * MM,
            1 if feed.towards == "front" else -1,
            feed.soldered_tip,
            feed.wire_diameter,
            feed.dielectric,
        )

    @property
    def network(self) -> BentFeedModel:
        """The wire in its guide."""
        return BentFeedModel(*self.record.guide.line, self.wire, self.coax)

    def deviations(self, limit: float) -> tuple[Deviation, ...]:
        """Its rise unless soldered, its run, its hole, the near end."""
        front, back = "nearer to the front wall", "nearer to the back wall"
        free_rise = _of_wire("probe rise", "the riser of the probe is", limit, "rise_mm")
        return (
            *(() if self.feed.soldered_tip else (free_rise,)),
            _of_wire("probe run", "the run of the probe is", limit, "run_mm"),
            _of_wire("hole height", "the hole in the end is", limit, "hole_height_mm", front, back),
            _near_end(limit),
        )


_FEEDS: dict[str, Callable[[Any], FeedInputs]] = {
    "probe": StraightInputs,
    "bent-probe": BentInputs,
    "guide-port": PortInputs,
}


def feed_inputs(record: Record) -> FeedInputs:
    """The feed of a record as the kernels take it."""
    return _FEEDS[record.feed.kind](record)
