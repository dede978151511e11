"""What a run says of an antenna, in sentences: match, power, beam, and what it left open."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.em.pattern.cuts import cut_across, cut_along
from simharness.em.pattern.far_field import FarField, nearest_field
from simharness.em.pattern.side_lobes import SideLobe, side_lobe
from simharness.estimate import beam, cross_polar
from simharness.estimate.antenna import Estimate
from simharness.estimate.around import around_sentences
from simharness.estimate.site.figures import site_sentences
from simharness.figures import Figure
from simharness.records import Record
from simharness.results.powers import HEAT
from simharness.results.tube_fields import mode_turn
from simharness.verdict.error_bars import left_open
from simharness.verdict.match_state import MatchState

LARGEST_IMBALANCE = 0.02
"""Accepted power against that through the recording box, of the lossless model: more than this is a
numerical fault."""

LARGEST_RETURN = 0.04
"""By how much the radiated power may be above what leaves: the absorber sends that share back (Mur's
condition 1 to 2 %)."""


def match_message(record: Record, state: MatchState, where: float, worst: float, error: float) -> str:
    """Whether the target is met, and how surely."""
    band = record.band
    how = {
        MatchState.MET: "is met",
        MatchState.MISSED: "is not met",
        MatchState.CLOSE: (
            f"is too close to call: the mesh is good for {error:g} of S11 in the complex plane, "
            "and the distance is less"
        ),
    }[state]
    return (
        f"S11 is at worst {worst:.1f} dB from {band.low_ghz:g} to {band.high_ghz:g} GHz "
        f"(at {where / 1e9:.3f} GHz): the target of {band.target_s11_db:g} dB {how}."
    )


def other_messages(
    record: Record, figures: dict[str, Figure], results: Mapping[str, np.ndarray]
) -> list[str]:
    """What is to be said besides the match."""
    said = []
    if "radiated_power" in results:
        said.append(_power_message(results))
    said.append(f"Polarization: {figures['polarization'].value}.")
    if leaning := _beam_message(record, figures, results):
        said.append(leaning)
    if "axis_across" in results:
        said.append(_turn_message(results))
    said += around_sentences(record, figures)
    said += _site_messages(record, figures, results)
    if curved := cross_polar.sentence(record, figures):
        said.append(curved)
    return said


def _beam_message(record: Record, figures: dict[str, Figure], results: Mapping[str, np.ndarray]) -> str:
    """Where the beam leans; empty for one that does not, or without a far field."""
    if beam.NAME not in figures:
        return ""
    band = record.band
    here = beam.simulated_lean(results, nearest_field(results["far_frequency"], band.centre))
    turns = beam.simulated_turns(results, band.low, band.high)
    bar = figures["realized_gain"].error
    assert bar is not None
    return beam.beam_sentence(figures[beam.NAME], here, bar, turns)


def _site_messages(
    record: Record, figures: dict[str, Figure], results: Mapping[str, np.ndarray]
) -> list[str]:
    """What tilt, a pole or a second antenna do."""
    if "e_theta" not in results:
        return []
    if record.mast is None and record.pair is None:
        return site_sentences(record, figures, None)
    cut = cut_across(FarField.stored(results), nearest_field(results["far_frequency"], record.band.centre))
    return site_sentences(record, figures, (cut.angle, cut.total))


def _turn_message(results: Mapping[str, np.ndarray]) -> str:
    """How far the mode of a round tube leans from where the probe holds it."""
    turn = float(np.degrees(np.nanmax(np.abs(mode_turn(results)))))
    return (
        f"Between the slots E on the axis of the tube leans by up to {turn:.0f} degrees from the plane "
        "of the front line: slots off that line excite the wave turned by 90 degrees too. "
        "A tube that is not round and a probe beside its line come on top."
    )


def _power_message(results: Mapping[str, np.ndarray]) -> str:
    """Whether the power that leaves is the power that went in."""
    accepted = results["accepted_power"]
    leaving = results["surface_power"] if "surface_power" in results else results["radiated_power"]
    heat = sum((results[name] for name in HEAT if name in results), np.zeros(len(accepted)))
    off, returned = (
        float(np.max(np.abs((power + heat) / accepted - 1))) for power in (leaving, results["radiated_power"])
    )
    ways = [
        verb
        for name, verb in zip(HEAT, ("heats its substrate", "heats its cover", "enters its load"))
        if np.any(results.get(name, 0.0))
    ]
    elsewhere = f" or {' or '.join(ways)}" if ways else ""
    walls = "with walls without loss" if np.any(heat) else "in the lossless model"
    message = (
        f"Power check: what leaves the antenna{elsewhere} and what it accepts agree "
        f"within {100 * off:.1f} % {walls}, the far field within {100 * returned:.1f} %"
    )
    if off <= LARGEST_IMBALANCE and returned <= LARGEST_RETURN:
        return f"{message}."
    return (
        f"{message}: more than {100 * LARGEST_IMBALANCE:g} % and {100 * LARGEST_RETURN:g} %, "
        "do not trust the gain; use a finer quality."
    )


def settling_messages(about: Mapping[str, object]) -> list[str]:
    """What a run that had only nearly settled left open."""
    moving, lacking = left_open(about)
    left = []
    if moving:
        left.append(f"S11 may still move by {moving:.2g}")
    if lacking:
        left.append(f"the fields lack {100 * lacking:.2g} % unevenly")
    if not left:
        return []
    return [
        f"The run had only nearly settled when it ended: {', '.join(left)}. "
        "The error bars here are that much longer."
    ]


def side_lobe_message(
    estimate: Estimate, results: Mapping[str, np.ndarray], frequency: float, differ: bool
) -> str:
    """Which side lobe along the guide is meant, where the two do not agree or where it is a shoulder.

    Parameters
    ----------
    estimate : Estimate
    results : mapping
        Arrays of the run.
    frequency : float
        Hz.
    differ : bool
        Whether the two levels are further apart than both allow.

    Returns
    -------
    str
        Empty where nothing is to be said.
    """
    if "e_theta" not in results or estimate.along is None:
        return ""
    solved = cut_along(FarField.stored(results), nearest_field(results["far_frequency"], frequency))
    lobes = (
        ("full wave", side_lobe(solved.angle, solved.total, np.pi / 2)),
        ("estimate", side_lobe(estimate.along.angle, estimate.along.power, np.pi / 2)),
    )
    if not differ and not any(lobe is not None and lobe.shoulder for _, lobe in lobes):
        return ""
    return f"The highest side lobe along the guide: {', '.join(_lobe_words(*one) for one in lobes)}."


def _lobe_words(source: str, lobe: SideLobe | None) -> str:
    if lobe is None:
        return f"{source} none"
    kind = ", a shoulder of the beam" if lobe.shoulder else ""
    return f"{source} {lobe.level:.1f} dB at {np.degrees(lobe.angle) + 0.0:.0f} deg{kind}"
