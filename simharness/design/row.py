"""The row of slots of a design: how it is found, and what rows and feeds of given dimensions do."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0
from simharness.design.proposal_record import Dimensions
from simharness.design.requirements import Requirements
from simharness.em.pattern.row_beam import row_beamwidth, row_cut, row_directivity
from simharness.em.pattern.side_lobes import side_lobe_level
from simharness.em.probe.fit import FeedPlace
from simharness.em.probe.network import CoaxLine
from simharness.em.row.standing_wave import StandingDemand, designed_row, front_voltages
from simharness.em.row.travelling_wave import TravellingDemand, designed_travelling_row
from simharness.em.signals.impedance import normalized_admittance
from simharness.em.slot.basis import SlotAperture, SlottedGuide
from simharness.em.slot.faces import with_opposite_slots
from simharness.em.slot.moment import SlotMoment
from simharness.em.slot.one_term import stevenson_conductance
from simharness.em.slot.shape import rectangular_length
from simharness.errors import InputError, NotConvergedError
from simharness.estimate.beam import Lean, lean
from simharness.numerics.decibels import amplitude_decibels, decibels
from simharness.records import REFERENCE_OHM
from simharness.records.materials import material

_LOAD = 1.0
"""Usual load of a row on the guide. Between 1 and 1.5 the band of a probe-fed row is widest (computed)."""
_LARGEST_SHARE = 0.45
"""Mean sin^2(pi x/a) of a row: few slots load the guide less, and stay clear of the side walls."""
_PARTS = 1.0, 0.7, 0.45
"""Parts of that load that are tried in turn: slots that couple strongly allow less."""
_MIN_METAL = 1e-3
"""Between the last slot and the far end, m."""


@dataclass(frozen=True)
class DesignedRow:
    """A row of slots as it was found; lengths in m.

    Attributes
    ----------
    load : float
        Of the row on the guide, normalised.
    guide : SlottedGuide
        With its slots, those of the back wall included.
    beyond : float
        From the last slot to the far end: a short, or where an absorber begins.
    """

    load: float
    guide: SlottedGuide
    beyond: float


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


def row_found(requirements: Requirements, weights: NDArray) -> DesignedRow:
    """The row that drives its slots with these voltages (n,), the largest 1.

    Raises
    ------
    InputError
        There is no such row.
    NotConvergedError
        The slots did not settle.
    """
    return (_travelling if requirements.far_end == "load" else _standing)(requirements, weights)


def _travelling(requirements: Requirements, weights: NDArray) -> DesignedRow:
    """A travelling wave; the matched end begins half a guide wavelength beyond the last slot."""
    guide = requirements.guide
    row = designed_travelling_row(
        TravellingDemand(
            a=guide.a,
            b=guide.b,
            wall=guide.wall,
            width=requirements.slot_width,
            frequency=requirements.frequency,
            weights=tuple(map(float, weights)),
            residual_power=requirements.residual_power,
        )
    )
    load = float(normalized_admittance(row.reflection).real)
    return DesignedRow(load, row.guide, requirements.guide_wavelength / 2)


def _standing(requirements: Requirements, weights: NDArray) -> DesignedRow:
    """A standing wave before a short.

    The load is the one asked for, or the largest of a few that this guide allows.
    """
    guide = requirements.guide
    # a slot is at most half a free-space wavelength long
    room = requirements.guide_wavelength / 4 - 0.25 * C0 / requirements.frequency
    quarters = 1 if room >= max(_MIN_METAL, guide.wall) + requirements.step else 3
    demand = StandingDemand(
        a=guide.a,
        b=guide.b,
        wall=requirements.front_wall,
        width=requirements.slot_width,
        frequency=requirements.frequency,
        weights=tuple(map(float, weights)),
        far_quarters=quarters,
        opposite=requirements.opposite,
        superstrate=requirements.outside,
        diameter=guide.diameter,
    )
    largest = float(stevenson_conductance(guide.a, guide.b, guide.a / 2, requirements.frequency))
    usual = min(_LOAD, _LARGEST_SHARE * largest * weights.size * (2 if requirements.opposite else 1))
    for load in [usual * part for part in _PARTS] if requirements.load is None else [requirements.load]:
        try:
            row = designed_row(replace(demand, conductance=load)).guide
            beyond = row.far_short - row.slots[-1].position  # type: ignore[operator]  # it ends in a short
            return DesignedRow(load, row, beyond)
        except (InputError, NotConvergedError) as error:
            problem = error
    raise _refusal(requirements, weights.size, load, problem)


def _refusal(
    requirements: Requirements, count: int, load: float, problem: InputError | NotConvergedError
) -> InputError | NotConvergedError:
    """Why there is no such row, in terms of what was asked for."""
    if requirements.guide.even_rows and count % 2 and count > 1:
        return InputError(
            "slots",
            count,
            "no offsets were found: an odd number of slots in a round tube drives the wave turned by 90 "
            f"degrees, and nothing cancels it; take {count - 1} or {count + 1}",
        )
    if requirements.load is not None or not isinstance(problem, InputError) or problem.what != "load":
        return problem
    return InputError("slots", count, f"with a load of {load:.2f} {problem.allowed}")


def row_response(requirements: Requirements, made: Dimensions) -> tuple[NDArray, NDArray]:
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
        with_opposite_slots(slots, requirements.opposite),
        far_plane=made.end - first,
        far_short=made.end - first if requirements.far_end == "short" else None,
        conductivity=material(guide.material).conductivity,
        superstrate=requirements.outside,
        diameter=guide.diameter,
    )
    found = SlotMoment(row).solve(requirements.band)
    return found.s[:, 0, 0], front_voltages(row, found)[1]


def feed_place(requirements: Requirements, made: Dimensions, reflection: NDArray) -> FeedPlace:
    """The guide at the feed, with the reflection (3,) of the row at its first slot over the band."""
    feed = requirements.feed
    coax = CoaxLine(feed.coax_inner, feed.coax_outer, feed.coax_permittivity, requirements.guide.wall)
    gap = float(made.places[0] - made.probe_place)
    guide = requirements.guide
    return FeedPlace(
        guide.a, guide.b, coax, requirements.band, reflection, gap, REFERENCE_OHM, guide.diameter
    )


def performance(requirements: Requirements, made: Dimensions) -> Performance:
    """What an antenna of these dimensions does over the wanted band."""
    if made.wire is None:
        raise ValueError("the wire of the feed is not fitted yet")
    load, voltages = row_response(requirements, made)
    s11 = feed_place(requirements, made, load).reflection(made.wire, made.probe_place)
    angle, power = row_cut(voltages, made.places, requirements.frequency)
    return Performance(
        voltages / voltages[np.argmax(np.abs(voltages))],
        amplitude_decibels(np.abs(s11)),
        side_lobe_level(angle, power, np.pi / 2),
        row_beamwidth(voltages, made.places, requirements.frequency),
        decibels(
            row_directivity(
                voltages, made.places, requirements.frequency, requirements.tube, requirements.opposite
            )
        ),
        lean(angle, power),
    )
