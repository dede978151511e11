"""What contradicts a record, whatever its guide and its feed: (field, value, what would be allowed)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from simharness.records.cover import Cover
from simharness.records.guide import Guide
from simharness.records.parts import Band
from simharness.records.slots import Slot, SlotRule

Problem = tuple[str, object, str]

MISSING = "(missing)"
"""Stands in a message for the value of a field that is not given."""

ROUNDING_MM = 1e-9
"""Sums of decimal fractions differ from what stands in the file by less than this."""


def rounded_up(length_mm: float) -> float:
    """The next tenth of a millimetre: printed advice must hold when it is followed."""
    return math.ceil(10 * length_mm) / 10


def rounded_down(length_mm: float) -> float:
    """The tenth of a millimetre below."""
    return math.floor(10 * length_mm) / 10


def band_order_problems(band: Band) -> Iterator[Problem]:
    """The three frequencies of the band against each other."""
    if not band.low_ghz < band.centre_ghz < band.high_ghz:
        yield (
            "band.centre_ghz",
            band.centre_ghz,
            f"must lie between low_ghz {band.low_ghz:g} and high_ghz {band.high_ghz:g}",
        )


def load_problems(guide: Guide) -> Iterator[Problem]:
    """The absorber against the far end."""
    if guide.far_end == "load" and guide.load_mm is None:
        yield (
            "guide.load_mm",
            MISSING,
            "a far end that is a load needs the length of its absorber; about a guide wavelength does",
        )
    if guide.far_end != "load" and guide.load_mm is not None:
        yield "guide.load_mm", guide.load_mm, "only with far_end = 'load'"


def rule_problems(rule: SlotRule | None, single: Sequence[Slot]) -> Iterator[Problem]:
    """The two ways to give slots, and the back of a rule."""
    if rule is None:
        return
    given = [name for name in ("back_first_mm", "back_offset_mm") if getattr(rule, name) is not None]
    if given and rule.faces == "front":
        yield f"slot_rule.{given[0]}", getattr(rule, given[0]), "only with faces = 'both'"
    if single:
        yield "slot", len(single), "give either [slot_rule] or [[slot]] entries, not both"


def laminate_problems(guide: Guide) -> Iterator[Problem]:
    """A laminate front that no model here covers."""
    laminate = guide.laminate
    if laminate is None:
        return
    if laminate.copper == "outside":
        yield (
            "guide.laminate.copper",
            laminate.copper,
            "the substrate would lie inside the guide and change its wave, which no model here covers; "
            "turn the board over: 'inside'",
        )
    if laminate.copper == "both" and laminate.slots == "etched":
        yield (
            "guide.laminate.slots",
            laminate.slots,
            "between two sheets of copper power leaks away from the slots and ends up where the board's "
            "edges let it; etch one face bare and say copper = 'inside', or rout the slots, line their edges "
            "with copper and say 'routed'",
        )


def cover_problems(
    cover: Cover | None, guide: Guide, slots: Sequence[Slot], coax_wall: str | None
) -> Iterator[Problem]:
    """A cover whose material is not clear, or that no model here covers."""
    if cover is None:
        return
    if cover.material is None and (cover.permittivity is None or cover.loss_tangent is None):
        field = (
            "material"
            if cover.permittivity is None and cover.loss_tangent is None
            else ("permittivity" if cover.permittivity is None else "loss_tangent")
        )
        yield f"cover.{field}", MISSING, "give material, or both permittivity and loss_tangent"
    for field in ("permittivity", "loss_tangent"):
        if cover.material is not None and getattr(cover, field) is not None:
            yield (
                f"cover.{field}",
                getattr(cover, field),
                f"material '{cover.material}' has its own; give either material, or permittivity and "
                "loss_tangent",
            )
            break
    if guide.shape != "rectangular":
        yield (
            "cover",
            guide.shape,
            "a flat sheet does not lie on a round tube, and no model here takes a curved one: leave the "
            "table out",
        )
    if not slots:
        yield "cover", "no slots", "a cover without slots under it does nothing; leave the table out"
    faces = {slot.face for slot in slots}
    if slots and "front" not in faces:
        yield "cover.face", cover.face, "the front wall has no slots; turn the antenna round"
    elif cover.face == "both" and "back" not in faces:
        yield "cover.face", cover.face, "the back wall has no slots; must be 'front'"
    if coax_wall == "front":
        yield (
            "cover.face",
            cover.face,
            "the coax comes through the front wall, where the sheet would lie; put it through the back wall",
        )
