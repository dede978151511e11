"""What can still be done with this metal: the smallest operations that bring S11 to its target."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import MARKED_MM
from simharness.errors import InputError
from simharness.estimate.deviation import Deviation
from simharness.improvement.change import Change
from simharness.improvement.search import Proposal, improvement
from simharness.measurement.files import OnePort
from simharness.numerics.decibels import decibels
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.tolerance.limits import Allowed, allowed_deviation
from simharness.verdict.match_state import MatchState
from simharness.workshop.antenna import BuiltAntenna, Interval
from simharness.workshop.operations import operations
from simharness.workshop.study import BuiltStudy, state_of_share

SHOWN = 3
"""Most operations that are told."""


@dataclass(frozen=True)
class Mend:
    """One thing to do.

    Attributes
    ----------
    proposal : Proposal
        What is done, and the record with it done.
    antenna : BuiltAntenna
        The model of the antenna with it done.
    error : float
        Of its S11 against metal, a distance in the complex plane.
    figures : dict of Interval
        Of the antenna after it, with all that is not known; see `BuiltAntenna.intervals`.
    by_model : dict of Interval
        The same against the full wave on the mesh of the run.
    likely : float
        Share of antennas with these readings that meet the target after it, 0 to 1.
    exact : tuple of (Change, Allowed)
        How far each amount may miss before S11 exceeds the target; empty where the target is not met.
    """

    proposal: Proposal
    antenna: BuiltAntenna
    error: float
    figures: dict[str, Interval]
    by_model: dict[str, Interval]
    likely: float
    exact: tuple[tuple[Change, Allowed], ...]

    @property
    def meets(self) -> bool:
        """Whether the model foresees that the target is met."""
        return self.figures["worst_s11"].value <= self.proposal.record.band.target_s11_db

    @property
    def state(self) -> MatchState:
        """Whether the target is met after it, with all that is not known."""
        return state_of_share(self.likely)


@dataclass(frozen=True)
class MendStudy:
    """What can be done with a finished antenna.

    Attributes
    ----------
    built : BuiltStudy
    mends : tuple of Mend
        In the order in which to try them; empty where nothing need be done, or nothing helps.
    tried : tuple of str
        All operations that were looked at.
    """

    built: BuiltStudy
    mends: tuple[Mend, ...]
    tried: tuple[str, ...]


@dataclass(frozen=True)
class _Known:
    """The calibrated model of a finished antenna; see `simharness.improvement.trials.Calibrated`."""

    calibrated: Record
    frequency: NDArray
    remainder: NDArray


def mend_study(
    built: BuiltStudy, *, step_mm: float = MARKED_MM, progress: Progress | None = None
) -> MendStudy:
    """Look for what brings a finished antenna to its target.

    Parameters
    ----------
    built : BuiltStudy
    step_mm : float
        Amounts are multiples of it.
    progress : Progress or None
    """
    progress, antenna = progress or Silent(), built.antenna
    possible = operations(built.record)
    tried = tuple(change.dimension.name for change in possible)
    if built.meets:  # best left alone
        return MendStudy(built, (), tried)
    found = improvement(
        built.record,
        OnePort(built.base.frequency, antenna.s11),
        step_mm=step_mm,
        possible=possible,
        model=_Known(antenna.calibrated, built.base.frequency, antenna.remainder),
        progress=progress,
    )
    mends = []
    for proposal in _worth(found.proposals, built.record.band.target_s11_db):
        try:
            mends.append(_mend(built, proposal, progress))
        except InputError:
            continue
        if len(mends) == SHOWN:
            break
    return MendStudy(built, tuple(mends), tried)


def _worth(proposals: tuple[Proposal, ...], target_db: float) -> list[Proposal]:
    """Those that reach the target, each set of operations once, and none with more than a smaller set needs;
    where nothing reaches it, what comes nearest."""
    reaching = [proposal for proposal in proposals if proposal.worst_db <= target_db]
    if not reaching:
        return sorted(proposals, key=lambda proposal: proposal.worst_db)[:1]
    kept: list[Proposal] = []
    for proposal in reaching:
        names = {change.dimension.name for change, _ in proposal.parts}
        if not any(names >= {change.dimension.name for change, _ in other.parts} for other in kept):
            kept.append(proposal)
    return kept


def _mend(built: BuiltStudy, proposal: Proposal, progress: Progress) -> Mend:
    """A proposal with all that is not known of the antenna.

    Raises
    ------
    InputError
        No such antenna exists.
    """
    base, before = built.base, built.antenna
    changed = before.calibrated
    for change, amount in proposal.parts:
        changed = change.applied(changed, amount)
    after = BuiltAntenna(
        base,
        before.rows,
        before.amounts,
        before.covariance,
        changed=changed,
        remainder=before.remainder,
        progress=progress,
    )
    told = built.weighed
    measured = told is not None and told.agrees
    whole = float(np.hypot(base.error, told.floor)) if measured and told is not None else base.whole_error
    target = proposal.record.band.target_s11_db
    figures = after.intervals(whole)
    exact = (
        tuple((change, _allowed(after, change.dimension, target)) for change, _ in proposal.parts)
        if figures["worst_s11"].value <= target
        else ()
    )
    return Mend(
        proposal, after, whole, figures, after.intervals(base.error), after.likely(target, whole), exact
    )


def _allowed(antenna: BuiltAntenna, dimension: Deviation, target_db: float) -> Allowed:
    """How far one amount may miss."""
    surface = antenna.surface
    slope, bend = surface.slope_and_bend(dimension, 0.05 * dimension.limit)

    def guessed(amounts: NDArray) -> NDArray:
        parts = surface.drawn + amounts[:, None] * slope + amounts[:, None] ** 2 * bend
        return decibels(np.abs(surface.band_s11(parts)).max(axis=1) ** 2)

    return allowed_deviation(surface, dimension, guessed, target_db)
