"""What can still be done with finished metal, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import isfinite

from simharness.advice.warnings import CAUTIONS
from simharness.estimate.model_inputs import under_tape_mm
from simharness.improvement.change import Change, Undo
from simharness.improvement.messages import proposal_text
from simharness.records import Record
from simharness.tolerance.limits import Allowed
from simharness.verdict.match_state import MatchState
from simharness.workshop.mending import Mend, MendStudy
from simharness.workshop.messages import contradiction, db_text, edge_text
from simharness.workshop.operations import TAPE

_CUT = ("probe height", "probe rise")
"""Operations that take metal off where the amount is negative."""


def mend_sentences(study: MendStudy) -> list[str]:
    """Whether curve and readings contradict, what the antenna does, what can be done in the order in which to
    try it, and how exactly.
    """
    told = told_in_parts(study)
    return [*told.head, *(text for each in told.operations for text in each), *told.rest]


@dataclass(frozen=True)
class Told:
    """The sentences of a study in their order: before the operations, of each operation, after them."""

    head: tuple[str, ...]
    operations: tuple[tuple[str, ...], ...] = ()
    rest: tuple[str, ...] = ()


def told_in_parts(study: MendStudy) -> Told:
    """What can be done, operation by operation."""
    doubt = list(contradiction(study.built))
    if doubt:
        doubt.append("Clear that up before you touch the metal.")
    found = _advice(study)
    return replace(found, head=(*doubt, *found.head))


def _advice(study: MendStudy) -> Told:
    built, target = study.built, study.built.record.band.target_s11_db
    now = built.figures["worst_s11"]
    head = f"As built, S11 in the band is at most {db_text(now)} for a target of {target:g} dB"
    if now.value <= target:
        return Told((f"{head}: {_alone(study)}",))
    if not study.mends:
        return Told((f"{head}. Nothing that was tried helps: {', '.join(study.tried)}.",))
    if not any(mend.meets for mend in study.mends):
        best = study.mends[0]
        nearest = (
            f"{head}. No single operation on this metal reaches that, nor one together with the probe. "
            f"What comes nearest: {proposal_text(best.proposal)}, which gives "
            f"{db_text(best.figures['worst_s11'])}; "
            f"it {best.proposal.undo.text}."
        )
        return Told((nearest,), rest=(f"Tried: {', '.join(study.tried)}.", *_cautions(study)))
    each = tuple(tuple(_mend(number, mend, study)) for number, mend in enumerate(study.mends, 1))
    return Told((f"{head}.",), each, (*_order(study), *_cautions(study)))


def _alone(study: MendStudy) -> str:
    """What is said of an antenna that needs nothing."""
    built = study.built
    if built.state is MatchState.MET:
        return "leave it as it is."
    return (
        f"{round(100 * built.likely)} of 100 such antennas meet it. Measure S11 before you touch the metal; "
        "with --measured the curve decides."
    )


def _mend(number: int, mend: Mend, study: MendStudy) -> Iterator[str]:
    proposal = mend.proposal
    text = proposal_text(proposal)
    low, high = (mend.figures[name].value for name in ("band_low", "band_high"))
    first, last = study.built.antenna.frequency[[0, -1]]
    edges = f"{edge_text(low, first, last)} to {edge_text(high, first, last)} GHz"
    band = f"-10 dB band {edges}" if isfinite(low) else "no -10 dB band"
    yield (
        f"{number}. {text[0].upper()}{text[1:]}: S11 in the band at most "
        f"{db_text(mend.figures['worst_s11'])}, "
        f"{round(100 * mend.likely)} of 100 such antennas meet the target; {band}. It {proposal.undo.text}."
    )
    for (change, amount), (_, allowed) in zip(proposal.parts, mend.exact):
        yield _exactness(change, amount, allowed)
        if change.dimension.name == TAPE:
            yield _covered(proposal.record)


def _covered(record: Record) -> str:
    """How much of a slot is covered for what it acts shorter."""
    covers = [f"{tape.covers_mm:.1f}" for tape in record.tape]
    under = [f"{under_tape_mm(record, slot):.1f}" for slot in record.slots]
    return (
        f"That is {_span(covers)} mm covered at each end: the field still reaches {_span(under)} mm under "
        "tape that is joined to the wall all round."
    )


def _span(values: list[str]) -> str:
    low, high = min(values, key=float), max(values, key=float)
    return low if low == high else f"{low} to {high}"


def amounts_that_do(amount: float, allowed: Allowed) -> tuple[float, float]:
    """Least and greatest size of an amount (mm) with which the target is met.

    Examples
    --------
    >>> amounts_that_do(-0.5, Allowed(0.25, 0.125, False, False))
    (0.375, 0.75)
    """
    if amount < 0:
        return max(-amount - allowed.more, 0.0), -amount + allowed.less
    return max(amount - allowed.less, 0.0), amount + allowed.more


def _exactness(change: Change, amount: float, allowed: Allowed) -> str:
    """How exact the hand must be, and what must not be overdone."""
    low, high = amounts_that_do(amount, allowed)
    name = change.dimension.name
    text = f"For {name} anything from {low:.1f} to {high:.1f} mm will do, the rest as told"
    if change.undo is Undo.SLOTS or (name in _CUT and amount < 0):
        way = "filed" if change.undo is Undo.SLOTS else "cut"
        return (
            f"{text}; stop at {min(low + 0.1, abs(amount)):.1f} mm and measure S11 before you go on: "
            f"what is {way} beyond {high:.1f} mm does not come back."
        )
    return f"{text}."


def _order(study: MendStudy) -> Iterator[str]:
    """Which to try first, where there is a choice."""
    first, *others = study.mends
    harder = [mend for mend in others if mend.proposal.undo > first.proposal.undo]
    if harder:
        yield f"Try the first one first: it {first.proposal.undo.text}."
    likelier = max(study.mends, key=lambda mend: mend.likely)
    if likelier is not first and likelier.likely > first.likely + 0.05:
        yield f"The likeliest to reach the target is number {study.mends.index(likelier) + 1}."


def _cautions(study: MendStudy) -> Iterator[str]:
    """Of what is told to be done."""
    undone = {change.undo for mend in study.mends for change, _ in mend.proposal.parts}
    names = {change.dimension.name for mend in study.mends for change, _ in mend.proposal.parts}
    edges, heat, beam = CAUTIONS
    if Undo.SLOTS in undone or names & set(_CUT):
        yield edges
    if undone & {Undo.WIRE, Undo.WALL}:
        yield heat
    yield beam


def confirmed_sentence(mend: Mend, worst_db: float, run: str, quality: str) -> str:
    """What a full-wave run of the antenna with an operation done says, dB."""
    target = mend.proposal.record.band.target_s11_db
    met = "meets" if worst_db <= target else "misses"
    held = "as foretold" if mend.by_model["worst_s11"].holds(worst_db) else "which the model did not foretell"
    return (
        f"Full wave ({quality} mesh, run {run}): done so, S11 in the band is at most {worst_db:.1f} dB, "
        f"{held} ({db_text(mend.by_model['worst_s11'])}); it {met} the target of {target:g} dB."
    )
