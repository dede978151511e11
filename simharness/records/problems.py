"""What contradicts the geometry or the mode: (field, value, what would be allowed)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from shapely.geometry import Point

from simharness.constants import C0, MM
from simharness.em.centre_line import GREATEST_ASIDE, bend_radius
from simharness.records.feeds import Feed, Probe
from simharness.records.guide import Guide
from simharness.records.parts import Band
from simharness.records.slots import Slot, SlotRule, slot_gap
from simharness.slot_outlines import slot_outline

Problem = tuple[str, object, str]

_ROUNDING_MM = 1e-9
"""Sums of decimal fractions differ from what stands in the file by less than this."""


def _up(length_mm: float) -> float:
    """The next tenth of a millimetre: printed advice must hold when it is followed."""
    return math.ceil(10 * length_mm) / 10


def _down(length_mm: float) -> float:
    return math.floor(10 * length_mm) / 10


def band_problems(band: Band, guide: Guide) -> Iterator[Problem]:
    """Band against cutoff and against the next mode."""
    if not band.low_ghz < band.centre_ghz < band.high_ghz:
        yield "band.centre_ghz", band.centre_ghz, (
            f"must lie between low_ghz {band.low_ghz:g} and high_ghz {band.high_ghz:g}"
        )
        return
    cutoff = C0 / (2e6 * guide.a_mm)
    if band.low_ghz < 1.02 * cutoff:
        least = _up(1.02 * C0 / (2e6 * band.low_ghz))
        yield "guide.a_mm", guide.a_mm, (
            f"the guide cuts off at {cutoff:.3f} GHz, too near or above band.low_ghz "
            f"{band.low_ghz:g}; make a_mm at least {least:g}"
        )
    following = C0 / 2e6 / max(guide.a_mm / 2, guide.b_mm)
    if band.high_ghz > following:
        which = "a_mm" if guide.a_mm / 2 >= guide.b_mm else "b_mm"
        most = _down(C0 / 2e6 / band.high_ghz * (2 if which == "a_mm" else 1))
        yield f"guide.{which}", getattr(guide, which), (
            f"a second mode runs from {following:.3f} GHz, below band.high_ghz "
            f"{band.high_ghz:g}; make {which} at most {most:g}"
        )


def port_problems(guide: Guide, feed: Feed, rule: SlotRule | None, single: Sequence[Slot]) -> Iterator[Problem]:
    """Feed against ends, and the two ways to give slots."""
    if feed.kind == "guide-port" and guide.near_end != "port":
        yield "guide.near_end", guide.near_end, "a guide-port feed needs near_end = 'port'"
    if feed.kind == "probe" and "port" in (guide.near_end, guide.far_end):
        end = "near_end" if guide.near_end == "port" else "far_end"
        yield f"guide.{end}", "port", "a probe-fed guide must be closed by a short at both ends"
    if rule is not None and single:
        yield "slot", len(single), "give either [slot_rule] or [[slot]] entries, not both"
    if feed.kind == "probe" and rule is None and not single:
        yield "slot", 0, "an antenna needs at least one slot: add [slot_rule] or [[slot]]"


def slot_problems(guide: Guide, slots: Sequence[Slot]) -> Iterator[Problem]:
    """Slots against the guide and each other; `slots` in the order of the file."""
    whole = []
    for i, slot in enumerate(slots):
        where = f"slot {i + 1}"
        own = [(f"{where} {field}", value, allowed) for field, value, allowed in outline_problems(slot)]
        yield from own
        whole.append(not own)
        if slot.length_mm <= slot.width_mm:
            yield f"{where} length_mm", slot.length_mm, f"must be greater than width_mm {slot.width_mm:g}"
        if not own:
            yield from (_askew_place_problems if slot.askew else _place_problems)(where, guide, slot)
    for i in range(len(slots)):
        for j in range(i + 1, len(slots)):
            one, two = slots[i], slots[j]
            if whole[i] and whole[j] and slot_gap(one, two) == 0:
                yield f"slot {j + 1} position_mm", two.position_mm, (
                    f"overlaps slot {i + 1} at {one.position_mm:g}; leave metal between them"
                )


def outline_problems(slot: Slot) -> Iterator[Problem]:
    """Fields of one slot that contradict each other."""
    if slot.taper_mm is not None and slot.ends != "tapered":
        yield "taper_mm", slot.taper_mm, "belongs to ends = 'tapered' only; leave it out"
    elif slot.ends == "tapered" and slot.tip_mm > slot.length_mm / 2:
        yield "taper_mm", slot.taper_mm, f"each tip may take half the length, {slot.length_mm / 2:g}, at most"
    if slot.shape == "straight":
        if slot.aside_mm != 0:
            yield "aside_mm", slot.aside_mm, "must be 0 for a straight slot; give shape = 'bent' or 's'"
        return
    most = GREATEST_ASIDE[slot.shape] * slot.length_mm
    if not 0 < abs(slot.aside_mm) <= most:
        yield "aside_mm", slot.aside_mm, f"must not be 0 with shape = '{slot.shape}', and {_down(most):g} at most: half a circle"
    elif (radius := bend_radius(slot.shape, slot.length_mm, slot.aside_mm)) <= slot.width_mm / 2:
        yield "aside_mm", slot.aside_mm, (
            f"bends the slot to a radius of {radius:.2f} mm, which must be more than half its width_mm {slot.width_mm:g}"
        )


def _place_problems(where: str, guide: Guide, slot: Slot) -> Iterator[Problem]:
    """A straight slot against the walls."""
    aside, along = guide.a_mm / 2 - slot.width_mm / 2, slot.length_mm / 2
    if slot.width_mm > guide.a_mm:
        yield f"{where} width_mm", slot.width_mm, f"must be less than a_mm {guide.a_mm:g}"
    elif abs(slot.offset_mm) > aside + _ROUNDING_MM:
        yield f"{where} offset_mm", slot.offset_mm, f"the slot runs over the side wall; |offset_mm| at most {aside:g}"
    if slot.length_mm > guide.length_mm:
        yield f"{where} length_mm", slot.length_mm, f"must be less than the guide's length_mm {guide.length_mm:g}"
    elif not along - _ROUNDING_MM <= slot.position_mm <= guide.length_mm - along + _ROUNDING_MM:
        yield f"{where} position_mm", slot.position_mm, (
            f"the slot runs past an end of the guide; allowed {along:g} to {guide.length_mm - along:g}"
        )


def _askew_place_problems(where: str, guide: Guide, slot: Slot) -> Iterator[Problem]:
    """The outline of a curved or tapered slot against the walls."""
    low, first, high, last = (v / MM for v in slot_outline(slot).bounds)
    half = guide.a_mm / 2
    if high - low > guide.a_mm:
        yield f"{where} aside_mm", slot.aside_mm, f"the slot is {high - low:.1f} mm wide over all; a_mm is {guide.a_mm:g}"
    elif high > half + _ROUNDING_MM or low < -half - _ROUNDING_MM:
        yield f"{where} offset_mm", slot.offset_mm, (
            f"the slot runs over the side wall; allowed {slot.offset_mm - low - half:.2f} to {slot.offset_mm - high + half:.2f}"
        )
    if first < -_ROUNDING_MM or last > guide.length_mm + _ROUNDING_MM:
        yield f"{where} position_mm", slot.position_mm, (
            f"the slot runs past an end of the guide; allowed {slot.position_mm - first:.2f} to "
            f"{guide.length_mm - last + slot.position_mm:.2f}"
        )


def probe_problems(guide: Guide, slots: Sequence[Slot], probe: Probe) -> Iterator[Problem]:
    """Probe against guide and slots; `slots` in order along the guide."""
    if probe.height_mm >= guide.b_mm:
        yield "feed.height_mm", probe.height_mm, (
            f"the probe would touch the far wall; must be less than b_mm {guide.b_mm:g}"
        )
    if probe.coax_outer_mm <= probe.coax_inner_mm:
        yield "feed.coax_outer_mm", probe.coax_outer_mm, (
            f"must be greater than coax_inner_mm {probe.coax_inner_mm:g}"
        )
    radius = max(probe.coax_outer_mm, probe.wire_diameter_mm) / 2
    if not radius < probe.position_mm < guide.length_mm - radius:
        yield "feed.position_mm", probe.position_mm, (
            f"the feed hole runs past an end of the guide; allowed {radius:g} to {guide.length_mm - radius:g}"
        )
    if abs(probe.offset_mm) + radius >= guide.a_mm / 2:
        yield "feed.offset_mm", probe.offset_mm, (
            f"the feed hole runs over the side wall; |offset_mm| less than {guide.a_mm / 2 - radius:g}"
        )
    if probe.wall == "front":
        for i, slot in enumerate(slots):
            along = abs(slot.position_mm - probe.position_mm) - slot.length_mm / 2 - radius
            across = abs(slot.offset_mm - probe.offset_mm) - slot.width_mm / 2 - radius
            hit = along <= 0 and across <= 0
            if slot.askew and not any(outline_problems(slot)):
                hit = slot_outline(slot).distance(Point(probe.offset_mm * MM, probe.position_mm * MM)) <= radius * MM
            if hit:
                yield "feed.position_mm", probe.position_mm, (
                    f"the feed hole cuts into slot {i + 1}; move it or use wall = 'back'"
                )
