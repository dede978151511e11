"""Remedies for a dimension that was made wrong: filing, taping, soldering, or a new part."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from simharness.advice.solder import takes_solder
from simharness.em.signals.match import worst_match
from simharness.errors import InputError
from simharness.estimate.deviations import COVERED, Deviation, deviations
from simharness.estimate.surrogate import SpaceMappingSurrogate
from simharness.numerics.decibels import decibels
from simharness.records import Record

MIN_RELIEF_DB = 0.5
"""Improvement of the worst S11 below which another probe is not suggested."""

_PROBES = ("probe height", "probe rise", "probe run")
_HEIGHTS = 9


@dataclass(frozen=True)
class Remedy:
    """What to do about one wrong dimension.

    Attributes
    ----------
    instruction : str
        A clause without a full stop.
    stepwise : bool
        Whether metal is removed or added little by little, so that one can stop half way and measure.
    possible : bool
        Whether it corrects this antenna; otherwise it is about the next one.
    """

    instruction: str
    stepwise: bool = False
    possible: bool = True


_TRIM = Remedy("file or cut the tip back", stepwise=True)
_LONGER_WIRE = Remedy("solder in a new wire that is a little too long, and trim it", stepwise=True)
_PLATE_INSIDE = Remedy("{fix} a plate inside that end, as much farther in")
_END_OUT = Remedy(
    "{loosen} that end and set it farther out, if there is metal enough; a plate cannot make the guide longer"
)
_CHECK_BAR = "print the template for the next one at 100 % and measure its check bar first"
_NEW_HOLE = Remedy("close the hole with a {patch} and drill it anew where it belongs")


def _next(instruction: str) -> Remedy:
    """A remedy for the next antenna."""
    return Remedy(instruction, possible=False)


_REMEDIES = {
    "probe height": (_TRIM, _LONGER_WIRE),
    "probe rise": (_TRIM, _LONGER_WIRE),
    "probe run": (Remedy("bend a new wire with a shorter run"), Remedy("bend a new wire with a longer run")),
    "probe position": (_NEW_HOLE, _NEW_HOLE),
    "hole height": (_NEW_HOLE, _NEW_HOLE),
    "near end": (_PLATE_INSIDE, _END_OUT),
    "far end": (_PLATE_INSIDE, _END_OUT),
    "slot length": (
        Remedy("close both ends of every slot a little with {filling}", stepwise=True),
        Remedy("file both ends of every slot", stepwise=True),
    ),
    "slot width": (
        Remedy("lay copper tape along one edge of every slot", stepwise=True),
        Remedy("file both edges of every slot", stepwise=True),
    ),
    "slot offset": (
        Remedy(
            "lay copper tape along the outer edge of every slot and file the inner one by as much",
            stepwise=True,
        ),
        Remedy(
            "lay copper tape along the inner edge of every slot and file the outer one by as much",
            stepwise=True,
        ),
    ),
    "permittivity": (
        Remedy(
            "shorten every slot with copper tape at both ends, until its resonance is back", stepwise=True
        ),
        Remedy("cut the copper back at both ends of every slot", stepwise=True),
    ),
    "cover permittivity": (
        Remedy("hold the cover a little farther from the slots", stepwise=True),
        Remedy(
            "press the cover flat on the slots, or lay foil of the same plastic under it",
            stepwise=True,
        ),
    ),
    "cover gap": (
        Remedy("set the cover nearer to the slots, or press it flat on them", stepwise=True),
        Remedy("lay washers under the cover", stepwise=True),
    ),
    "front wall": (
        _next("this front cannot be made thinner; take thinner sheet for the next"),
        _next("this front cannot be made thicker; take thicker sheet for the next"),
    ),
    "guide height": (
        Remedy("{fix} sheet of that thickness inside, flat on the back wall{height}"),
        _next("this guide cannot be made higher; fold or buy the next one so"),
    ),
    "scale": (
        _next(f"metal that is cut cannot be made smaller; {_CHECK_BAR}"),
        _next(f"metal that is cut cannot be made larger; {_CHECK_BAR}"),
    ),
}
_PUT_ON = Remedy("put it on as it is to stay, and measure again")
_COVERED = Remedy("look whether {dirt} closes it, and open it")
_WIDTH = {
    "rectangular": (
        Remedy("{fix} a strip of sheet of that thickness inside, flat on a side wall"),
        _next("this guide cannot be made wider; fold or buy the next one so"),
    ),
    "round": (
        _next("this tube cannot be made narrower; take another length of tube for the next"),
        _next("this tube cannot be made wider; take another length of tube for the next"),
    ),
}
"""Remedies for the width by shape of the guide, too wide first."""


def remedy(record: Record, deviation: Deviation, amount: float) -> Remedy:
    """What to do about a dimension that is off by an amount.

    Parameters
    ----------
    record : Record
        As designed.
    deviation : Deviation
    amount : float
        In its unit.
    """
    found = _remedy(record, deviation, amount)
    return replace(found, instruction=found.instruction.format(**_words(record)))


def _words(record: Record) -> dict[str, str]:
    """What a remedy says of this record's metal and feed."""
    starts = record.feed.kind == "probe" and record.feed.wall == "back"
    words = {"height": "; the probe starts at its surface then" if starts else ""}
    if takes_solder(record.guide.material):
        return words | {
            "fix": "solder",
            "loosen": "unsolder",
            "filling": "solder or copper tape",
            "patch": "soldered patch",
            "dirt": "solder, tape or a burr",
        }
    return words | {
        "fix": "screw",
        "loosen": "unscrew",
        "filling": "copper tape",
        "patch": "patch that is screwed on",
        "dirt": "tape or a burr",
    }


