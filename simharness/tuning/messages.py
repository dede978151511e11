"""A tuning in sentences: what was found, how certain it is, how exact the dimension must be."""

from __future__ import annotations

from simharness.tuning.feeds import tunable_feed
from simharness.tuning.result import DEEP, MIN_GAIN, NEAR, Tuning
from simharness.verdict.match_state import MatchState


def tuning_sentences(found: Tuning) -> list[str]:
    """All sentences, the most important first."""
    return [_what(found), *_target(found), *_flatness(found), *_sureness(found)]


def _what(found: Tuning) -> str:
    moved = [
        f"{variable.label} {after:.2f} mm"
        + (f" (was {before:.2f})" if abs(after - before) > 1e-6 else " (as it was)")
        for variable, before, after in zip(
            found.variables, (variable.read(found.before) for variable in found.variables), found.best.values
        )
    ]
    return (
        f"Tuned: {', '.join(moved)}. S11 is {_match(found.best.centre_db)} at "
        f"{found.record.band.centre_ghz:g} GHz and at worst {_match(found.best.worst_db)} in the band, "
        f"by a full-wave run ({found.quality} mesh)."
    )


def _match(level: float) -> str:
    """S11 in dB, not deeper than a mesh can resolve."""
    return f"below {DEEP:g} dB" if level < DEEP else f"{level:.1f} dB"


def _target(found: Tuning) -> list[str]:
    band, worst = found.record.band, found.best.worst_db
    where = f"from {band.low_ghz:g} to {band.high_ghz:g} GHz"
    close = found.state is MatchState.CLOSE
    if found.meets_target:
        state = "met"
        if close:
            state = (
                "too close to call, met by less than the error of this mesh: "
                "tune on a finer one before you rely on it"
            )
        return [f"The target of {band.target_s11_db:g} dB {where} is {state}."]
    which = " and ".join(variable.label for variable in found.variables)
    if found.settled and not found.surprised:
        missed = f"is not met, and the {which} cannot do it: the best found is {worst:.1f} dB"
    else:
        missed = f"is not met yet: the best so far is {worst:.1f} dB"
    said = [f"The target of {band.target_s11_db:g} dB {where} {missed}."]
    if close:
        said.append("It is missed by less than the error of this mesh: a finer one may say otherwise.")
    elif found.settled:
        if left := _not_tuned(found):
            said.append(f"Tune more with {' '.join(f'--also {name}' for name in left)}.")
        said.append("'simharness solve' of the tuned record tries every other dimension by the model.")
    return said


def _not_tuned(found: Tuning) -> list[str]:
    """What this feed allows to be tuned besides, and was not."""
    names = {variable.name for variable in found.variables}
    left = [name for name in tunable_feed(found.record).suggested if name not in names]
    return [name for name in left if name != "back-short" or not {"position", "back-short"} & names]


def _beyond_range(found: Tuning) -> str:
    """What to do where the best lies at an end of the range, the end of a sentence."""
    if left := _not_tuned(found):
        return f"tune more with {' '.join(f'--also {name}' for name in left)}"
    return "'simharness solve' of the tuned record tries every other dimension by the model"


def _flatness(found: Tuning) -> list[str]:
    low, high = found.near
    flat = f"From {low:.1f} to {high:.1f} mm of {found.variables[0].name} it is within {NEAR:g} dB of that"
    if found.keeps is not None:
        flat += f"; from {found.keeps[0]:.1f} to {found.keeps[1]:.1f} mm the target is kept"
    parts = [
        f"{word} {cost:+.1f} dB"
        for word, cost in (("less", found.shorter_db), ("more", found.longer_db))
        if cost is not None
    ]
    costs = (
        f"Half a millimetre {', half a millimetre '.join(parts)}: changes of the worst S11 in the band"
        if parts
        else ""
    )
    if found.objective.over == "centre":
        costs = costs.replace("the worst S11 in the band", "S11 at the centre")
    return [f"{flat}.", *([f"{costs}."] if costs else [])]


def _sureness(found: Tuning) -> list[str]:
    what = f"{len(found.runs)} full-wave run{'s' if len(found.runs) > 1 else ''}"
    said = []
    if found.surprised:
        said.append(
            f"The first run lay {found.runs[0].missed:.2f} in the complex plane from the estimate, more than "
            "the errors of both: look for a mistake in the record, and take the result as a starting point."
        )
    if found.at_border:
        low, high = found.curve.first[[0, -1]]
        said.append(
            f"The best {found.variables[0].name} lies at an end of the range examined "
            f"({low:.1f} to {high:.1f} mm): {_beyond_range(found)}."
        )
    elif found.settled:
        deep = (
            f"; matches below {DEEP:g} dB count as equal"
            if min(found.best.centre_db, found.best.worst_db) < DEEP
            else ""
        )
        said.append(
            f"The model corrected by {what} sees less than {MIN_GAIN:g} dB to gain from another{deep}."
        )
    elif found.gain_db < MIN_GAIN:
        said.append(
            "The corrected model sees nothing to gain from another run, but it missed the last one by "
            f"{found.runs[-1].missed:.2f} in the complex plane: solve a neighbouring "
            f"{found.variables[0].name} before you rely on it."
        )
    else:
        said.append(
            f"After {what} the corrected model still promises {found.gain_db:.1f} dB more at "
            f"{found.optimum[0]:.2f} mm of {found.variables[0].name}: tune the tuned record again."
        )
    return said
