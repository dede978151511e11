"""The dimensions of a record as tables: what this record has, and nothing else."""

from __future__ import annotations

from simharness.records import Cover, Record
from simharness.records.cover import cover_material
from simharness.report.feeds import feed_section
from simharness.report.rows import Special, plain, rows
from simharness.report.shapes import guide_table
from simharness.sheets.build.section import Section

_SLOT_COLUMNS = {
    "position_mm": "centre from the near end",
    "offset_mm": "centre from the centre line",
    "length_mm": "length",
    "width_mm": "width",
    "ends": "ends",
}
_CURVE_COLUMNS = {"shape": "shape", "aside_mm": "aside", "tip_mm": "tips"}
"""Columns that appear only where a slot is curved or tapered."""
_COPPER = {"inside": "the inner face", "both": "both faces"}
_SLOTS = {"etched": "etched in the copper only", "routed": "routed through the board"}
_LAMINATE: Special = {
    "copper": lambda value: ("copper on", str(_COPPER.get(value, value))),
    "slots": lambda value: ("slots", _SLOTS[value]),
    "copper_um": lambda value: ("thickness of the copper", f"{plain(value)} um"),
}
_COVER: Special = {"material": lambda value: ("material", str(value))}


def dimension_sections(record: Record, make: str | None = None) -> tuple[Section, ...]:
    """Band, guide, feed and slots: every field that has a meaning in words, as it stands in the record.

    Parameters
    ----------
    record : Record
    make : str or None
        'folded' or 'tube', where it is not made as the record says.

    Returns
    -------
    tuple of Section
    """
    head, guide = ("dimension", "value"), record.guide
    band = (head, *rows(record.band, {}), *rows(record.mounting, {}))
    found = [
        Section("Band and mounting", (), band),
        Section("Guide", (), (head, *guide_table(guide).rows(make or guide.make))),
    ]
    if guide.laminate:
        found.append(Section("Laminate front wall", (), (head, *rows(guide.laminate, _LAMINATE))))
    if record.tape:
        tape = [(str(one.slot), one.end, plain(one.covers_mm)) for one in record.tape]
        said = "Copper tape over the ends of slots, from outside; a slot counts only as far as it is open."
        found.append(Section("Tape", (said,), (("slot", "end", "covered, mm"), *tape)))
    if record.screw:
        screws = [
            tuple(map(plain, (one.position_mm, one.offset_mm, one.diameter_mm, one.depth_mm)))
            for one in record.screw
        ]
        said = "Tuning screws through the back wall; depth is that of the tip inside the guide."
        columns = "from the near end, mm", "offset, mm", "diameter, mm", "depth, mm"
        found.append(Section("Screws", (said,), (columns, *screws)))
    found.append(feed_section(record))
    if record.wings is not None:
        found.append(Section("Wings", (), (head, *rows(record.wings, {}))))
    if record.mast is not None:
        title = f"{record.mast.noun.capitalize()} beside the antenna"
        found.append(Section(title, (), (head, *rows(record.mast, {}))))
    if record.pair is not None:
        found.append(Section("Second antenna", (), (head, *rows(record.pair, {}))))
    if record.cover is not None:
        found.append(_cover(record.cover))
    return (*found, *([_slots(record)] if record.slots else []))


def _cover(cover: Cover) -> Section:
    """The sheet, and the figures of its material with where they are from."""
    permittivity, loss_tangent = cover.constants
    said = f"{cover.text}: permittivity {permittivity:g}, loss tangent {loss_tangent:g}"
    if cover.material is not None:
        low, high = cover.spread
        said += f"; what is sold has {low:g} to {high:g} ({cover_material(cover.material).source})"
    return Section("Cover of the slots", (f"{said}.",), (("dimension", "value"), *rows(cover, _COVER)))


def _slots(record: Record) -> Section:
    columns = _SLOT_COLUMNS | (_CURVE_COLUMNS if any(slot.off_grid for slot in record.slots) else {})
    columns |= {"face": "wall"} if record.two_faced else {}
    head = ("slot", *(f"{label}, mm" if name.endswith("_mm") else label for name, label in columns.items()))
    found = [
        (
            str(number),
            *("-" if getattr(slot, name) is None else plain(getattr(slot, name)) for name in columns),
        )
        for number, slot in enumerate(record.slots, 1)
    ]
    where = "both broad walls" if record.two_faced else f"the {record.slots[0].face} wall"
    return Section(
        "Slots", (f"Longitudinal, in {where}. The sign of an offset is the side.",), (head, *found)
    )