def _remedy(record: Record, deviation: Deviation, amount: float) -> Remedy:
    """With the words of `_words` left open."""
    less = int(amount < 0)
    if not deviation.unit:
        return _COVERED if deviation.name.endswith(COVERED) else _PUT_ON
    if deviation.name == "guide width":
        return _WIDTH[record.guide.shape][less]
    if deviation.name == "slot position":
        return _moved_row(record, amount)
    return _REMEDIES[deviation.name][less]


def _moved_row(record: Record, amount: float) -> Remedy:
    """A front wall that is soldered on can be moved; slots cut into a tube cannot."""
    if record.guide.make == "folded" and not record.two_faced:
        way = "nearer to" if amount > 0 else "farther from"
        return Remedy(f"{{loosen}} the front wall and set it {way} the near end by as much")
    if amount < 0 and record.guide.far_end == "short":
        return Remedy(
            "{fix} a plate inside the far end, as much farther in: its distance from the slots is then right"
        )
    return _next("slots that are cut stay where they are; cut the next row where it belongs")


def remedy_sentences(
    model: SpaceMappingSurrogate, deviation: Deviation, amount: float, found: Remedy
) -> list[str]:
    """A remedy in sentences; if it concerns only the next antenna, also what another probe does for this one.

    Parameters
    ----------
    model : SpaceMappingSurrogate
        Of the antenna as designed, corrected by its run.
    deviation : Deviation
    amount : float
    found : Remedy
        As of `remedy`.
    """
    steps = "; go half the way, measure S11 again, then the rest" if found.stepwise else ""
    said = [f"What to do: measure that first. If it is so, {found.instruction}{steps}."]
    if not found.possible:
        said += _probe_relief(model, deviation, amount)
    return said


def _probe_relief(model: SpaceMappingSurrogate, deviation: Deviation, amount: float) -> list[str]:
    """Effect of a longer or shorter probe where the other dimension stays wrong, by the model."""
    band = model.record.band
    low, high = (min(max(edge, model.frequency[0]), model.frequency[-1]) for edge in (band.low, band.high))

    def worst(s11: np.ndarray) -> float:
        return decibels(worst_match(model.frequency, s11, low, high)[1])

    probe = next((one for one in deviations(model.record) if one.name in _PROBES), None)
    if probe is None:
        return []

    def moved(move: float) -> float:
        try:
            return worst(model.predicted_both((deviation, amount), (probe, move)))
        except InputError:
            return np.inf

    as_built, (low_move, high_move) = worst(model.predicted(deviation, amount)), probe.range(model.record)
    step = (high_move - low_move) / (_HEIGHTS - 1)
    move = min(np.linspace(low_move, high_move, _HEIGHTS).tolist(), key=moved)
    around = np.clip(move + step * np.linspace(-0.8, 0.8, _HEIGHTS), low_move, high_move)
    move = min(around.tolist(), key=moved)
    reached = moved(move)
    if reached > as_built - MIN_RELIEF_DB:
        return [
            "Another probe does not help this one: by the model S11 in the band stays at "
            f"{as_built:.1f} dB at worst."
        ]
    what = probe.subject.removesuffix(" is")
    return [
        f"For this one, {what} about {probe.amount_text(abs(move))} {probe.more if move > 0 else probe.less} "
        f"brings S11 in the band from {as_built:.1f} to {reached:.1f} dB at worst, by the model; with what "
        "you measured written into a copy of the record, 'simharness tune' finds it by full wave."
    ]
