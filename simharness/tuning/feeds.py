"""What tuning asks of a feed: its variables, and what may be tuned besides; one object for each kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, ClassVar, Protocol

from simharness.errors import InputError
from simharness.records import BentProbe, Probe, Record
from simharness.tuning.dimensions import (
    ACCESS,
    HEIGHTS,
    MAX_BEND,
    MAX_HEIGHT,
    TuningVariable,
    reached,
)


class TunableFeed(Protocol):
    """A kind of feed as tuning sees it.

    Attributes
    ----------
    also : tuple of str
        What may be tuned besides the first variable, of `dimensions.ALSO`.
    suggested : tuple of str
        What of that to suggest where the target is not met.
    has_map : bool
        Whether two dimensions together make the match, so that a map over both is drawn.
    """

    also: ClassVar[tuple[str, ...]]
    suggested: ClassVar[tuple[str, ...]]
    has_map: ClassVar[bool]

    def variables(self, record: Record, wavelength_mm: float) -> tuple[TuningVariable, tuple[str, ...]]:
        """The variable that affects the match most, and the names of those that are always tuned with it."""
        ...


def _variable(name: str, label: str, here: float, least: float, most: float) -> TuningVariable:
    """A variable whose range contains its present value."""
    return TuningVariable(name, label, min(least, here), max(most, here), *ACCESS[name])


@dataclass(frozen=True)
class StraightProbeTuning:
    """A straight probe: its height matches it."""

    also: ClassVar[tuple[str, ...]] = ("position", "back-short", "slots")
    suggested: ClassVar[tuple[str, ...]] = ("back-short", "slots")
    has_map: ClassVar[bool] = False

    feed: Probe

    def variables(self, record: Record, wavelength_mm: float) -> tuple[TuningVariable, tuple[str, ...]]:
        """Its height, alone."""
        least = HEIGHTS[0] * wavelength_mm
        most = min(HEIGHTS[1] * wavelength_mm, MAX_HEIGHT * record.guide.height_mm)
        return _variable("height", "height of the probe", self.feed.height_mm, least, most), ()


@dataclass(frozen=True)
class BentProbeTuning:
    """A bent probe: one dimension cannot match it, so two are tuned together."""

    also: ClassVar[tuple[str, ...]] = ("run", "hole-height", "slots")
    suggested: ClassVar[tuple[str, ...]] = ("slots",)
    has_map: ClassVar[bool] = True

    feed: BentProbe

    def variables(self, record: Record, wavelength_mm: float) -> tuple[TuningVariable, tuple[str, ...]]:
        """Rise and run; where the tip is soldered, run and height of the hole."""
        feed, b_mm = self.feed, record.guide.height_mm
        if feed.soldered_tip:
            least, most = (reached(record, "run", sign * MAX_BEND * wavelength_mm) for sign in (-1, 1))
            return _variable("run", "run of the probe", feed.run_mm, least, most), ("hole-height",)
        here = feed.riser_mm(b_mm)
        least = max(here - MAX_BEND * wavelength_mm, feed.wire_diameter_mm)
        most = min(here + MAX_BEND * wavelength_mm, MAX_HEIGHT * feed.riser_room_mm(b_mm))
        return _variable("rise", "rise of the probe", here, least, most), ("run",)


FEEDS: dict[str, Callable[[Any], TunableFeed]] = {
    "probe": StraightProbeTuning,
    "bent-probe": BentProbeTuning,
}
"""The feeds that can be tuned, by `feed.kind`."""


def tunable_feed(record: Record) -> TunableFeed:
    """The feed of a record as tuning sees it.

    Raises
    ------
    InputError
        It has nothing to tune.
    """
    kind = record.feed.kind
    if kind not in FEEDS:
        raise InputError("feed.kind", kind, "only a coax probe can be tuned")
    return FEEDS[kind](record.feed)
