"""The record of a finished design: its dimensions, and what the builder wanted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import MM
from simharness.design.requirements import Requirements
from simharness.design.stock import StockGuide
from simharness.em.guide.rectangular import guide_wavelength
from simharness.em.probe.bent import BentShape
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


def _mm(value: float) -> float:
    """Millimetres without the last bits of binary fractions."""
    return round(float(value) * 1e3, 6)


def _ghz(value: float) -> float:
    return round(float(value) * 1e-9, 6)


def _cross_section(guide: StockGuide) -> dict:
    """Size and walls of the guide of the record."""
    if guide.diameter is not None:
        return {"shape": "round", "diameter_mm": _mm(guide.diameter), "wall_mm": _mm(guide.wall)}
    return {
        "a_mm": _mm(guide.a),
        "b_mm": _mm(guide.b),
        "front_wall_mm": _mm(guide.wall),
        "other_walls_mm": _mm(guide.wall),
        "make": guide.make,
    }


def _laminate(requirements: Requirements) -> dict:
    """What a laminate front changes in the guide of the record."""
    board = requirements.superstrate
    if board is None:
        return {}
    return {
        "front_wall_mm": _mm(board.thickness),
        "make": "folded",
        "laminate": {"permittivity": board.permittivity, "loss_tangent": board.loss_tangent},
    }


def _feed(requirements: Requirements, made: Dimensions) -> dict:
    """The feed of the record."""
    feed, wire = requirements.feed, made.wire
    found = {
        "wire_diameter_mm": _mm(feed.wire_diameter),
        "coax_inner_mm": _mm(feed.coax_inner),
        "coax_outer_mm": _mm(feed.coax_outer),
        "coax_permittivity": feed.coax_permittivity,
        "dielectric_mm": _mm(feed.dielectric),
        "connector": feed.connector,
    }
    if feed.flange is not None:
        found |= {"flange_mm": _mm(feed.flange), "flange_thickness_mm": _mm(feed.flange_thickness)}
    if not isinstance(wire, BentShape):
        return {
            "kind": "probe",
            "wall": "back",
            "position_mm": _mm(made.probe_place),
            "height_mm": _mm(wire.height),
        } | found
    rise = {} if wire.soldered else {"rise_mm": _mm(wire.rise)}
    # A tip on the inner copper of a board cannot be soldered from outside. TE10 is even over the height: the
    # mirrored wire does the same.
    mirrored = wire.soldered and requirements.superstrate is not None
    return (
        {
            "kind": "bent-probe",
            "hole_height_mm": _mm(wire.rise if mirrored else wire.height),
            "run_mm": _mm(wire.run),
            "towards": "back" if mirrored else "front",
            "tip": "soldered" if wire.soldered else "open",
        }
        | rise
        | found
    )


def record_name(requirements: Requirements, count: int) -> str:
    """Name of a record of this many slots, where none is wanted."""
    return f"{'two-faced-' if requirements.opposite_slots else ''}{count}-slot-{requirements.frequency / 1e9:.4g}".replace(
        ".", "g"
    )


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
    end = {}
    if requirements.far_end == "load":
        end = {
            "far_end": "load",
            "load_mm": _mm(np.ceil(float(guide_wavelength(guide.a, requirements.band[0])) * 1e3) * MM),
        }
    faces = (
        (("front", 1), ("back", requirements.opposite_slots))
        if requirements.opposite_slots
        else (("front", 1),)
    )
    slots = [
        {
            "position_mm": _mm(z),
            "offset_mm": _mm(side * x),
            "length_mm": _mm(length),
            "width_mm": _mm(requirements.slot_width),
            "ends": requirements.ends,
        }
        | ({"face": face} if requirements.opposite_slots else {})
        for z, x, length in zip(made.places, made.offsets, made.lengths)
        for face, side in faces
    ]
    return parse_record(
        {
            "schema": SCHEMA_VERSION,
            "name": requirements.name or record_name(requirements, count),
            "title": f"{'2 x ' if requirements.opposite_slots else ''}{count} slot{'s' if count > 1 else ''} in {guide.name}, {centre:g} GHz",
            "band": {
                "low_ghz": low,
                "centre_ghz": centre,
                "high_ghz": high,
                "target_s11_db": requirements.target_db,
            },
            "mounting": {"axis": requirements.axis},
            "guide": _cross_section(guide)
            | {"length_mm": _mm(made.end), "material": guide.material, **end}
            | _laminate(requirements),
            "slot": slots,
            "feed": _feed(requirements, made),
        },
        "design",
    )
