"""What contradicts the feed, one class for each kind: (field, value, what would be allowed)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Protocol

from shapely.geometry import box

from simharness.constants import MM
from simharness.records.feeds import BentProbe, CoaxFeed, Feed, GuidePort, Probe
from simharness.records.guide import Guide
from simharness.records.outlines import slot_outline
from simharness.records.problems import MISSING, ROUNDING_MM, Problem
from simharness.records.problems.shapes import shape_problems
from simharness.records.problems.slots import outline_problems
from simharness.records.slots import Slot


class FeedProblems(Protocol):
    """What a record asks of its feed."""

    needs_slots: bool

    def __init__(self, feed: Any): ...

    def modelled(self, guide: Guide) -> Iterator[Problem]:
        """What no model covers in a guide of this shape."""
        ...

    def ends(self, guide: Guide) -> Iterator[Problem]:
        """Feed against the ends of the guide."""
        ...

    def laminate(self, guide: Guide) -> Iterator[Problem]:
        """Feed against a front of laminate."""
        ...

    def place(self, guide: Guide, slots: Sequence[Slot]) -> Iterator[Problem]:
        """Feed against itself, the walls and the slots, these in order along the guide."""
        ...


class PortProblems:
    """What contradicts a feed by the mode of the guide itself."""

    needs_slots = False

    def __init__(self, feed: GuidePort):
        self.feed = feed

    def modelled(self, guide: Guide) -> Iterator[Problem]:
        """Nothing: it is modelled in every guide."""
        yield from ()

    def ends(self, guide: Guide) -> Iterator[Problem]:
        """The near end must be the port."""
        if guide.near_end != "port":
            yield "guide.near_end", guide.near_end, "a guide-port feed needs near_end = 'port'"

    def laminate(self, guide: Guide) -> Iterator[Problem]:
        """Nothing."""
        yield from ()

    def place(self, guide: Guide, slots: Sequence[Slot]) -> Iterator[Problem]:
        """Nothing: it takes the whole end."""
        yield from ()


class CoaxProblems:
    """What contradicts any coax feed: its diameters, its dielectric, its connector."""

    needs_slots = True

    def __init__(self, feed: CoaxFeed):
        self.coax = feed

    @property
    def hole_radius(self) -> float:
        """Of the hole in the wall, or of the wire that has to pass it, mm."""
        return max(self.coax.coax_outer_mm, self.coax.wire_diameter_mm) / 2

    def modelled(self, guide: Guide) -> Iterator[Problem]:
        """Kinds of feed and connectors that this shape of guide does not take."""
        feed, shape = self.coax, shape_problems(guide)
        if feed.kind not in shape.feeds_modelled:
            yield (
                "feed.kind",
                feed.kind,
                "a bent probe in a round tube is not modelled; use 'probe' or 'guide-port'",
            )
        elif not shape.flat_walls and (feed.connector == "panel" or feed.flange_mm is not None):
            yield (
                "feed.connector",
                feed.connector,
                "a flat flange does not lie on a round tube: use 'bare' or 'stripped', without flange_mm",
            )

    def ends(self, guide: Guide) -> Iterator[Problem]:
        """Neither end may be a port."""
        if "port" in (guide.near_end, guide.far_end):
            end = "near_end" if guide.near_end == "port" else "far_end"
            yield (
                f"guide.{end}",
                "port",
                "a probe-fed guide has a short at its near end, and a short or a load at its far end",
            )

    def laminate(self, guide: Guide) -> Iterator[Problem]:
        """A coax through the laminate."""
        if guide.laminate is not None and self.coax.coax_wall == "front":
            yield (
                "feed.wall",
                self.coax.coax_wall,
                "a feed through a laminate is not modelled; use 'back'",
            )

    def place(self, guide: Guide, slots: Sequence[Slot]) -> Iterator[Problem]:
        """The coax by itself."""
        feed = self.coax
        if feed.coax_outer_mm <= feed.coax_inner_mm:
            yield (
                "feed.coax_outer_mm",
                feed.coax_outer_mm,
                f"must be greater than coax_inner_mm {feed.coax_inner_mm:g}",
            )
        if feed.dielectric_mm and feed.coax_outer_mm <= feed.wire_diameter_mm:
            yield (
                "feed.dielectric_mm",
                feed.dielectric_mm,
                f"the wire of {feed.wire_diameter_mm:g} mm is as thick as the dielectric; "
                "leave dielectric_mm out or use a thinner wire",
            )
        if feed.connector == "panel" and feed.flange_mm is None:
            yield (
                "feed.flange_mm",
                MISSING,
                "a panel connector has a flange: give the side of its square, or connector = 'bare'",
            )
        if feed.connector == "stripped" and feed.flange_mm is not None:
            yield (
                "feed.flange_mm",
                feed.flange_mm,
                "a stripped coax has no flange: leave flange_mm out, or use connector = 'panel'",
            )
        if feed.flange_mm is not None and feed.flange_mm <= feed.coax_outer_mm:
            yield (
                "feed.flange_mm",
                feed.flange_mm,
                f"must be greater than coax_outer_mm {feed.coax_outer_mm:g}",
            )


class ProbeProblems(CoaxProblems):
    """What contradicts a straight probe."""

    def __init__(self, feed: Probe):
        super().__init__(feed)
        self.feed = feed

    def place(self, guide: Guide, slots: Sequence[Slot]) -> Iterator[Problem]:
        """Probe against guide and slots."""
        yield from super().place(guide, slots)
        probe, radius = self.feed, self.hole_radius
        if probe.height_mm >= guide.height_mm:
            yield (
                "feed.height_mm",
                probe.height_mm,
                f"the probe would touch the far wall; must be less than {guide.height_field} "
                f"{guide.height_mm:g}",
            )
        if not radius < probe.position_mm < guide.length_mm - radius:
            yield (
                "feed.position_mm",
                probe.position_mm,
                f"the feed hole runs past an end of the guide; allowed {radius:g} to "
                f"{guide.length_mm - radius:g}",
            )
        yield from shape_problems(guide).hole_across(probe.offset_mm, radius, probe.coax_outer_mm)
        if probe.dielectric_mm > probe.height_mm:
            yield (
                "feed.dielectric_mm",
                probe.dielectric_mm,
                f"must not be longer than the wire: at most {probe.height_mm:g}",
            )
        yield from self._covered_slots(slots)

    def _covered_slots(self, slots: Sequence[Slot]) -> Iterator[Problem]:
        """Slots that the hole or the flange meets."""
        probe, radius = self.feed, self.hole_radius
        covered = max(radius, (probe.flange_mm or 0.0) / 2)
        what = "flange covers part of" if covered > radius else "feed hole cuts into"
        other = "back" if probe.wall == "front" else "front"
        for i, slot in enumerate(slots):
            if slot.face == probe.wall and _covers(probe, covered, slot):
                yield (
                    "feed.position_mm",
                    probe.position_mm,
                    f"the {what} slot {i + 1}; move it or use wall = '{other}'",
                )


def _covers(probe: Probe, reach: float, slot: Slot) -> bool:
    """Whether a square about the foot of a probe, to `reach` mm on each side, meets a slot."""
    if slot.off_grid and not any(outline_problems(slot)):
        x, z, half = probe.offset, probe.position, reach * MM
        return slot_outline(slot).intersects(box(x - half, z - half, x + half, z + half))
    along = abs(slot.position_mm - probe.position_mm) - slot.length_mm / 2 - reach
    across = abs(slot.offset_mm - probe.offset_mm) - slot.width_mm / 2 - reach
    return along <= 0 and across <= 0


class BentProbeProblems(CoaxProblems):
    """What contradicts a bent probe."""

    def __init__(self, feed: BentProbe):
        super().__init__(feed)
        self.feed = feed

    def place(self, guide: Guide, slots: Sequence[Slot]) -> Iterator[Problem]:
        """The hole in the near end, the run, the riser."""
        yield from super().place(guide, slots)
        feed, hole, wire = self.feed, self.hole_radius, self.feed.wire_diameter_mm / 2
        if not hole < feed.hole_height_mm < guide.height_mm - hole:
            yield (
                "feed.hole_height_mm",
                feed.hole_height_mm,
                f"the feed hole runs over a broad wall; allowed {hole:g} to {guide.height_mm - hole:g}",
            )
        yield from shape_problems(guide).hole_across(feed.offset_mm, hole, feed.coax_outer_mm)
        if not wire < feed.run_mm < guide.length_mm - wire:
            yield (
                "feed.run_mm",
                feed.run_mm,
                f"the riser runs past an end of the guide; allowed {wire:g} to {guide.length_mm - wire:g}",
            )
        if feed.dielectric_mm > feed.run_mm - wire:
            yield (
                "feed.dielectric_mm",
                feed.dielectric_mm,
                f"must end before the bend: at most {max(0.0, feed.run_mm - wire):g}",
            )
        yield from self._rise(guide)

    def _rise(self, guide: Guide) -> Iterator[Problem]:
        feed = self.feed
        room, wire = feed.riser_room_mm(guide.height_mm), feed.wire_diameter_mm / 2
        if feed.soldered_tip:
            if feed.rise_mm is not None and abs(feed.rise_mm - room) > ROUNDING_MM:
                yield (
                    "feed.rise_mm",
                    feed.rise_mm,
                    f"a soldered tip ends on the {feed.towards} wall: leave rise_mm out, or write {room:g}",
                )
        elif feed.rise_mm is None:
            yield "feed.rise_mm", MISSING, "an open tip needs rise_mm, or write tip = 'soldered'"
        elif not wire < feed.rise_mm < room:
            yield (
                "feed.rise_mm",
                feed.rise_mm,
                f"the riser must leave the run and end short of the {feed.towards} wall; allowed {wire:g} to "
                f"{room:g}",
            )


_KINDS: dict[str, type[FeedProblems]] = {
    "probe": ProbeProblems,
    "bent-probe": BentProbeProblems,
    "guide-port": PortProblems,
}


def feed_problems(feed: Feed) -> FeedProblems:
    """What contradicts a feed of its kind."""
    return _KINDS[feed.kind](feed)
