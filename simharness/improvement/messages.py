"""What to change, in sentences; "nothing", "not sure on this mesh" and "none of them" are answers too."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from simharness.improvement.changes import Change
from simharness.improvement.search import MIN_GAIN_DB, RESTS_ON, Improvement, Proposal
from simharness.mesh.settings import QUALITIES
from simharness.records import Record
from simharness.records.text import plain_data
from simharness.verdict.error_bars import solver_error
from simharness.verdict.match_state import MatchState

ALTERNATIVES = 2
"""Proposals told besides the first."""

_VERBS = {
    "probe height": ("make the probe {} longer", "make the probe {} shorter"),
    "probe rise": ("make the riser of the probe {} longer", "make the riser of the probe {} shorter"),
    "probe run": ("make the run of the probe {} longer", "make the run of the probe {} shorter"),
    "hole height": (
        "move the hole in the end {} towards the front wall",
        "move the hole in the end {} towards the back wall",
    ),
    "probe position": ("move the probe {} away from the near end", "move the probe {} towards the near end"),
    "near end": ("move the near end wall {} out", "move the near end wall {} in"),
    "far end": ("move the far end wall {} out", "move the far end wall {} in"),
    "slot length": ("make every slot {} longer", "make every slot {} shorter"),
    "slot width": ("make every slot {} wider", "make every slot {} narrower"),
    "slot offset": (
        "move every slot {} away from the centre line",
        "move every slot {} towards the centre line",
    ),
    "guide width": ("make the guide {} wider inside", "make the guide {} narrower inside"),
    "guide height": ("make the guide {} higher inside", "make the guide {} lower inside"),
}

_RULE = {
    "length_mm": ("length_mm",),
    "width_mm": ("width_mm",),
    "offset_mm": ("offset_mm", "back_offset_mm"),
    "position_mm": ("first_mm", "back_first_mm"),
}
"""Fields of a slot, and those of a rule that stand for all of them."""


def change_words(change: Change, amount: float) -> str:
    """What to do, without a full stop.

    Examples
    --------
    >>> from simharness.estimate.deviations import Deviation
    >>> from simharness.improvement.changes import Undo
    >>> probe = Deviation("probe height", "the probe is", "mm", 4.0, "longer", "shorter", print)
    >>> change_words(Change(probe, Undo.WIRE, -4.0, 4.0), -3.3)
    'make the probe 3.3 mm shorter'
    """
    return _VERBS[change.dimension.name][amount < 0].format(f"{abs(amount):.1f} mm")


def proposal_words(proposal: Proposal) -> str:
    """What to do, without a full stop."""
    return " and ".join(change_words(change, amount) for change, amount in proposal.parts)


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
            f"No change of one dimension, nor of two together, gains {MIN_GAIN_DB:g} dB (tried: {tried}): leave the dimensions as they are"
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
    said.append(f"{lead}{proposal_words(first)} ({_fields(record, first)}). {_outcome(first)}")
    for other in _alternatives(found.proposals):
        said.append(f"Or {proposal_words(other)} ({_fields(record, other)}). {_outcome(other)}")
    return [*said, f"Solve the changed record before you cut: {RESTS_ON}."]


def _finer(record: Record, quality: str, worst_db: float) -> Iterator[str]:
    """Whether a finer mesh would tell."""
    margin = abs(10 ** (worst_db / 20) - 10 ** (record.band.target_s11_db / 20))
    names = list(QUALITIES)
    finer = names[names.index(quality) + 1 :] if quality in names else names
    enough = [name for name in finer if solver_error(record, name)["s11"] < margin]
    if enough:
        yield f"Not sure on this mesh: solve with --quality {enough[0]}, which is good for {solver_error(record, enough[0])['s11']:g} of S11."
    elif finer:
        yield f"Not sure on this mesh, and the bars of finer ones ({', '.join(finer)}) are no shorter than the distance: change something for more margin."
    else:
        yield "Not sure on the finest mesh here: 'simharness converge' finds this antenna's own error; or change something for more margin."


def _short_of_it(state: MatchState, best: Proposal) -> str:
    if best.state is MatchState.CLOSE:
        return "By the model, what gains most reaches the target only just:"
    what = "None of the dimensions alone, nor two of them together, reaches the target by the model"
    return (
        f"{what}; what gains most:"
        if state is MatchState.MISSED
        else f"{what} with a margin; what gains most:"
    )


def _outcome(proposal: Proposal) -> str:
    """What match and band become, and whether it can be undone."""
    low, high = proposal.low, proposal.high
    if low is not None and high is not None:
        band = f"the -10 dB band {low / 1e9:.3f} to {high / 1e9:.3f} GHz"
    elif low is not None or high is not None:
        band = f"the -10 dB band {'from' if low is not None else 'up to'} {(low if low is not None else high) / 1e9:.3f} GHz"
    else:
        band = "no -10 dB band"
    return (
        f"The model, set right by this run, then gives S11 of {proposal.worst_db:.1f} dB at worst in the band, the best match at "
        f"{proposal.best / 1e9:.3f} GHz, {band}. In metal this {proposal.undo.words}."
    )


def _alternatives(proposals: Sequence[Proposal]) -> list[Proposal]:
    """Other ways that do as well: of other dimensions than those told, none twice."""
    told, found = [{change.dimension.name for change, _ in proposals[0].parts}], []
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
    """What becomes of the fields of the record."""
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
            said.append(f"every slot.{name} {change:+.1f}{' in size' if name == 'offset_mm' else ''}")
            continue
        values = {field: getattr(record.slot_rule, field) for field in of_rule}
        said += [
            f"slot_rule.{field} = {_length(value + math.copysign(change, value) if name == 'offset_mm' else value + change)}"
            for field, value in values.items()
            if value is not None
        ]
    return ", ".join(said)


def _length(value: float) -> str:
    """A length in mm as one writes it into a record."""
    return f"{value:.2f}".rstrip("0").rstrip(".")
