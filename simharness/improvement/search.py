"""What to change when a run misses its target: every dimension alone, and the wire of the feed with each
other one.

The model is the space-mapping surrogate of measurements and tunings (`simharness.estimate.surrogate`),
calibrated by the run; see `simharness.improvement.trials`.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

from simharness.constants import MARKED_MM
from simharness.improvement.change import Change, Undo
from simharness.improvement.changes import changes
from simharness.improvement.trials import MODEL_ERROR, Calibrated, Proposal, Trials
from simharness.measurement.files import OnePort
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.verdict.match_state import MatchState

__all__ = ["MIN_GAIN_DB", "MODEL_ERROR", "RESTS_ON", "Improvement", "Proposal", "improvement"]

RESTS_ON = (
    "of 23 antennas that were changed in this way and solved, 22 came out within 0.05 of the predicted S11"
)

MIN_GAIN_DB = 0.5
"""Least gain in the worst S11 for which anything is changed."""


@dataclass(frozen=True)
class Improvement:
    """Everything that was found, in the order in which to try it.

    Attributes
    ----------
    worst_db : float
        Largest |S11| in the band of the run, dB.
    proposals : tuple of Proposal
        The best of each dimension and of each pair that gains `MIN_GAIN_DB` at least.
    tried : tuple of str
        Names of the dimensions.
    """

    worst_db: float
    proposals: tuple[Proposal, ...]
    tried: tuple[str, ...]


def improvement(
    record: Record,
    run: OnePort,
    *,
    step_mm: float = MARKED_MM,
    possible: Sequence[Change] | None = None,
    model: Calibrated | None = None,
    progress: Progress | None = None,
) -> Improvement:
    """Try every change of a record that its run suggests.

    Parameters
    ----------
    record : Record
    run : OnePort
        S11 of its full-wave run.
    step_mm : float
        What can be marked: amounts are multiples of it.
    possible : sequence of Change or None
        What may be changed; all that is not stock without it.
    model : Calibrated or None
        What the run calibrates, where that is known already.
    progress : Progress or None
    """
    progress, everything = progress or Silent(), changes(record) if possible is None else possible
    progress.note(
        "what to change: the model is calibrated by the run, then every dimension is tried; some seconds"
    )
    search = Trials(record, run, step_mm, model)
    first = next((change for change in everything if change.undo is Undo.WIRE), None)
    first = first or next((change for change in everything if change.dimension.name == "slot length"), None)
    found = [] if first is None else search.alone(first)
    begin, others = time.monotonic(), [change for change in everything if change is not first]
    for number, other in enumerate(others):
        left = (time.monotonic() - begin) / max(number, 1) * (len(others) - number) if number else 0.0
        progress.advance(number / len(others), left, other.dimension.name)
        found += search.proposals(first, other)
    progress.done()
    unlike = {tuple((change.dimension.name, amount) for change, amount in p.parts): p for p in found}
    worth = [p for p in unlike.values() if p.worst_db <= search.worst_db - MIN_GAIN_DB]
    return Improvement(
        search.worst_db,
        tuple(sorted(worth, key=_order)),
        tuple(change.dimension.name for change in everything),
    )


_STATES = (MatchState.MET, MatchState.CLOSE, MatchState.MISSED)


def _order(proposal: Proposal) -> tuple:
    """First what surely reaches the target, then what is undone most easily, then what changes least."""
    reach = _STATES.index(proposal.state)
    if proposal.state is MatchState.MISSED:  # nothing reaches it: metal off good slots is no first step
        return reach, proposal.undo >= Undo.SLOTS, proposal.worst_db
    return reach, proposal.undo, len(proposal.parts), proposal.worst_db
