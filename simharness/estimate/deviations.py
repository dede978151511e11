"""The dimensions of a record that may have come out wrong: those of its slots, its guide, its feed."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.constants import C0
from simharness.estimate.deviation import (
    Deviation,
    cover_permittivity_changed,
    cover_taken_off,
    each_slot_changed,
    everything_scaled,
    field_changed,
    permittivity_changed,
    slot_covered,
)
from simharness.estimate.feeds import feed_inputs
from simharness.estimate.shapes import shape_inputs
from simharness.records import Record

__all__ = ["COVERED", "Deviation", "deviations"]

COVERED = " covered"
"""How the name of a slot ends that is taken as not there."""

LARGEST_SHARE = 1 / 30
"""Largest error of a dimension that is considered, in free-space wavelengths: 4 mm at 2.45 GHz."""
LARGEST_SCALE = 0.03
"""Largest error of a template's scale that is considered."""
LARGEST_PERMITTIVITY = 15.0
"""Of the permittivity of a laminate or a cover, per cent: glass epoxy is sold with 3.9 to 4.8 (common
practice)."""


def deviations(record: Record) -> tuple[Deviation, ...]:
    """Every deviation that is considered for a record; slots are numbered from the near end."""
    limit = round(1e3 * C0 / record.band.centre * LARGEST_SHARE, 2)
    return (
        *feed_inputs(record).deviations(limit),
        *_slot_deviations(record, limit),
        *_permittivity_deviations(record),
        *shape_inputs(record.guide).deviations(limit),
        *_far_end_deviations(record, limit),
        Deviation("scale", "everything is", "%", 100 * LARGEST_SCALE, "larger", "smaller", everything_scaled),
        *_cover_deviations(record, limit),
        *_covered_slots(record),
    )


def _slot_deviations(record: Record, limit: float) -> Iterator[Deviation]:
    """What may be wrong with all slots alike, and with the wall that they are cut in."""
    if not record.slots:
        return
    for name, field, more, less in (
        ("slot length", "length_mm", "longer", "shorter"),
        ("slot width", "width_mm", "wider", "narrower"),
        ("slot offset", "offset_mm", "farther from the centre line", "nearer to the centre line"),
    ):
        yield Deviation(name, "the slots are", "mm", limit, more, less, each_slot_changed(field), True)
    yield Deviation(
        "slot position",
        "the row of slots is",
        "mm",
        limit,
        "farther along the guide",
        "nearer to the near end",
        each_slot_changed("position_mm"),
    )
    wall = min(limit, 3 * record.guide.thickness_mm("front"))
    change = field_changed("guide", shape_inputs(record.guide).front_wall_field)
    yield Deviation("front wall", "the slotted wall is", "mm", wall, "thicker", "thinner", change)


def _permittivity_deviations(record: Record) -> Iterator[Deviation]:
    """What may be wrong with the substrate under the slots."""
    if record.slots and record.guide.substrate is not None:
        yield Deviation(
            "permittivity",
            "the permittivity of the laminate is",
            "%",
            LARGEST_PERMITTIVITY,
            "higher",
            "lower",
            permittivity_changed,
        )


def _cover_deviations(record: Record, limit: float) -> Iterator[Deviation]:
    """What may be wrong with the sheet on the slots."""
    if record.cover is None:
        return
    yield Deviation(
        "cover permittivity",
        "the permittivity of the cover is",
        "%",
        LARGEST_PERMITTIVITY,
        "higher",
        "lower",
        cover_permittivity_changed,
    )
    change = field_changed("cover", "gap_mm")
    yield Deviation(
        "cover gap", "the cover is", "mm", limit, "farther from the slots", "nearer to the slots", change
    )
    yield Deviation("cover off", "the cover is", "", 1.0, "not there", "", cover_taken_off)


def _far_end_deviations(record: Record, limit: float) -> Iterator[Deviation]:
    if record.guide.far_end == "short":
        change = field_changed("guide", "length_mm")
        yield Deviation(
            "far end", "the far end wall is", "mm", limit, "farther out", "farther in", change, True
        )


def _covered_slots(record: Record) -> Iterator[Deviation]:
    """Each slot of a row that has more than one, as if it were not there."""
    if len(record.slots) > 1:
        for index in range(len(record.slots)):
            number = f"slot {index + 1}"
            yield Deviation(
                f"{number}{COVERED}",
                f"{number} is",
                "",
                1.0,
                "covered or not cut through",
                "",
                slot_covered(index),
            )
