"""What to change after a run, in sentences; it may also be that nothing needs changing, or that no change
helps."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from simharness.improvement.change import amount_text
from simharness.improvement.search import MIN_GAIN_DB, RESTS_ON, Improvement, Proposal
from simharness.mesh.settings import QUALITIES
from simharness.records import Record
from simharness.records.text import plain_data
from simharness.verdict.error_bars import solver_error
from simharness.verdict.match_state import MatchState

ALTERNATIVES = 2
"""Proposals that are named after the first."""

_RULE = {
    "length_mm": ("length_mm",),
    "width_mm": ("width_mm",),
    "offset_mm": ("offset_mm", "back_offset_mm"),
    "position_mm": ("first_mm", "back_first_mm"),
}
"""Fields of a slot, and those of a rule that stand for all of them."""


def proposal_text(proposal: Proposal) -> str:
    """What to do, without a full stop."""
    return " and ".join(change.text(amount) for change, amount in proposal.parts)


def advice_sentences(
    record: Record, state: MatchState, quality: str, worst_db: float, found: Improvement | None
) -> list[str]:
    """What to change after a run.

    Parameters
    ----------
    record : Record
    state : MatchState
        Of the run.
    quality : str
        Of its mesh.
    worst_db : float
        Largest |S11| in the band, dB.
    found : Improvement or None
        None where nothing was looked for.
    """
    if state is MatchState.MET or found is None:
        return ["Nothing needs changing for the match."] if state is MatchState.MET else []
    said = list(_finer(record, quality, worst_db)) if state is MatchState.CLOSE else []
    if not found.proposals:
        tried = ", ".join(found.tried)
        return [
            *said,
            (
                f"No change of one dimension, nor of two together, gains {MIN_GAIN_DB:g} dB (tried: "
                f"{tried}): leave the dimensions as they are"
            )
            + (
                "."
                if state is MatchState.CLOSE
                else ", and have 'simharness design' make a row for this band."
            ),
        ]
    first = found.proposals[0]
    if first.state is not MatchState.MET:
        said.append(_short_of_it(state, first))
    lead = "For more margin, " if state is MatchState.CLOSE else "First "
    said.append(f"{lead}{proposal_text(first)} ({_fields(record, first)}). {_outcome(first)}")
    for other in _alternatives(found.proposals):
        said.append(f"Or {proposal_text(other)} ({_fields(record, other)}). {_outcome(other)}")
    return [*said, f"Solve the changed record before you cut: {RESTS_ON}."]


def _finer(record: Record, quality: str, worst_db: float) -> Iterator[str]:
    """Whether a finer mesh would decide it."""
    margin = abs(10 ** (worst_db / 20) - 10 ** (record.band.target_s11_db / 20))
    names = list(QUALITIES)
    finer = names[names.index(quality) + 1 :] if quality in names else names
    enough = [name for name in finer if solver_error(record, name)["s11"] < margin]
    if enough:
        yield (
            f"This mesh does not decide it: solve with --quality {enough[0]}, whose error bar of S11 is "
            f"{solver_error(record, enough[0])['s11']:g}."
        )
    elif finer:
        yield (
            f"This mesh does not decide it, and the error bars of finer ones ({', '.join(finer)}) are no "
            "smaller than the distance to the target: change something for more margin."
        )
    else:
        yield (
            "The finest mesh does not decide it: 'simharness converge' finds the error for this antenna; "
            "or change something for more margin."
        )


def _short_of_it(state: MatchState, best: Proposal) -> str:
    if best.state is MatchState.CLOSE:
        return "By the model, the most effective change only just reaches the target:"
    what = "None of the dimensions alone, nor two of them together, reaches the target by the model"
    return (
        f"{what}; the most effective change:"
        if state is MatchState.MISSED
        else f"{what} with a margin; the most effective change:"
    )


def _outcome(proposal: Proposal) -> str:
    """What match and band become, and whether it can be undone."""
    low, high = (None if edge is None else f"{edge / 1e9:.3f}" for edge in (proposal.low, proposal.high))
    if low is not None and high is not None:
        band = f"the -10 dB band {low} to {high} GHz"
    elif low is not None or high is not None:
        band = f"the -10 dB band from {low} GHz" if high is None else f"the -10 dB band up to {high} GHz"
    else:
        band = "no -10 dB band"
    return (
        f"The model, calibrated by this run, then gives S11 of {proposal.worst_db:.1f} dB at worst in the "
        f"band, the best match at {proposal.best / 1e9:.3f} GHz, {band}. In metal this {proposal.undo.text}."
    )


def _alternatives(proposals: Sequence[Proposal]) -> list[Proposal]:
    """Other proposals of the same state, of dimensions that were not named before."""
    told = [{change.dimension.name for change, _ in proposals[0].parts}]
    found: list[Proposal] = []
    for proposal in proposals[1:]:
        names = {change.dimension.name for change, _ in proposal.parts}
        if (
            len(found) < ALTERNATIVES
            and proposal.state is proposals[0].state
            and not any(names >= other for other in told)
        ):
            found.append(proposal)
            told.append(names)
    return found


def _fields(record: Record, proposal: Proposal) -> str:
    """The fields of the record with their new values."""
    before, after = plain_data(record, rule=False), plain_data(proposal.record, rule=False)
    said = [
        f"{part}.{name} = {_length(after[part][name])}"
        for part in ("guide", "feed")
        for name in after[part]
        if before[part].get(name) != after[part][name]
    ]
    for name, of_rule in _RULE.items():
        if not before["slot"] or before["slot"][0][name] == after["slot"][0][name]:
            continue
        change = abs(after["slot"][0][name]) - abs(before["slot"][0][name])
        if record.slot_rule is None:
            sized = " in size" if name == "offset_mm" else ""
            said.append(f"every slot.{name} {'-' if change < 0 else '+'}{amount_text(change)}{sized}")
            continue
        values = {field: getattr(record.slot_rule, field) for field in of_rule}
        said += [
            (
                f"slot_rule.{field} = "
                f"{_length(value + math.copysign(change, value) if name == 'offset_mm' else value + change)}"
            )
            for field, value in values.items()
            if value is not None
        ]
    return ", ".join(said)


def _length(value: float) -> str:
    """A length in mm as it is written in a record."""
    return f"{value:.2f}".rstrip("0").rstrip(".")
