"""From a wish (`simharness.design.requirements`: frequency, beam, metal at hand) to a complete design record.

The row of slots comes from `simharness.em.row.standing_wave`, the probe from
`simharness.em.probe.fit`. All dimensions are then rounded to what a hand can mark, and the
rounded antenna is computed again by the same models. `simharness.design.messages` says
in sentences what was chosen and what to look out for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0
from simharness.design.proposal_record import Dimensions, proposed_record
from simharness.design.requirements import Requirements, require_consistent, wanted_voltages
from simharness.em.pattern.levels import side_lobe_level
from simharness.em.pattern.row_beam import row_beamwidth, row_cut, row_directivity
from simharness.em.probe.bent import BentShape
from simharness.em.probe.fit import FeedPlace, Wire, best_feed
from simharness.em.probe.straight import CoaxLine
from simharness.em.row.standing_wave import RowDemand, designed_row, front_voltages
from simharness.em.row.travelling_wave import TravellingDemand, designed_travelling_row
from simharness.em.signals.match import deepest_match, worst_match
from simharness.em.slot.basis import SlotAperture, SlottedGuide
from simharness.em.slot.faces import with_opposite_slots
from simharness.em.slot.moment import SlotMoment
from simharness.em.slot.one_term import stevenson_conductance
from simharness.em.slot.shape import rectangular_length
from simharness.errors import InputError, NotConvergedError
from simharness.estimate.antenna import estimated_match
from simharness.estimate.beam import Lean, lean
from simharness.numerics.decibels import amplitude_decibels, decibels
from simharness.records import REFERENCE_OHM, Record
from simharness.records.materials import material

_LOAD = 1.0
"""Of the row on the guide. Between 1 and 1.5 the band of a probe-fed row is widest (computed)."""
_LARGEST_SHARE = 0.45
"""Mean sin^2(pi x/a) of a row: few slots load the guide less, and stay clear of the side walls."""
_LESS = 1.0, 0.7, 0.45
"""Parts of that load which are tried in turn: slots that act strongly on each other allow less."""
_MIN_METAL = 1e-3
"""Between the last slot and the far end, m."""


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
class Match:
    """What the estimate says of the match of a finished record.

    Attributes
    ----------
    worst : float
        Largest |S11| in the band, dB.
    worst_at : float
        Where, Hz.
    best : float
        Least |S11| within the span of the estimate, dB.
    best_at : float
        Where, Hz.
    """

    worst: float
    worst_at: float
    best: float
    best_at: float


@dataclass(frozen=True)
class Design:
    """A finished design: the record, and what stands behind it.

    Attributes
    ----------
    requirements : Requirements
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
    match : Match
        Of the record.
    """

    requirements: Requirements
    weights: NDArray
    load: float
    exact: Dimensions
    rounded: Dimensions
    before: Performance
    after: Performance
    record: Record
    match: Match


def designed(requirements: Requirements) -> Design:
    """The antenna that fulfils a wish.

    Raises
    ------
    InputError
        The wish contradicts itself or the metal.
    NotConvergedError
        The slots did not settle.
    """
    require_consistent(requirements)
    weights = wanted_voltages(requirements)
    load, row, beyond = (_travelling if requirements.far_end == "load" else _standing)(requirements, weights)
    slots = [slot for slot in row.slots if slot.face == "front"]
    round_ends = -rectangular_length(0.0, requirements.slot_width, requirements.ends)
    exact = Dimensions(
        offsets=requirements.guide.marked(np.array([s.offset for s in slots])),
        lengths=np.array([s.length for s in slots]) + round_ends,
        places=np.array([s.position for s in slots]) + requirements.guide_wavelength / 2,
        end=slots[-1].position + beyond + requirements.guide_wavelength / 2,
        probe_place=0.0,
    )
    wire, back = best_feed(
        _feed_place(requirements, exact, _row(requirements, exact)[0]),
        requirements.feed.to_fit,
        requirements.target_db,
    )
    exact = replace(exact, places=exact.places + back, end=exact.end + back, probe_place=back, wire=wire)
    rounded = _rounded(exact, requirements.step)
    record = proposed_record(requirements, rounded)
    return Design(
        requirements,
        weights,
        load,
        exact,
        rounded,
        performance(requirements, exact),
        performance(requirements, rounded),
        record,
        estimated(record),
    )


def performance(requirements: Requirements, made: Dimensions) -> Performance:
    """What an antenna of these dimensions does over the band of the wish."""
    load, voltages = _row(requirements, made)
    s11 = _feed_place(requirements, made, load).reflection(made.wire, made.probe_place)
    angle, power = row_cut(voltages, made.places, requirements.frequency)
    return Performance(
        voltages / voltages[np.argmax(np.abs(voltages))],
        amplitude_decibels(np.abs(s11)),
        side_lobe_level(angle, power, np.pi / 2),
        row_beamwidth(voltages, made.places, requirements.frequency),
        decibels(
            row_directivity(
                voltages, made.places, requirements.frequency, requirements.tube, requirements.mate
            )
        ),
        lean(angle, power),
    )


def estimated(record: Record) -> Match:
    """What `simharness.estimate.antenna` says of the match of a record."""
    frequency, s11 = estimated_match(record)
    edges = np.array([record.band.low, record.band.high])
    inside = np.union1d(frequency[(frequency > edges[0]) & (frequency < edges[1])], edges)
    worst_at, worst = worst_match(inside, np.interp(inside, frequency, s11), *edges)
    best_at, best = deepest_match(frequency, s11)
    return Match(decibels(worst), worst_at, decibels(best), best_at)


def _travelling(requirements: Requirements, weights: NDArray) -> tuple[float, SlottedGuide, float]:
    """As `_standing`, for a travelling wave; the matched end begins half a guide wavelength beyond the last slot."""
    guide = requirements.guide
    demand = TravellingDemand(
        guide.a,
        guide.b,
        guide.wall,
        requirements.slot_width,
        requirements.frequency,
        tuple(map(float, weights)),
        requirements.left_over,
    )
    row = designed_travelling_row(demand)
    return (
        float(((1 - row.reflection) / (1 + row.reflection)).real),
        row.guide,
        requirements.guide_wavelength / 2,
    )


def _standing(requirements: Requirements, weights: NDArray) -> tuple[float, SlottedGuide, float]:
    """Load on the guide, row, and distance from the last slot to the far end, m.

    The load is the one asked for, or the largest of a few that this guide allows.
    """
    guide = requirements.guide
    # a slot is at most half a free-space wavelength long
    room = requirements.guide_wavelength / 4 - 0.25 * C0 / requirements.frequency
    quarters = 1 if room >= max(_MIN_METAL, guide.wall) + requirements.step else 3
    voltages = tuple(map(float, weights))
    demand = RowDemand(
        guide.a,
        guide.b,
        requirements.front_wall,
        requirements.slot_width,
        requirements.frequency,
        voltages,
        1.0,
        quarters,
        requirements.mate,
        requirements.cover,
        guide.diameter,
    )
    largest = float(stevenson_conductance(guide.a, guide.b, guide.a / 2, requirements.frequency))
    usual = min(_LOAD, _LARGEST_SHARE * largest * weights.size * (2 if requirements.mate else 1))
    for load in [usual * part for part in _LESS] if requirements.load is None else [requirements.load]:
        try:
            return load, *_ended(designed_row(replace(demand, conductance=load)).guide)
        except (InputError, NotConvergedError) as error:
            problem = error
    raise _refusal(requirements, weights.size, load, problem)


def _refusal(
    requirements: Requirements, count: int, load: float, problem: InputError | NotConvergedError
) -> InputError | NotConvergedError:
    """Why there is no such row, in terms of what was asked for."""
    if requirements.guide.diameter is not None and count % 2 and count > 1:
        return InputError(
            "slots",
            count,
            "no offsets were found: an odd number of slots in a round tube drives the wave turned by 90 "
            f"degrees, and nothing cancels it; take {count - 1} or {count + 1}",
        )
    if requirements.load is not None or not isinstance(problem, InputError) or problem.what != "load":
        return problem
    return InputError("slots", count, f"with a load of {load:.2f} {problem.allowed}")


def _ended(row: SlottedGuide) -> tuple[SlottedGuide, float]:
    """A shorted row and the distance from its last slot to the short, m."""
    return row, row.far_short - row.slots[-1].position


def _row(requirements: Requirements, made: Dimensions) -> tuple[NDArray, NDArray]:
    """Reflection of TE10 at the first slot over the band, and slot voltages at the centre."""
    guide, first = requirements.guide, made.places[0]
    slots = tuple(
        SlotAperture(
            rectangular_length(float(length), requirements.slot_width, requirements.ends),
            requirements.slot_width,
            float(x),
            float(z - first),
        )
        for x, length, z in zip(guide.across(made.offsets), made.lengths, made.places)
    )
    row = SlottedGuide(
        guide.a,
        guide.b,
        requirements.front_wall,
        with_opposite_slots(slots, requirements.mate),
        far_plane=made.end - first,
        far_short=made.end - first if requirements.far_end == "short" else None,
        conductivity=material(guide.material).conductivity,
        superstrate=requirements.cover,
        diameter=guide.diameter,
    )
    found = SlotMoment(row).solve(requirements.band)
    return found.s[:, 0, 0], front_voltages(row, found)[1]


def _feed_place(requirements: Requirements, made: Dimensions, load: NDArray) -> FeedPlace:
    feed = requirements.feed
    coax = CoaxLine(feed.coax_inner, feed.coax_outer, feed.coax_permittivity, requirements.guide.wall)
    gap = float(made.places[0] - made.probe_place)
    guide = requirements.guide
    return FeedPlace(guide.a, guide.b, coax, requirements.band, load, gap, REFERENCE_OHM, guide.diameter)


def _rounded(made: Dimensions, step: float) -> Dimensions:
    def near(value):
        return np.round(np.asarray(value) / step) * step

    return Dimensions(
        near(made.offsets),
        near(made.lengths),
        near(made.places),
        float(near(made.end)),
        float(near(made.probe_place)),
        _rounded_wire(made.wire, lambda value: float(near(value))),
    )


def _rounded_wire(wire: Wire, near: Callable[[float], float]) -> Wire:
    """A wire of lengths that can be marked; a soldered tip ends on its wall."""
    if not isinstance(wire, BentShape):
        return replace(wire, height=near(wire.height))
    height = near(wire.height)
    rise = wire.rise + wire.height - height if wire.soldered else near(wire.rise)
    return replace(wire, height=height, run=near(wire.run), rise=rise)
