"""From requirements (`simharness.design.requirements`: frequency, beam, metal at hand) to a complete design
record.

The row of slots comes from `simharness.design.row`, the feed from `simharness.em.probe.fit`. All dimensions
are then rounded to what can be marked by hand, and the rounded antenna is computed again by the same models.
`simharness.design.messages` says what was chosen and why, `simharness.design.cautions` what to look out for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simharness.design.feeds import feed_design
from simharness.design.proposal_record import Dimensions, proposed_record
from simharness.design.requirements import Requirements, require_consistent, wanted_voltages
from simharness.design.row import Performance, feed_place, performance, row_found, row_response
from simharness.em.probe.fit import best_feed
from simharness.em.signals.match import deepest_match, worst_match
from simharness.em.slot.shape import rectangular_length
from simharness.estimate.antenna import estimated_match
from simharness.numerics.decibels import decibels
from simharness.records import Record


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
    """The antenna that fulfils the requirements.

    Raises
    ------
    InputError
        The requirements contradict themselves or the metal.
    NotConvergedError
        The slots did not settle.
    """
    require_consistent(requirements)
    weights = wanted_voltages(requirements)
    row = row_found(requirements, weights)
    slots = [slot for slot in row.guide.slots if slot.face == "front"]
    round_ends = -rectangular_length(0.0, requirements.slot_width, requirements.ends)
    exact = Dimensions(
        offsets=requirements.guide.marked(np.array([s.offset for s in slots])),
        lengths=np.array([s.length for s in slots]) + round_ends,
        places=np.array([s.position for s in slots]) + requirements.guide_wavelength / 2,
        end=slots[-1].position + row.beyond + requirements.guide_wavelength / 2,
        probe_place=0.0,
    )
    wire, back = best_feed(
        feed_place(requirements, exact, row_response(requirements, exact)[0]),
        feed_design(requirements.feed).to_fit,
        requirements.target_db,
    )
    exact = replace(exact, places=exact.places + back, end=exact.end + back, probe_place=back, wire=wire)
    rounded = _rounded(exact, requirements)
    record = proposed_record(requirements, rounded)
    return Design(
        requirements,
        weights,
        row.load,
        exact,
        rounded,
        performance(requirements, exact),
        performance(requirements, rounded),
        record,
        estimated(record),
    )


def estimated(record: Record) -> Match:
    """What `simharness.estimate.antenna` says of the match of a record."""
    frequency, s11 = estimated_match(record)
    edges = np.array([record.band.low, record.band.high])
    inside = np.union1d(frequency[(frequency > edges[0]) & (frequency < edges[1])], edges)
    worst_at, worst = worst_match(inside, np.interp(inside, frequency, s11), *edges)
    best_at, best = deepest_match(frequency, s11)
    return Match(decibels(worst), worst_at, decibels(best), best_at)


def _rounded(made: Dimensions, requirements: Requirements) -> Dimensions:
    """What can be marked."""
    step = requirements.step

    def near(value: NDArray) -> NDArray:
        return np.round(np.asarray(value) / step) * step

    def near_length(value: float) -> float:
        return float(near(np.asarray(value)))

    return Dimensions(
        near(made.offsets),
        near(made.lengths),
        near(made.places),
        near_length(made.end),
        near_length(made.probe_place),
        feed_design(requirements.feed).rounded(made.wire, near_length),
    )
