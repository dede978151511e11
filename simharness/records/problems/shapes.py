"""What contradicts the shape of the guide, one class for each: (field, value, what would be allowed)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any, Protocol

from simharness.constants import C0, MM
from simharness.records.guide import Guide, RectangularGuide, RoundGuide
from simharness.records.outlines import slot_outline
from simharness.records.parts import Band
from simharness.records.problems import ROUNDING_MM, Problem, rounded_down, rounded_up
from simharness.records.slots import Slot, SlotRule

MAX_SLOT_ANGLE = 60.0
"""Degrees from the front line within which slots in a round tube must lie: further round, the mesh has no
square wall for them, and a probe from the back faces them."""

MIN_CUTOFF_RATIO = 1.02
"""Least lower edge of the band, in cutoffs of the lowest mode."""


class ShapeProblems(Protocol):
    """What a record asks of the shape of its guide."""

    def __init__(self, guide: Any): ...

    feeds_modelled: tuple[str, ...]
    """Kinds of feed that a model covers in a guide of this shape."""
    flat_walls: bool
    """Whether a flange lies flat on a wall."""

    def slots_modelled(self, rule: SlotRule | None, single: Sequence[Slot]) -> Iterator[Problem]:
        """Slots that no model covers in a guide of this shape."""
        ...

    def band(self, band: Band) -> Iterator[Problem]:
        """Band against cutoff and against the next mode."""
        ...

    def slot_across(self, where: str, slot: Slot) -> Iterator[Problem]:
        """A slot against the sides of its wall."""
        ...

    def hole_across(self, offset_mm: float, radius_mm: float, coax_outer_mm: float) -> Iterator[Problem]:
        """The hole of a coax through a broad wall against the sides of that wall."""
        ...


class RectangularProblems:
    """What contradicts a rectangular guide."""

    feeds_modelled: tuple[str, ...] = ("probe", "bent-probe", "guide-port")
    flat_walls = True

    def __init__(self, guide: RectangularGuide):
        self.guide = guide

    def slots_modelled(self, rule: SlotRule | None, single: Sequence[Slot]) -> Iterator[Problem]:
        """Nothing: all slots are modelled."""
        yield from ()

    def band(self, band: Band) -> Iterator[Problem]:
        """Band against cutoff and against the next mode."""
        guide = self.guide
        if band.low < MIN_CUTOFF_RATIO * guide.cutoff:
            least = rounded_up(MIN_CUTOFF_RATIO * C0 / (2e6 * band.low_ghz))
            yield (
                "guide.a_mm",
                guide.a_mm,
                f"the guide cuts off at {guide.cutoff / 1e9:.3f} GHz, too near or above band.low_ghz "
                f"{band.low_ghz:g}; make a_mm at least {least:g}",
            )
        following = C0 / 2e6 / max(guide.a_mm / 2, guide.b_mm)
        if band.high_ghz > following:
            which = "a_mm" if guide.a_mm / 2 >= guide.b_mm else "b_mm"
            most = rounded_down(C0 / 2e6 / band.high_ghz * (2 if which == "a_mm" else 1))
            yield (
                f"guide.{which}",
                getattr(guide, which),
                f"a second mode runs from {following:.3f} GHz, below band.high_ghz {band.high_ghz:g}; "
                f"make {which} at most {most:g}",
            )

    def slot_across(self, where: str, slot: Slot) -> Iterator[Problem]:
        """A slot against the side walls."""
        if slot.off_grid:
            yield from self._outline_across(where, slot)
            return
        aside = self.guide.a_mm / 2 - slot.width_mm / 2
        if slot.width_mm > self.guide.a_mm:
            yield f"{where} width_mm", slot.width_mm, f"must be less than a_mm {self.guide.a_mm:g}"
        elif abs(slot.offset_mm) > aside + ROUNDING_MM:
            yield (
                f"{where} offset_mm",
                slot.offset_mm,
                f"the slot runs over the side wall; |offset_mm| at most {aside:g}",
            )

    def _outline_across(self, where: str, slot: Slot) -> Iterator[Problem]:
        """The outline of a curved or tapered slot against the side walls."""
        low, _, high, _ = (v / MM for v in slot_outline(slot).bounds)
        half = self.guide.a_mm / 2
        if high - low > self.guide.a_mm:
            yield (
                f"{where} aside_mm",
                slot.aside_mm,
                f"the slot is {high - low:.1f} mm wide over all; a_mm is {self.guide.a_mm:g}",
            )
        elif high > half + ROUNDING_MM or low < -half - ROUNDING_MM:
            yield (
                f"{where} offset_mm",
                slot.offset_mm,
                f"the slot runs over the side wall; allowed {slot.offset_mm - low - half:.2f} to "
                f"{slot.offset_mm - high + half:.2f}",
            )

    def hole_across(self, offset_mm: float, radius_mm: float, coax_outer_mm: float) -> Iterator[Problem]:
        """The hole of a coax against the side walls."""
        if abs(offset_mm) + radius_mm >= self.guide.a_mm / 2:
            yield (
                "feed.offset_mm",
                offset_mm,
                "the feed hole runs over the side wall; |offset_mm| less than "
                f"{self.guide.a_mm / 2 - radius_mm:g}",
            )


class RoundProblems:
    """What contradicts a round tube."""

    feeds_modelled: tuple[str, ...] = ("probe", "guide-port")
    flat_walls = False

    def __init__(self, guide: RoundGuide):
        self.guide = guide

    def slots_modelled(self, rule: SlotRule | None, single: Sequence[Slot]) -> Iterator[Problem]:
        """Slots in the back, curved ones and tapered ones."""
        behind = "slots in the back of a round tube are not modelled; must be 'front'"
        if rule is not None:
            if rule.faces != "front":
                yield "slot_rule.faces", rule.faces, behind
            yield from _round_outline_problems("slot_rule.", rule)
        for i, slot in enumerate(single):
            if slot.face != "front":
                yield f"slot {i + 1} face", slot.face, behind
            yield from _round_outline_problems(f"slot {i + 1} ", slot)

    def band(self, band: Band) -> Iterator[Problem]:
        """Band against cutoff and against the next mode."""
        cutoff, (mode, following) = self.guide.cutoff, self.guide.next_mode
        diameter = self.guide.diameter_mm
        if band.low < MIN_CUTOFF_RATIO * cutoff:
            least = rounded_up(MIN_CUTOFF_RATIO * cutoff * diameter / band.low)
            yield (
                "guide.diameter_mm",
                diameter,
                f"the tube cuts off at {cutoff / 1e9:.3f} GHz, too near or above band.low_ghz "
                f"{band.low_ghz:g}; make diameter_mm at least {least:g}",
            )
        if band.high > following:
            most = rounded_down(following * diameter / band.high)
            yield (
                "guide.diameter_mm",
                diameter,
                f"a second mode, {mode}, runs from {following / 1e9:.3f} GHz, below band.high_ghz "
                f"{band.high_ghz:g}; make diameter_mm at most {most:g}",
            )

    def slot_across(self, where: str, slot: Slot) -> Iterator[Problem]:
        """A slot against the part of the tube that counts as its front."""
        guide = self.guide
        most = math.radians(MAX_SLOT_ANGLE) * guide.outer_radius_mm - slot.width_mm / 2
        if most <= 0:
            yield (
                f"{where} width_mm",
                slot.width_mm,
                f"too wide for a tube of diameter_mm {guide.diameter_mm:g}",
            )
        elif abs(slot.offset_mm) > most + ROUNDING_MM:
            yield (
                f"{where} offset_mm",
                slot.offset_mm,
                f"the slot leaves the front of the tube, {MAX_SLOT_ANGLE:g} degrees to either side; "
                f"|offset_mm| at most {rounded_down(most):g}",
            )

    def hole_across(self, offset_mm: float, radius_mm: float, coax_outer_mm: float) -> Iterator[Problem]:
        """The hole of a coax against the tube."""
        if offset_mm:
            yield "feed.offset_mm", offset_mm, "in a round tube the probe must point at the axis; must be 0"
        if radius_mm > self.guide.diameter_mm / 4:
            yield (
                "feed.coax_outer_mm",
                coax_outer_mm,
                f"the feed hole is too wide for diameter_mm {self.guide.diameter_mm:g}",
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


_SHAPES: dict[str, type[ShapeProblems]] = {"rectangular": RectangularProblems, "round": RoundProblems}


def shape_problems(guide: Guide) -> ShapeProblems:
    """What contradicts a guide of its shape."""
    return _SHAPES[guide.shape](guide)
