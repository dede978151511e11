"""What contradicts the geometry or the mode: (field, value, what would be allowed)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from simharness.constants import C0, MM
from simharness.em.slot.centre_line import GREATEST_ASIDE, bend_radius
from simharness.records.feeds import BentProbe, CoaxFeed, Feed, Probe
from simharness.records.guide import Guide, RectangularGuide, RoundGuide
from simharness.records.outlines import slot_outline
from simharness.records.parts import Band
from simharness.records.slots import MAX_IN_A_WALL, Slot, SlotRule, slot_gap

Problem = tuple[str, object, str]

MISSING = "(missing)"
"""Stands in a message for the value of a field that is not given."""

MAX_SLOT_ANGLE = 60.0
"""Degrees from the front line within which slots in a round tube must lie: further round, the mesh has no square wall
for them, and a probe from the back faces them."""

ROUNDING_MM = 1e-9
"""Sums of decimal fractions differ from what stands in the file by less than this."""


def _up(length_mm: float) -> float:
    """The next tenth of a millimetre: printed advice must hold when it is followed."""
    return math.ceil(10 * length_mm) / 10


def _down(length_mm: float) -> float:
    return math.floor(10 * length_mm) / 10


def band_problems(band: Band, guide: Guide) -> Iterator[Problem]:
    """Band against cutoff and against the next mode."""
    if not band.low_ghz < band.centre_ghz < band.high_ghz:
        yield (
            "band.centre_ghz",
            band.centre_ghz,
            (f"must lie between low_ghz {band.low_ghz:g} and high_ghz {band.high_ghz:g}"),
        )
        return
    yield from (_diameter_problems if isinstance(guide, RoundGuide) else _width_problems)(band, guide)


def _width_problems(band: Band, guide: RectangularGuide) -> Iterator[Problem]:
    cutoff = guide.cutoff
    if band.low < 1.02 * cutoff:
        least = _up(1.02 * C0 / (2e6 * band.low_ghz))
        yield (
            "guide.a_mm",
            guide.a_mm,
            (
                f"the guide cuts off at {cutoff / 1e9:.3f} GHz, too near or above band.low_ghz "
                f"{band.low_ghz:g}; make a_mm at least {least:g}"
            ),
        )
    following = C0 / 2e6 / max(guide.a_mm / 2, guide.b_mm)
    if band.high_ghz > following:
        which = "a_mm" if guide.a_mm / 2 >= guide.b_mm else "b_mm"
        most = _down(C0 / 2e6 / band.high_ghz * (2 if which == "a_mm" else 1))
        yield (
            f"guide.{which}",
            getattr(guide, which),
            (
                f"a second mode runs from {following:.3f} GHz, below band.high_ghz "
                f"{band.high_ghz:g}; make {which} at most {most:g}"
            ),
        )


def _diameter_problems(band: Band, guide: RoundGuide) -> Iterator[Problem]:
    cutoff, (mode, following), diameter = guide.cutoff, guide.next_mode, guide.diameter_mm
    if band.low < 1.02 * cutoff:
        yield (
            "guide.diameter_mm",
            diameter,
            (
                f"the tube cuts off at {cutoff / 1e9:.3f} GHz, too near or above band.low_ghz "
                f"{band.low_ghz:g}; make diameter_mm at least {_up(1.02 * cutoff * diameter / band.low):g}"
            ),
        )
    if band.high > following:
        yield (
            "guide.diameter_mm",
            diameter,
            (
                f"a second mode, {mode}, runs from {following / 1e9:.3f} GHz, below band.high_ghz "
                f"{band.high_ghz:g}; make diameter_mm at most {_down(following * diameter / band.high):g}"
            ),
        )


def port_problems(
    guide: Guide, feed: Feed, rule: SlotRule | None, single: Sequence[Slot]
) -> Iterator[Problem]:
    """Feed against ends, the two ways to give slots, and the back of a rule."""
    if feed.kind == "guide-port" and guide.near_end != "port":
        yield "guide.near_end", guide.near_end, "a guide-port feed needs near_end = 'port'"
    if isinstance(feed, CoaxFeed) and "port" in (guide.near_end, guide.far_end):
        end = "near_end" if guide.near_end == "port" else "far_end"
        yield (
            f"guide.{end}",
            "port",
            "a probe-fed guide has a short at its near end, and a short or a load at its far end",
        )
    if guide.far_end == "load" and guide.load_mm is None:
        yield (
            "guide.load_mm",
            MISSING,
            "a far end that is a load needs the length of its absorber; about a guide wavelength does",
        )
    if guide.far_end != "load" and guide.load_mm is not None:
        yield "guide.load_mm", guide.load_mm, "only with far_end = 'load'"
    given = rule and [name for name in ("back_first_mm", "back_offset_mm") if getattr(rule, name) is not None]
    if given and rule.faces == "front":
        yield f"slot_rule.{given[0]}", getattr(rule, given[0]), "only with faces = 'both'"
    if rule is not None and single:
        yield "slot", len(single), "give either [slot_rule] or [[slot]] entries, not both"
    if isinstance(feed, CoaxFeed) and rule is None and not single:
        yield "slot", 0, "an antenna needs at least one slot: add [slot_rule] or [[slot]]"


def round_problems(
    guide: Guide, feed: Feed, rule: SlotRule | None, single: Sequence[Slot]
) -> Iterator[Problem]:
    """What no model here covers in a round tube."""
    if not isinstance(guide, RoundGuide):
        return
    behind = "slots in the back of a round tube are not modelled; must be 'front'"
    if rule is not None:
        if rule.faces != "front":
            yield "slot_rule.faces", rule.faces, behind
        yield from _round_outline_problems("slot_rule.", rule)
    for i, slot in enumerate(single):
        if slot.face != "front":
            yield f"slot {i + 1} face", slot.face, behind
        yield from _round_outline_problems(f"slot {i + 1} ", slot)
    if isinstance(feed, BentProbe):
        yield (
            "feed.kind",
            feed.kind,
            "a bent probe in a round tube is not modelled; use 'probe' or 'guide-port'",
        )
    elif isinstance(feed, CoaxFeed) and (feed.connector == "panel" or feed.flange_mm is not None):
        yield (
            "feed.connector",
            feed.connector,
            "a flat flange does not lie on a round tube: use 'bare' or 'stripped', without flange_mm",
        )


def _round_outline_problems(where: str, slot: Slot | SlotRule) -> Iterator[Problem]:
    if slot.shape != "straight":
        yield f"{where}shape", slot.shape, "curved slots in a round tube are not modelled; must be 'straight'"
    if slot.ends == "tapered":
        yield (
            f"{where}ends",
            slot.ends,
            "tapered slots in a round tube are not modelled; must be 'round' or 'square'",
        )


def laminate_problems(guide: Guide, feed: Feed) -> Iterator[Problem]:
    """What no model here tells the truth about."""
    laminate = guide.laminate
    if laminate is None:
        return
    if laminate.copper == "outside":
        yield (
            "guide.laminate.copper",
            laminate.copper,
            (
                "the substrate would lie inside the guide and change its wave, which no model here covers; turn the board over: 'inside'"
            ),
        )
    if laminate.copper == "both" and laminate.slots == "etched":
        yield (
            "guide.laminate.slots",
            laminate.slots,
            (
                "between two sheets of copper power leaks away from the slots and ends up where the board's edges let it; etch one "
                "face bare and say copper = 'inside', or rout the slots, line their edges with copper and say 'routed'"
            ),
        )
    if isinstance(feed, Probe) and feed.wall == "front":
        yield "feed.wall", feed.wall, "a feed through a laminate is not modelled; use 'back'"


def _slot_aside(guide: RectangularGuide, where: str, slot: Slot) -> Iterator[Problem]:
    """A slot against the side walls."""
    aside = guide.a_mm / 2 - slot.width_mm / 2
    if slot.width_mm > guide.a_mm:
        yield f"{where} width_mm", slot.width_mm, f"must be less than a_mm {guide.a_mm:g}"
    elif abs(slot.offset_mm) > aside + ROUNDING_MM:
        yield (
            f"{where} offset_mm",
            slot.offset_mm,
            f"the slot runs over the side wall; |offset_mm| at most {aside:g}",
        )


def _slot_aside_round(guide: RoundGuide, where: str, slot: Slot) -> Iterator[Problem]:
    """A slot against the part of a round tube that counts as its front."""
    most = math.radians(MAX_SLOT_ANGLE) * guide.outer_radius_mm - slot.width_mm / 2
    if most <= 0:
        yield f"{where} width_mm", slot.width_mm, f"too wide for a tube of diameter_mm {guide.diameter_mm:g}"
    elif abs(slot.offset_mm) > most + ROUNDING_MM:
        yield (
            f"{where} offset_mm",
            slot.offset_mm,
            (
                f"the slot leaves the front of the tube, {MAX_SLOT_ANGLE:g} degrees to either side; |offset_mm| at most {_down(most):g}"
            ),
        )


def slot_problems(guide: Guide, slots: Sequence[Slot]) -> Iterator[Problem]:
    """Slots against the guide and each other; `slots` in the order of the file."""
    for wall in ("front", "back"):
        if (count := sum(slot.face == wall for slot in slots)) > MAX_IN_A_WALL:
            yield (
                "slot",
                count,
                f"so many lie in the {wall} wall; at most {MAX_IN_A_WALL} slots in one wall can be computed",
            )
            return
    whole = []
    for i, slot in enumerate(slots):
        where = f"slot {i + 1}"
        own = [(f"{where} {field}", value, allowed) for field, value, allowed in outline_problems(slot)]
        yield from own
        whole.append(not own)
        if slot.length_mm <= slot.width_mm:
            yield f"{where} length_mm", slot.length_mm, f"must be greater than width_mm {slot.width_mm:g}"
        if not own:
            yield from (_askew_place_problems if slot.off_grid else _place_problems)(where, guide, slot)
    for i in range(len(slots)):
        for j in range(i + 1, len(slots)):
            one, two = slots[i], slots[j]
            if whole[i] and whole[j] and one.face == two.face and slot_gap(one, two) == 0:
                yield (
                    f"slot {j + 1} position_mm",
                    two.position_mm,
                    (f"overlaps slot {i + 1} at {one.position_mm:g}; leave metal between them"),
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
        yield (
            "aside_mm",
            slot.aside_mm,
            f"must not be 0 with shape = '{slot.shape}', and {_down(most):g} at most: half a circle",
        )
    elif (radius := bend_radius(slot.shape, slot.length_mm, slot.aside_mm)) <= slot.width_mm / 2:
        yield (
            "aside_mm",
            slot.aside_mm,
            (
                f"bends the slot to a radius of {radius:.2f} mm, which must be more than half its width_mm {slot.width_mm:g}"
            ),
        )


def _place_problems(where: str, guide: Guide, slot: Slot) -> Iterator[Problem]:
    """A straight slot against the walls."""
    yield from (_slot_aside_round if isinstance(guide, RoundGuide) else _slot_aside)(guide, where, slot)
    along = slot.length_mm / 2
    if slot.length_mm > guide.length_mm:
        yield (
            f"{where} length_mm",
            slot.length_mm,
            f"must be less than the guide's length_mm {guide.length_mm:g}",
        )
    elif not along - ROUNDING_MM <= slot.position_mm <= guide.length_mm - along + ROUNDING_MM:
        yield (
            f"{where} position_mm",
            slot.position_mm,
            (f"the slot runs past an end of the guide; allowed {along:g} to {guide.length_mm - along:g}"),
        )


def _askew_place_problems(where: str, guide: RectangularGuide, slot: Slot) -> Iterator[Problem]:
    """The outline of a curved or tapered slot against the walls."""
    low, first, high, last = (v / MM for v in slot_outline(slot).bounds)
    half = guide.a_mm / 2
    if high - low > guide.a_mm:
        yield (
            f"{where} aside_mm",
            slot.aside_mm,
            f"the slot is {high - low:.1f} mm wide over all; a_mm is {guide.a_mm:g}",
        )
    elif high > half + ROUNDING_MM or low < -half - ROUNDING_MM:
        yield (
            f"{where} offset_mm",
            slot.offset_mm,
            (
                f"the slot runs over the side wall; allowed {slot.offset_mm - low - half:.2f} to {slot.offset_mm - high + half:.2f}"
            ),
        )
    if first < -ROUNDING_MM or last > guide.length_mm + ROUNDING_MM:
        yield (
            f"{where} position_mm",
            slot.position_mm,
            (
                f"the slot runs past an end of the guide; allowed {slot.position_mm - first:.2f} to "
                f"{guide.length_mm - last + slot.position_mm:.2f}"
            ),
        )
