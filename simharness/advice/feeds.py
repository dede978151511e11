"""The advice on a feed; one class for each kind, found by `feed_advice`."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from simharness.advice.feed import CoaxAdvice, FeedAdvice
from simharness.advice.quantities import free_wavelength
from simharness.advice.solder import lifting_room
from simharness.constants import MM
from simharness.figures import Figure
from simharness.numerics.decibels import amplitude_decibels
from simharness.records import BentProbe, Probe, Record, RoundGuide
from simharness.records.outlines import slot_outline

_NEAR_WALL = 2.0
"""Diameters of a wire: nearer to a wall its current crowds on one side, which the estimate leaves out."""


@dataclass(frozen=True)
class PortAdvice(FeedAdvice):
    """A guide port."""

    record: Record

    def conductance_warnings(self, total: float) -> Iterator[str]:
        """A shorted row is matched where the sum is 1."""
        if self.record.guide.far_end == "short" and not 0.7 <= total <= 1.4:
            yield (
                f"the slot conductances add up to {total:.2f}; an end-fed array is matched when they add up "
                f"to 1 (best |S11| {amplitude_decibels(abs((1 - total) / (1 + total))):.0f} dB)"
            )


@dataclass(frozen=True)
class StraightAdvice(CoaxAdvice):
    """A straight probe through a broad wall."""

    record: Record

    @property
    def feed(self) -> Probe:  # type: ignore[override]
        """That of the record."""
        return self.record.feed  # type: ignore[return-value]  # found by its kind

    def wire_figures(self) -> dict[str, Figure]:
        """Its height."""
        height = self.feed.height / free_wavelength(self.record)
        return {"probe_height": Figure(height, "free-space wavelengths", "without the tip")}

    def wire_warnings(self) -> Iterator[str]:
        """A height that is seldom matched, or near the opposite wall."""
        feed, across, free = self.feed, self.record.guide.height_mm, free_wavelength(self.record)
        if not 0.12 * free <= feed.height <= 0.28 * free:
            yield (
                f"a probe of {feed.height_mm:g} mm is {feed.height / free:.2f} wavelengths high; probes are "
                f"matched near 0.19, {0.19 * free * 1e3:.0f} mm (common practice: 3/16 wavelength)"
            )
        if feed.height_mm > 0.85 * across:
            yield (
                f"the probe ends {across - feed.height_mm:.1f} mm below the opposite wall: the gap detunes "
                "it, and limits the power"
            )

    def direction(self, guide: RoundGuide) -> str:
        """The probe does."""
        turn = math.degrees(1 / guide.outer_radius_mm)
        return (
            f"the probe alone fixes it, and drilled 1 mm beside the {self.feed.wall} line it turns the mode "
            f"by {turn:.1f} degrees"
        )


@dataclass(frozen=True)
class BentAdvice(CoaxAdvice):
    """A bent probe through the near end."""

    record: Record

    @property
    def feed(self) -> BentProbe:  # type: ignore[override]
        """That of the record."""
        return self.record.feed  # type: ignore[return-value]  # found by its kind

    @property
    def _rise_mm(self) -> float:
        return self.feed.riser_mm(self.record.guide.height_mm)

    def wire_figures(self) -> dict[str, Figure]:
        """Its rise and its whole length."""
        high, run = self._rise_mm, self.feed.run_mm
        basis = "to the wall that it is soldered to" if self.feed.soldered_tip else "to the open tip"
        free = free_wavelength(self.record)
        return {
            "probe_rise": Figure(high * 1e-3 / free, "free-space wavelengths", basis),
            "probe_wire": Figure((run + high) * 1e-3, "m", "run and rise along the axis, sharp bend"),
        }

    def wire_warnings(self) -> Iterator[str]:
        """A wire near a wall, legs too short to bend, a tip at the edge of a slot."""
        feed, b, high = self.feed, self.record.guide.height_mm, self._rise_mm
        wire = feed.wire_diameter_mm
        gap = min(feed.hole_height_mm, b - feed.hole_height_mm) - wire / 2
        if gap < _NEAR_WALL * wire:
            yield (
                f"the run passes {gap:.1f} mm from a broad wall, less than twice its thickness: the "
                "estimate is less accurate there, and the gap limits the power"
            )
        left = feed.riser_room_mm(b) - high
        if not self.feed.soldered_tip and left < 0.15 * b:
            yield (
                f"the probe ends {left:.1f} mm before the {feed.towards} wall: the gap detunes it, and "
                "limits the power"
            )
        if min(feed.run_mm, high) < 3 * wire:
            yield (
                f"a leg of the probe is shorter than three times its thickness of {wire:g} mm: it cannot be "
                "bent so sharply"
            )
        if self.feed.soldered_tip:
            yield from self._tip_warnings()

    def _tip_warnings(self) -> Iterator[str]:
        feed, wire = self.feed, self.feed.wire_diameter_mm
        for number, slot in enumerate(self.record.slots, 1):
            left, first, right, last = (v / MM for v in slot_outline(slot).bounds)
            along = max(first - feed.run_mm, feed.run_mm - last)
            across = max(left - feed.offset_mm, feed.offset_mm - right)
            if slot.face == feed.towards and along < 2 * wire and across < 2 * wire:
                yield f"the soldered tip lies at the edge of slot {number}: solder would run into it"

    def tube_warnings(self) -> Iterator[str]:
        """A soldered tip whose wire cannot be lifted into its hole."""
        feed = self.feed
        if self.feed.soldered_tip and (lack := lifting_room(self.record, feed)) > 0:
            away = "above" if feed.towards == "front" else "below"
            yield (
                f"the tip comes through the {feed.towards} wall of a tube, but the run lies too near the "
                f"other wall to be lifted into its hole: move the run (hole_height_mm) {lack:.1f} mm {away} "
                "where it is, or set make = 'folded'"
            )

    def no_solder_warnings(self) -> Iterator[str]:
        """A stripped coax, and a tip soldered to the metal."""
        yield from super().no_solder_warnings()
        guide = self.record.guide
        if self.feed.soldered_tip and (self.feed.towards == "back" or guide.laminate is None):
            yield (
                f"the tip of the probe cannot be soldered to {guide.material}: solder it into a brass plate "
                "that is screwed on outside, or leave it open (tip = 'open'), or take brass, copper or tin "
                "plate for the walls"
            )

    def order_warnings(self) -> Iterator[str]:
        """A tip on copper that faces into the guide."""
        if (
            self.feed.soldered_tip
            and self.feed.towards == "front"
            and self.record.guide.substrate is not None
        ):
            yield (
                "the tip of the wire is soldered to copper that faces into the guide: it must be soldered "
                "before the board closes the box ('simharness sheets' gives the order of work), and it "
                "cannot be mended afterwards; towards = 'back' can be soldered from outside"
            )


_FEEDS: dict[str, Callable[[Record], FeedAdvice]] = {
    "probe": StraightAdvice,
    "bent-probe": BentAdvice,
    "guide-port": PortAdvice,
}


def feed_advice(record: Record) -> FeedAdvice:
    """The advice on the feed of a record."""
    return _FEEDS[record.feed.kind](record)
