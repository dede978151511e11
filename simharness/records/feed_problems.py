"""What contradicts a coax feed: (field, value, what would be allowed)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shapely.geometry import box

from simharness.constants import MM
from simharness.records.feeds import BentProbe, CoaxFeed, Probe, room_above
from simharness.records.guide import Guide, RectangularGuide, RoundGuide
from simharness.records.outlines import slot_outline
from simharness.records.problems import MISSING, ROUNDING_MM, Problem, outline_problems
from simharness.records.slots import Slot


def _hole_radius(feed: CoaxFeed) -> float:
    """Of the hole in the wall, or of the wire that has to pass it, mm."""
    return max(feed.coax_outer_mm, feed.wire_diameter_mm) / 2


def coax_problems(guide: Guide, feed: CoaxFeed) -> Iterator[Problem]:
    """What every coax feed must keep: its diameters, and what sits on the wall."""
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
            (
                f"the wire of {feed.wire_diameter_mm:g} mm is as thick as the dielectric; leave dielectric_mm out or use a thinner wire"
            ),
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
        yield "feed.flange_mm", feed.flange_mm, f"must be greater than coax_outer_mm {feed.coax_outer_mm:g}"


def probe_problems(guide: Guide, slots: Sequence[Slot], probe: Probe) -> Iterator[Problem]:
    """Probe against guide and slots; `slots` in order along the guide."""
    if probe.height_mm >= guide.height_mm:
        across = "diameter_mm" if isinstance(guide, RoundGuide) else "b_mm"
        yield (
            "feed.height_mm",
            probe.height_mm,
            (f"the probe would touch the far wall; must be less than {across} {guide.height_mm:g}"),
        )
    radius = _hole_radius(probe)
    if not radius < probe.position_mm < guide.length_mm - radius:
        yield (
            "feed.position_mm",
            probe.position_mm,
            (
                f"the feed hole runs past an end of the guide; allowed {radius:g} to {guide.length_mm - radius:g}"
            ),
        )
    if isinstance(guide, RoundGuide):
        if probe.offset_mm:
            yield (
                "feed.offset_mm",
                probe.offset_mm,
                "in a round tube the probe must point at the axis; must be 0",
            )
        if radius > guide.diameter_mm / 4:
            yield (
                "feed.coax_outer_mm",
                probe.coax_outer_mm,
                f"the feed hole is too wide for diameter_mm {guide.diameter_mm:g}",
            )
    elif abs(probe.offset_mm) + radius >= guide.a_mm / 2:
        yield (
            "feed.offset_mm",
            probe.offset_mm,
            (f"the feed hole runs over the side wall; |offset_mm| less than {guide.a_mm / 2 - radius:g}"),
        )
    if probe.dielectric_mm > probe.height_mm:
        yield (
            "feed.dielectric_mm",
            probe.dielectric_mm,
            f"must not be longer than the wire: at most {probe.height_mm:g}",
        )
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


def bent_probe_problems(guide: RectangularGuide, feed: BentProbe) -> Iterator[Problem]:
    """Bent probe against guide: its hole in the near end, its run, its riser."""
    hole, wire = _hole_radius(feed), feed.wire_diameter_mm / 2
    if not hole < feed.hole_height_mm < guide.b_mm - hole:
        yield (
            "feed.hole_height_mm",
            feed.hole_height_mm,
            (f"the feed hole runs over a broad wall; allowed {hole:g} to {guide.b_mm - hole:g}"),
        )
    if abs(feed.offset_mm) + hole >= guide.a_mm / 2:
        yield (
            "feed.offset_mm",
            feed.offset_mm,
            (f"the feed hole runs over the side wall; |offset_mm| less than {guide.a_mm / 2 - hole:g}"),
        )
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
    yield from _rise_problems(guide, feed)


def _rise_problems(guide: RectangularGuide, feed: BentProbe) -> Iterator[Problem]:
    room, wire = room_above(feed, guide.b_mm), feed.wire_diameter_mm / 2
    if feed.tip == "soldered":
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
            (
                f"the riser must leave the run and end short of the {feed.towards} wall; allowed {wire:g} to {room:g}"
            ),
        )
