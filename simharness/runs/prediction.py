"""How long a run will take to settle, predicted from the ringing of the estimate."""

from __future__ import annotations

from simharness.em.signals.decay import ringing_time
from simharness.estimate.antenna import estimated_match
from simharness.records import Record
from simharness.results.settling import FIELD_UNEVEN
from simharness.solver.settings import SolverRequest


def settling_periods(record: Record, request: SolverRequest) -> float:
    """Periods of the centre after the pulse until a run of the record has settled.

    The poles of the estimate's S11 tell when the fields of the band lack no more than they may; S11 itself is
    continued by its poles as soon as they are known.

    Parameters
    ----------
    record : Record
    request : SolverRequest
        What the solver is asked for this record.
    """
    frequency, s11 = estimated_match(record)
    band = record.band.low, record.band.high
    # The pulse is at its height when half of it has gone in.
    ringing = ringing_time(frequency, s11, band, FIELD_UNEVEN) - request.pulse_length / 2
    return max(ringing * request.scene.spectrum.centre, request.usual_periods)
