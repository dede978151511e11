"""What may be changed of a feed; one class for each kind, found by `feed_changes`."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from simharness.constants import C0
from simharness.improvement.change import ChangeRange, Undo
from simharness.records import Probe, Record
from simharness.tuning.dimensions import HEIGHTS, MAX_BEND, MAX_HEIGHT, MAX_MOVE


class FeedChanges(ABC):
    """What may be changed of the feed of a record."""

    record: Record

    @abstractmethod
    def ranges(self) -> Iterator[ChangeRange]:
        """Every dimension, and how far."""

    def _wave_mm(self) -> float:
        """Of free space at the design frequency."""
        return 1e3 * C0 / self.record.band.centre

    def _near_end(self) -> ChangeRange:
        """The wall that the feed is measured from."""
        far = MAX_MOVE * self._wave_mm()
        return ChangeRange(
            "near end", -far, far, Undo.WALL, "move the near end wall {} out", "move the near end wall {} in"
        )


@dataclass(frozen=True)
class PortChanges(FeedChanges):
    """A guide port."""

    record: Record

    def ranges(self) -> Iterator[ChangeRange]:
        """Nothing."""
        return iter(())


@dataclass(frozen=True)
class StraightChanges(FeedChanges):
    """A straight probe."""

    record: Record

    def ranges(self) -> Iterator[ChangeRange]:
        """Its height, its place, the near end."""
        feed: Probe = self.record.feed  # type: ignore[assignment]  # found by its kind
        wave = self._wave_mm()
        low, high = HEIGHTS[0] * wave, min(HEIGHTS[1] * wave, MAX_HEIGHT * self.record.guide.height_mm)
        yield ChangeRange(
            "probe height",
            min(low - feed.height_mm, 0.0),
            max(high - feed.height_mm, 0.0),
            Undo.WIRE,
            "make the probe {} longer",
            "make the probe {} shorter",
            same_guide=True,
        )
        yield ChangeRange(
            "probe position",
            -MAX_MOVE * wave,
            MAX_MOVE * wave,
            Undo.HOLE,
            "move the probe {} away from the near end",
            "move the probe {} towards the near end",
        )
        yield self._near_end()


@dataclass(frozen=True)
class BentChanges(FeedChanges):
    """A bent probe."""

    record: Record

    def ranges(self) -> Iterator[ChangeRange]:
        """Its rise, its run, its hole, the near end."""
        far = MAX_BEND * self._wave_mm()
        riser, run, hole = "the riser of the probe", "the run of the probe", "the hole in the end"
        yield ChangeRange(
            "probe rise", -far, far, Undo.WIRE, f"make {riser} {{}} longer", f"make {riser} {{}} shorter"
        )
        yield ChangeRange(
            "probe run", -far, far, Undo.WIRE, f"make {run} {{}} longer", f"make {run} {{}} shorter"
        )
        yield ChangeRange(
            "hole height",
            -far,
            far,
            Undo.HOLE,
            f"move {hole} {{}} towards the front wall",
            f"move {hole} {{}} towards the back wall",
        )
        yield self._near_end()


_FEEDS: dict[str, Callable[[Record], FeedChanges]] = {
    "probe": StraightChanges,
    "bent-probe": BentChanges,
    "guide-port": PortChanges,
}


def feed_changes(record: Record) -> FeedChanges:
    """What may be changed of the feed of a record."""
    return _FEEDS[record.feed.kind](record)
