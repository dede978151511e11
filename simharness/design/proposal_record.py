"""The record of a finished design: its dimensions, and what the builder wanted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import MM
from simharness.design.feeds import feed_design
from simharness.design.requirements import Requirements
from simharness.design.stock_guide import in_mm
from simharness.em.guide.rectangular import guide_wavelength
from simharness.em.probe.fit import Wire
from simharness.records import SCHEMA_VERSION, Record, parse_record


@dataclass(frozen=True)
class Dimensions:
    """All that is marked and cut, m; places from the near end.

    Attributes
    ----------
    offsets, lengths, places : (n,) arrays
        Of the slots in the front; lengths from end to end, round ends included.
    end : float
        Inner length of the guide.
    probe_place : float
        Of the wire that couples to the guide.
    wire : Wire or None
        None before it is fitted.
    """

    offsets: NDArray
    lengths: NDArray
    places: NDArray
    end: float
    probe_place: float
    wire: Wire | None = None


def _ghz(value: float) -> float:
    return round(float(value) * 1e-9, 6)


def _laminate(requirements: Requirements) -> dict:
    """What a laminate front changes in the guide of the record."""
    board = requirements.superstrate
    if board is None:
        return {}
    return {
        "front_wall_mm": in_mm(board.thickness),
        "make": "folded",
        "laminate": {"permittivity": board.permittivity, "loss_tangent": board.loss_tangent},
    }


def _cover(requirements: Requirements) -> dict:
    """The cover of the record, of every wall with slots."""
    if requirements.cover is None:
        return {}
    face = {"face": "both"} if requirements.opposite else {}
    return {"cover": requirements.cover.model_dump(exclude_none=True) | face}


def _feed(requirements: Requirements, made: Dimensions) -> dict:
    """The feed of the record."""
    feed, wire = requirements.feed, made.wire
    found = {
        "wire_diameter_mm": in_mm(feed.wire_diameter),
        "coax_inner_mm": in_mm(feed.coax_inner),
        "coax_outer_mm": in_mm(feed.coax_outer),
        "coax_permittivity": feed.coax_permittivity,
        "dielectric_mm": in_mm(feed.dielectric),
        "connector": feed.connector,
    }
    if feed.flange is not None:
        found |= {"flange_mm": in_mm(feed.flange), "flange_thickness_mm": in_mm(feed.flange_thickness)}
    laminate = requirements.superstrate is not None
    return feed_design(feed).record_fields(wire, made.probe_place, laminate) | found


def record_name(requirements: Requirements, count: int) -> str:
    """Name of a record of this many slots, where none is wanted."""
    faces, frequency = "two-faced-" if requirements.opposite else "", f"{requirements.frequency / 1e9:.4g}"
    return f"{faces}{count}-slot-{frequency.replace('.', 'g')}"


def proposed_record(requirements: Requirements, made: Dimensions) -> Record:
    """The record of a design with these dimensions, without a note.

    Raises
    ------
    InputError
        No such antenna exists.
    """
    guide = requirements.guide
    low, centre, high = map(_ghz, requirements.band)
    count = made.places.size
    slot_count = f"{'2 x ' if requirements.opposite else ''}{count} slot{'s' if count > 1 else ''}"
    end = {}
    if requirements.far_end == "load":
        end = {
            "far_end": "load",
            "load_mm": in_mm(np.ceil(float(guide_wavelength(guide.a, requirements.band[0])) * 1e3) * MM),
        }
    faces = (("front", 1), ("back", requirements.opposite)) if requirements.opposite else (("front", 1),)
    slots = [
        {
            "position_mm": in_mm(z),
            "offset_mm": in_mm(side * x),
            "length_mm": in_mm(length),
            "width_mm": in_mm(requirements.slot_width),
            "ends": requirements.ends,
        }
        | ({"face": face} if requirements.opposite else {})
        for z, x, length in zip(made.places, made.offsets, made.lengths)
        for face, side in faces
    ]
    return parse_record(
        {
            "schema": SCHEMA_VERSION,
            "name": requirements.name or record_name(requirements, count),
            "title": f"{slot_count} in {guide.name}, {centre:g} GHz",
            "band": {
                "low_ghz": low,
                "centre_ghz": centre,
                "high_ghz": high,
                "target_s11_db": requirements.target_db,
            },
            "mounting": {"axis": requirements.axis},
            "guide": guide.section
            | {"length_mm": in_mm(made.end), "material": guide.material, **end}
            | _laminate(requirements),
            "slot": slots,
            "feed": _feed(requirements, made),
            **_cover(requirements),
        },
        "design",
    )
