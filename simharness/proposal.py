"""From a wish (`simharness.wish`: frequency, beam, metal at hand) to a complete design record.

The row of slots comes from `simharness.em.synthesis`, the probe from
`simharness.em.feed_fit`. All dimensions are then rounded to what a hand can mark, and the
rounded antenna is computed again by the same models. `simharness.proposal_words` says
in sentences what was chosen and what to look out for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simharness.beam import Lean, lean
from simharness.constants import C0, MM
from simharness.em.feed_fit import FeedPlace, best_feed
from simharness.em.guide import guide_wavelength
from simharness.em.pattern import side_lobe_level
from simharness.em.probe_moment import CoaxLine
from simharness.em.row_beam import row_beamwidth, row_cut, row_directivity
from simharness.em.slot import stevenson_conductance
from simharness.em.slot_basis import Slot, SlottedGuide
from simharness.em.slot_faces import with_mates
from simharness.em.slot_moment import SlotMoment
from simharness.em.slot_shape import rectangular_length
from simharness.em.synthesis import RowDemand, designed_row, front_voltages
from simharness.em.travelling_row import TravellingDemand, designed_travelling_row
from simharness.errors import InputError, NotConvergedError
from simharness.materials import material
from simharness.records import REFERENCE_OHM, SCHEMA_VERSION, Record, parse_record
from simharness.stock import StockGuide
from simharness.wish import Wish, require_consistent, wanted_voltages

_LOAD = 1.0
"""Of the row on the guide. Between 1 and 1.5 the band of a probe-fed row is widest (computed)."""
_LARGEST_SHARE = 0.45
"""Mean sin^2(pi x/a) of a row: few slots load the guide less, and stay clear of the side walls."""
_LESS = 1.0, 0.7, 0.45
"""Parts of that load which are tried in turn: slots that act strongly on each other allow less."""
_LEAST_METAL = 1e-3
"""Between the last slot and the far end, m."""


@dataclass(frozen=True)
class Dimensions:
    """All that is marked and cut, m; places from the near end.

    Attributes
    ----------
    offsets, lengths, places : (n,) arrays
        Of the slots in the front; lengths from end to end, round ends included.
    end : float
        Inner length of the guide.
    probe_place, probe_height : float
    """

    offsets: NDArray
    lengths: NDArray
    places: NDArray
    end: float
    probe_place: float
    probe_height: float


@dataclass(frozen=True)
class Performance:
    """What an antenna of given dimensions does by the models of the design.

    Attributes
    ----------
    voltages : (n,) complex array
        Of the slots at the centre, largest magnitude 1.
    s11_db : (3,) array
        At the lower edge, the centre and the upper edge of the band, dB.
    side_lobe_db : float
        In the cut along the guide, dB; -inf where there is none.
    beamwidth : float
        In the cut along the guide, rad.
    directivity_db : float
        dBi.
    beam : Lean
        Where the beam points along the guide.
    """

    voltages: NDArray
    s11_db: NDArray
    side_lobe_db: float
    beamwidth: float
    directivity_db: float
    beam: Lean


@dataclass(frozen=True)
class Design:
    """A finished design: the record, and what stands behind it.

    Attributes
    ----------
    wish : Wish
    weights : (n,) array
        Wanted slot voltages, the largest 1.
    load : float
        Wanted load of the row on the guide.
    exact, rounded : Dimensions
        As computed, and as it can be marked.
    before, after : Performance
        Of the exact and of the rounded dimensions.
    record : Record
        Of the rounded dimensions; without a note.
    """

    wish: Wish
    weights: NDArray
    load: float
    exact: Dimensions
    rounded: Dimensions
    before: Performance
    after: Performance
    record: Record


def designed(wish: Wish) -> Design:
    """The antenna that fulfils a wish.

    Raises
    ------
    InputError
        The wish contradicts itself or the metal.
    NotConvergedError
        The slots did not settle.
    """
    require_consistent(wish)
    weights = wanted_voltages(wish)
    load, row, beyond = (_travelling if wish.far_end == "load" else _standing)(wish, weights)
    slots = [slot for slot in row.slots if slot.face == "front"]
    round_ends = -rectangular_length(0.0, wish.slot_width, wish.ends)
    exact = Dimensions(
        offsets=wish.guide.marked(np.array([s.offset for s in slots])),
        lengths=np.array([s.length for s in slots]) + round_ends,
        places=np.array([s.position for s in slots]) + wish.guide_wavelength / 2,
        end=slots[-1].position + beyond + wish.guide_wavelength / 2,
        probe_place=0.0,
        probe_height=0.0,
    )
    height, back = best_feed(_feed_place(wish, exact, _row(wish, exact)[0]))
    exact = replace(exact, places=exact.places + back, end=exact.end + back, probe_place=back, probe_height=height)
    rounded = _rounded(exact, wish.step)
    return Design(wish, weights, load, exact, rounded, performance(wish, exact),
                  performance(wish, rounded), _record(wish, rounded))


def performance(wish: Wish, made: Dimensions) -> Performance:
    """What an antenna of these dimensions does over the band of the wish."""
    load, voltages = _row(wish, made)
    s11 = _feed_place(wish, made, load).reflection(made.probe_height, made.probe_place)
    angle, power = row_cut(voltages, made.places, wish.frequency)
    return Performance(
        voltages / voltages[np.argmax(np.abs(voltages))],
        20 * np.log10(np.maximum(np.abs(s11), 1e-6)),
        side_lobe_level(angle, power, np.pi / 2),
        row_beamwidth(voltages, made.places, wish.frequency),
        10 * math.log10(row_directivity(voltages, made.places, wish.frequency, wish.tube, wish.mate)),
        lean(angle, power),
    )


def _travelling(wish: Wish, weights: NDArray) -> tuple[float, SlottedGuide, float]:
    """As `_standing`, for a travelling wave; the matched end begins half a guide wavelength beyond the last slot."""
    guide = wish.guide
    demand = TravellingDemand(guide.a, guide.b, guide.wall, wish.slot_width, wish.frequency, tuple(map(float, weights)),
                              wish.left_over)
    row = designed_travelling_row(demand)
    return float(((1 - row.reflection) / (1 + row.reflection)).real), row.guide, wish.guide_wavelength / 2


def _standing(wish: Wish, weights: NDArray) -> tuple[float, SlottedGuide, float]:
    """Load on the guide, row, and distance from the last slot to the far end, m.

    The load is the one asked for, or the largest of a few that this guide allows.
    """
    guide = wish.guide
    # a slot is at most half a free-space wavelength long
    room = wish.guide_wavelength / 4 - 0.25 * C0 / wish.frequency
    quarters = 1 if room >= max(_LEAST_METAL, guide.wall) + wish.step else 3
    voltages = tuple(map(float, weights))
    demand = RowDemand(guide.a, guide.b, wish.front_wall, wish.slot_width, wish.frequency, voltages, 1.0, quarters,
                       wish.mate, wish.cover, guide.diameter)
    if wish.load is not None:
        return wish.load, *_ended(designed_row(replace(demand, conductance=wish.load)).guide)
    largest = float(stevenson_conductance(guide.a, guide.b, guide.a / 2, wish.frequency))
    load = min(_LOAD, _LARGEST_SHARE * largest * weights.size * (2 if wish.mate else 1))
    for part in _LESS:
        try:
            return load * part, *_ended(designed_row(replace(demand, conductance=load * part)).guide)
        except (InputError, NotConvergedError) as error:
            problem = error
    raise problem


def _ended(row: SlottedGuide) -> tuple[SlottedGuide, float]:
    """A shorted row and the distance from its last slot to the short, m."""
    return row, row.far_short - row.slots[-1].position


def _row(wish: Wish, made: Dimensions) -> tuple[NDArray, NDArray]:
    """Reflection of TE10 at the first slot over the band, and slot voltages at the centre."""
    guide, first = wish.guide, made.places[0]
    slots = tuple(
        Slot(rectangular_length(float(length), wish.slot_width, wish.ends), wish.slot_width, float(x), float(z - first))
        for x, length, z in zip(guide.across(made.offsets), made.lengths, made.places)
    )
    row = SlottedGuide(guide.a, guide.b, wish.front_wall, with_mates(slots, wish.mate), far_plane=made.end - first,
                       far_short=made.end - first if wish.far_end == "short" else None,
                       conductivity=material(guide.material).conductivity, cover=wish.cover, diameter=guide.diameter)
    found = SlotMoment(row).solve(wish.band)
    return found.s[:, 0, 0], front_voltages(row, found)[1]


def _feed_place(wish: Wish, made: Dimensions, load: NDArray) -> FeedPlace:
    coax = CoaxLine(wish.coax_inner, wish.coax_outer, wish.coax_permittivity, wish.guide.wall)
    gap = float(made.places[0] - made.probe_place)
    guide = wish.guide
    return FeedPlace(guide.a, guide.b, wish.wire_diameter, coax, wish.band, load, gap, REFERENCE_OHM, guide.diameter)


def _rounded(made: Dimensions, step: float) -> Dimensions:
    def near(value):
        return np.round(np.asarray(value) / step) * step

    return Dimensions(near(made.offsets), near(made.lengths), near(made.places), float(near(made.end)),
                      float(near(made.probe_place)), float(near(made.probe_height)))


def _mm(value: float) -> float:
    """Millimetres without the last bits of binary fractions."""
    return round(float(value) * 1e3, 6)


def _ghz(value: float) -> float:
    return round(float(value) * 1e-9, 6)


def _cross_section(guide: StockGuide) -> dict:
    """Size and walls of the guide of the record."""
    if guide.diameter is not None:
        return {"shape": "round", "diameter_mm": _mm(guide.diameter), "wall_mm": _mm(guide.wall)}
    return {"a_mm": _mm(guide.a), "b_mm": _mm(guide.b), "front_wall_mm": _mm(guide.wall), "other_walls_mm": _mm(guide.wall),
            "make": guide.make}


def _laminate(wish: Wish) -> dict:
    """What a laminate front changes in the guide of the record."""
    board = wish.cover
    if board is None:
        return {}
    return {"front_wall_mm": _mm(board.thickness),
            "make": "folded", "laminate": {"permittivity": board.permittivity, "loss_tangent": board.loss_tangent}}


def _record(wish: Wish, made: Dimensions) -> Record:
    guide = wish.guide
    low, centre, high = map(_ghz, wish.band)
    count = made.places.size
    end = {}
    if wish.far_end == "load":
        end = {"far_end": "load", "load_mm": _mm(np.ceil(float(guide_wavelength(guide.a, wish.band[0])) * 1e3) * MM)}
    faces = (("front", 1), ("back", wish.mate)) if wish.mate else (("front", 1),)
    slots = [
        {"position_mm": _mm(z), "offset_mm": _mm(side * x), "length_mm": _mm(length), "width_mm": _mm(wish.slot_width),
         "ends": wish.ends} | ({"face": face} if wish.mate else {})
        for z, x, length in zip(made.places, made.offsets, made.lengths) for face, side in faces
    ]
    return parse_record({
        "schema": SCHEMA_VERSION,
        "name": wish.name or f"{'two-faced-' if wish.mate else ''}{count}-slot-{centre:g}".replace(".", "g"),
        "title": f"{'2 x ' if wish.mate else ''}{count} slot{'s' if count > 1 else ''} in {guide.name}, {centre:g} GHz",
        "band": {"low_ghz": low, "centre_ghz": centre, "high_ghz": high, "target_s11_db": -10.0},
        "mounting": {"axis": wish.axis},
        "guide": _cross_section(guide) | {"length_mm": _mm(made.end), "material": guide.material, **end} | _laminate(wish),
        "slot": slots,
        "feed": {"kind": "probe", "wall": "back", "position_mm": _mm(made.probe_place), "height_mm": _mm(made.probe_height),
                 "wire_diameter_mm": _mm(wish.wire_diameter), "coax_inner_mm": _mm(wish.coax_inner),
                 "coax_outer_mm": _mm(wish.coax_outer), "coax_permittivity": wish.coax_permittivity},
    }, "design")
