"""What a finished antenna does, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from simharness.numerics.decibels import decibels
from simharness.verdict.match_state import MatchState
from simharness.workshop.antenna import SAMPLES, Interval
from simharness.workshop.readings import CALIPER_MM, RULE_MM
from simharness.workshop.study import MATTERS, BuiltStudy, Cost

_SHOWN = 3
_COSTS_DB = 0.5
"""Least change of the worst S11 for which a dimension is said to cost."""

_LEARNT = 0.7
"""Share of what was not known of a dimension that a curve leaves at most, to be said to tell it."""


def db_text(found: Interval) -> str:
    """A level with its interval.

    Examples
    --------
    >>> db_text(Interval(-12.34, -14.0, -11.06))
    '-12.3 dB (-14.0 to -11.1)'
    """
    return f"{found.value:.1f} dB ({found.low:.1f} to {found.high:.1f})"


def built_sentences(study: BuiltStudy) -> list[str]:
    """The figures first, then what costs the match, what to read again, and what all of it rests on."""
    return [
        _match(study),
        *_costs(study),
        *_measured(study),
        *_readings(study),
        _basis(study),
    ]


def _match(study: BuiltStudy) -> str:
    band, worst = study.record.band, study.figures["worst_s11"]
    by = "measured" if study.weighed is not None and study.weighed.agrees else "by the readings"
    text = (
        f"As built, S11 from {band.low_ghz:g} to {band.high_ghz:g} GHz is at most {worst.value:.1f} dB {by}, "
        f"{worst.low:.1f} to {worst.high:.1f} dB in 95 of 100 such antennas; as drawn it is "
        f"{study.drawn_db:.1f} dB"
    )
    target = f"{band.target_s11_db:g} dB"
    words = {
        MatchState.MET: f"the target of {target} is met.",
        MatchState.MISSED: f"the target of {target} is missed.",
        MatchState.CLOSE: f"too close to call for a target of {target}: "
        f"{round(100 * study.likely)} of 100 such antennas meet it.",
    }
    return f"{text}: {words[study.state]}"


def _costs(study: BuiltStudy) -> Iterator[str]:
    """What was made otherwise than drawn, and what that costs."""
    worst = study.figures["worst_s11"].value
    telling = [cost for cost in study.costs if cost.worst_db <= worst - _COSTS_DB]
    if not telling:
        return
    first, *others = telling[:_SHOWN]
    yield (
        f"Most is lost by the {first.kind} ({_amount_text(first)}): as drawn, with the rest as built, it "
        f"would be {first.worst_db:.1f} dB."
    )
    for other in others:
        yield (
            f"Then by the {other.kind} ({_amount_text(other)}): as drawn it would be {other.worst_db:.1f} dB."
        )


def _amount_text(cost: Cost) -> str:
    """How far a kind of dimension is off: one amount, or from the least to the most."""
    amounts = [row.amount for row in cost.rows]
    low, high = min(amounts), max(amounts)
    if len(amounts) == 1 or high - low < 0.005:
        return f"{low:+.2f} mm"
    return f"{low:+.2f} to {high:+.2f} mm"


def _readings(study: BuiltStudy) -> Iterator[str]:
    """Which readings matter."""
    strongest = [effect for effect in study.effects if effect.change >= MATTERS][:_SHOWN]
    if not strongest:
        yield "None of the readings needs to be more exact: what they may be off by hardly moves S11."
        return
    told = "; ".join(
        f"{effect.reading.dimension.name} "
        f"({'not read, ' if effect.reading.read is None else ''}within {effect.reading.within:.2g} mm: "
        f"{effect.change:.2f} in S11)"
        for effect in strongest
    )
    share = study.by_readings["worst_s11"]
    yield (
        f"Of what is uncertain, the readings alone leave {share.low:.1f} to {share.high:.1f} dB. "
        f"What matters most: {told}."
    )


def _measured(study: BuiltStudy) -> Iterator[str]:
    """What the curve adds."""
    told = study.weighed
    if told is None:
        return
    rows, before = study.antenna.rows, np.sqrt(np.diag(study.readings.covariance))
    yield (
        f"The measured curve lies {told.before:.3f} from what the readings foretell, {told.misfit:.3f} after "
        f"weighing both (rms distance in S11, the connector a delay of {1e12 * told.delay:.0f} ps); errors "
        f"of model and analyser explain {told.floor:.3f}."
    )
    if not told.agrees:
        yield from contradiction(study)
        return
    after = np.sqrt(np.diag(told.covariance))
    moved = [
        (row, float(shift), float(spread))
        for row, shift, first, spread in zip(rows, told.shift, before, after)
        if first and (spread < _LEARNT * first or abs(shift) > first)
    ]
    moved.sort(key=lambda one: -abs(one[1]) / max(one[2], 1e-6))
    if not moved:
        yield "Readings and curve agree; the curve tells no dimension better than the readings do."
        return
    words = "; ".join(
        f"{row.dimension.name} {row.dimension.drawn + row.amount + shift:.2f} mm +- {2 * spread:.2f} "
        f"({'not read' if row.read is None else f'read {row.read:.2f}'})"
        for row, shift, spread in moved[: 2 * _SHOWN]
    )
    yield f"Readings and curve agree. Together they say: {words}."


def contradiction(study: BuiltStudy) -> Iterator[str]:
    """That curve and readings contradict, and which reading may be the slip; nothing where they agree."""
    told = study.weighed
    if told is None or told.agrees:
        return
    yield (
        "The curve cannot be explained within these readings: all that is said here rests on the readings "
        "alone."
    )
    for slip in told.slips[:_SHOWN]:
        row = study.antenna.rows[slip.number]
        yield (
            f"It could be if {row.dimension.name} were "
            f"{row.dimension.drawn + row.amount + slip.amount:.2f} mm in place of "
            f"{row.dimension.drawn + row.amount:.2f}: "
            f"{'read it' if row.read is None else 'read it again'}."
        )
    if not told.slips:
        yield (
            "No single reading explains it either: look for what was not read - a slot that is not cut "
            "through, an open seam, a cold solder joint, the plane of the calibration."
        )


def _basis(study: BuiltStudy) -> str:
    base, blank = study.base, [row for row in study.readings.rows if row.read is None]
    model = (
        f"the moment-method model, calibrated by the {base.quality} run {base.run} of the antenna as drawn "
        f"(model within {base.error:g} in S11 of such runs, these within {base.mesh_error:g})"
        if base.run
        else f"the moment-method model alone, within {base.error:g} in S11; a stored run of the record as "
        "drawn makes it more exact"
    )
    open_ = f", {len(blank)} dimensions not read, as drawn within the tools' usual error" if blank else ""
    return (
        f"From {model}; {SAMPLES} antennas with these readings{open_}. Where no uncertainty was given, a "
        f"caliper counts as right within {CALIPER_MM:g} mm and a rule within {RULE_MM:g} mm in 95 of 100 "
        "cases (common practice)."
    )


FIGURE_HEAD = ("", "as drawn", "as built", "95 of 100 within")


def figure_rows(study: BuiltStudy) -> list[tuple[str, str, str, str]]:
    """Label of each figure, what it is as drawn and as built, and its interval."""
    found, drawn = study.figures, study.drawn

    def edge(value: float) -> str:
        ends = study.antenna.frequency[[0, -1]]
        return f"{edge_text(value, *ends)} GHz" if np.isfinite(value) else "none"

    def ghz(name: str) -> tuple[str, str, str]:
        one = found[name]
        some = np.isfinite(one.value) and one.low < one.high
        within = f"{one.low / 1e9:.3f} to {one.high / 1e9:.3f} GHz" if some else ""
        return edge(drawn[name]), edge(one.value), within

    def level(name: str, unit: str) -> tuple[str, str, str]:
        one = found[name]
        within = f"{one.low:.1f} to {one.high:.1f} {unit}"
        return f"{drawn[name]:.1f} {unit}", f"{one.value:.1f} {unit}", within

    return [
        ("S11 in the band, at most", *level("worst_s11", "dB")),
        ("-10 dB band from", *ghz("band_low")),
        ("-10 dB band to", *ghz("band_high")),
        ("realized gain", *level("gain", "dBi")),
        ("side lobes along the guide", *level("side_lobes", "dB")),
    ]


def edge_text(value: float, first: float, last: float) -> str:
    """An edge of the -10 dB band in GHz; of one beyond the frequencies of the model (Hz), on which side.

    Examples
    --------
    >>> edge_text(9.5e9, 9.1e9, 9.9e9), edge_text(9.1e9, 9.1e9, 9.9e9)
    ('9.500', 'below 9.100')
    """
    side = "below " if value <= first else "above " if value >= last else ""
    return f"{side}{value / 1e9:.3f}"


def worst_db(s11: np.ndarray) -> float:
    """Largest |S11| of some samples, dB."""
    return float(decibels(np.abs(s11).max() ** 2))
