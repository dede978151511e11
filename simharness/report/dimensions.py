"""The dimensions of a record as tables: labels that say what this record has, and nothing that it has not."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from simharness.records import BentProbe, CoaxFeed, Record, RoundGuide
from simharness.sheets.build.section import Section

_SUFFIXES = {"_ghz": "GHz", "_db": "dB", "_s_per_m": "S/m"}
_SLOT_COLUMNS = {
    "position_mm": "centre from the near end",
    "offset_mm": "centre from the centre line",
    "length_mm": "length",
    "width_mm": "width",
    "ends": "ends",
}
_CURVE_COLUMNS = {"shape": "shape", "aside_mm": "aside", "tip_mm": "tips"}
"""Only where a slot is curved or tapered."""
_CLOSED = {
    "short": "closed by a plate",
    "port": "open: a port",
    "load": "closed by a plate, behind an absorber",
}
_CONNECTORS = {
    "bare": "connector on the wall",
    "panel": "panel connector with a square flange",
    "stripped": "cable, stripped and soldered in",
}
_COPPER = {"inside": "the inner face", "both": "both faces"}
_SLOTS = {"etched": "etched in the copper only", "routed": "routed through the board"}
_MAKES = {"folded": "folded from sheet", "tube": "slots cut in a stock tube"}

Row = tuple[str, str]


def _core(record: Record) -> str:
    """What runs in the middle of the coax."""
    return "inner conductor of the cable" if record.feed.connector == "stripped" else "pin of the connector"  # type: ignore[union-attr]


def _dielectric(record: Record) -> str:
    return "dielectric of the cable" if record.feed.connector == "stripped" else "insulator of the connector"  # type: ignore[union-attr]


def _tip(record: Record, value: Any) -> Row:
    if value == "open":
        return "tip", "open"
    inside = record.feed.towards == "front" and record.guide.laminate is not None  # type: ignore[union-attr]
    return (
        "tip",
        f"soldered to {'the copper of the board, inside' if inside else f'the {record.feed.towards} wall'}",
    )  # type: ignore[union-attr]


_OWN: dict[str, Callable[[Record, Any], Row | None]] = {
    "near_end": lambda record, value: ("near end", _CLOSED[value]),
    "far_end": lambda record, value: ("far end", _CLOSED[value]),
    "load_mm": lambda record, value: ("length of the absorber, beyond the inner length", f"{value:.10g} mm"),
    "make": lambda record, value: None,
    "conductivity_s_per_m": lambda record, value: ("conductivity of the walls", f"{value:.10g} S/m"),
    "front_wall_mm": lambda record, value: (
        "thickness of the board" if record.guide.laminate is not None else "thickness of the front wall",
        f"{value:.10g} mm",
    ),
    "shape": lambda record, value: None,
    "copper": lambda record, value: ("copper on", _COPPER.get(value, value)),
    "slots": lambda record, value: ("slots", _SLOTS[value]),
    "copper_um": lambda record, value: ("thickness of the copper", f"{value:.10g} um"),
    "connector": lambda record, value: ("coax", _CONNECTORS[value]),
    "coax_inner_mm": lambda record, value: (f"diameter of the {_core(record)}", f"{value:.10g} mm"),
    "coax_outer_mm": lambda record, value: (
        f"diameter of the {_dielectric(record)}, and of the hole in the wall",
        f"{value:.10g} mm",
    ),
    "coax_permittivity": lambda record, value: (
        f"relative permittivity of the {_dielectric(record)}",
        f"{value:.10g}",
    ),
    "dielectric_mm": lambda record, value: (
        (f"how far the {_dielectric(record)} stands into the guide", f"{value:.10g} mm") if value else None
    ),
    "flange_mm": lambda record, value: ("side of the flange", f"{value:.10g} mm"),
    "flange_thickness_mm": lambda record, value: (
        ("thickness of the flange", f"{value:.10g} mm") if record.feed.flange_mm is not None else None  # type: ignore[union-attr]
    ),
    "wall": lambda record, value: ("wall that the probe comes through", value),
    "towards": lambda record, value: ("wall that the riser goes towards", value),
    "tip": _tip,
    "rise_mm": lambda record, value: None,
}
"""Rows whose label or value depends on the record; None leaves the row out. All others take the words of their field."""


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
    head = ("dimension", "value")
    found = [
        Section(
            "Band and mounting", (), (head, *_rows(record, record.band), *_rows(record, record.mounting))
        ),
        Section("Guide", (), (head, *_guide_rows(record, make or record.guide.make))),
    ]
    if record.guide.laminate:
        found.append(Section("Laminate front wall", (), (head, *_rows(record, record.guide.laminate))))
    if isinstance(record.feed, CoaxFeed):
        found.append(
            Section("Feed", (), (head, *_feed_kind(record.feed, record), *_rows(record, record.feed)))
        )
    else:
        found.append(Section("Feed", (f"The {record.guide.mode} mode at the near end.",)))
    return (*found, *([_slots(record)] if record.slots else []))


def _guide_rows(record: Record, make: str) -> tuple[Row, ...]:
    rows = _rows(record, record.guide)
    if isinstance(record.guide, RoundGuide):
        return ("shape", "round tube"), *rows
    board = ", with a front wall of laminate" if record.guide.laminate is not None else ""
    return ("shape", "rectangular"), *rows, ("made", f"{_MAKES[make]}{board}")


def _feed_kind(feed: CoaxFeed, record: Record) -> tuple[Row, ...]:
    if not isinstance(feed, BentProbe):
        return (("probe", "straight"),)
    where = "to the wall" if feed.tip == "soldered" else "to the tip"
    return ("probe", "through the near end, bent"), (
        f"from the axis of the run {where}",
        f"{feed.riser_mm(record.guide.height_mm):.10g} mm",
    )


def _rows(record: Record, part: BaseModel) -> list[Row]:
    rows = []
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        if not field.description or value is None:
            continue
        if name in _OWN:
            row = _OWN[name](record, value)
        else:
            unit = _unit(name, field.json_schema_extra)
            row = (
                field.description.removesuffix(f", {unit}").split(";")[0],
                f"{_plain(value)} {unit}".rstrip(),
            )
        if row is not None:
            rows.append(row)
    return rows


def _unit(name: str, extra: Any) -> str:
    if isinstance(extra, dict) and "unit" in extra:
        return extra["unit"]
    return next((unit for suffix, unit in _SUFFIXES.items() if name.endswith(suffix)), "")


def _plain(value: Any) -> str:
    """As typed: ten digits tell all that a record can mean and hide the rounding of sums."""
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _slots(record: Record) -> Section:
    columns = _SLOT_COLUMNS | (_CURVE_COLUMNS if any(slot.off_grid for slot in record.slots) else {})
    columns |= {"face": "wall"} if record.two_faced else {}
    head = ("slot", *(f"{words}, mm" if name.endswith("_mm") else words for name, words in columns.items()))
    rows = [
        (
            str(number),
            *("-" if getattr(slot, name) is None else _plain(getattr(slot, name)) for name in columns),
        )
        for number, slot in enumerate(record.slots, 1)
    ]
    where = "both broad walls" if record.two_faced else f"the {record.slots[0].face} wall"
    return Section("Slots", (f"Longitudinal, in {where}. The sign of an offset is the side.",), (head, *rows))
