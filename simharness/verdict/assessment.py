"""Estimate and full wave side by side, and what they mean for the person with the snips."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from simharness.em.pattern.cuts import PatternCut, cut_across, cut_along
from simharness.em.pattern.far_field import FarField, nearest_field
from simharness.em.pattern.gain import realized_gain_dbi
from simharness.em.pattern.levels import front_to_back, half_power_beamwidth, largest
from simharness.em.pattern.side_lobes import side_lobe_level
from simharness.em.signals.impedance import input_impedance
from simharness.em.signals.match import deepest_match, match_band, value_at
from simharness.estimate import beam, cross_polar
from simharness.estimate.antenna import Estimate
from simharness.estimate.around import around_figures
from simharness.estimate.model_inputs import polarization
from simharness.estimate.site import figures as site
from simharness.estimate.site import tilt
from simharness.estimate.site.figures import site_figures
from simharness.figures import Figure, number
from simharness.numerics.decibels import decibels
from simharness.records import REFERENCE_OHM, Record
from simharness.results.match import worst_in_band
from simharness.results.outputs import Results
from simharness.results.powers import HEAT, lost_power, run_efficiency
from simharness.verdict.agreement import FigureRow, level_bar, reasons, row
from simharness.verdict.error_bars import (
    calibration,
    estimate_error,
    mesh_quality,
    provenance,
    solver_error,
)
from simharness.verdict.match_state import MatchState, match_state
from simharness.verdict.messages import (
    LARGEST_IMBALANCE,
    match_message,
    other_messages,
    settling_messages,
    side_lobe_message,
)
from simharness.verdict.site_bars import site_trust

LABELS = {
    "resonance": "best match at",
    "s11_at_resonance": "S11 there",
    "s11_at_centre": "S11 at design frequency",
    "band_low": "-10 dB band from",
    "band_high": "-10 dB band to",
    "input_impedance": "input impedance",
    "realized_gain": "realized gain",
    "directivity": "directivity",
    beam.NAME: "beam off broadside, to the far end",
    "beamwidth_along": "beamwidth along the guide",
    "beamwidth_across": "beamwidth across the guide",
    "side_lobe_level": "side lobes along the guide",
    "front_to_back": "front to back",
    "ripple_across": "ripple about front and back",
    "null_plus_x": "null on the side of +x, from the front",
    "null_minus_x": "null on the side of -x, from the front",
    "null_depth": "level in the nulls",
    tilt.BEAM: "beam above the horizon, as mounted",
    tilt.HORIZON: "gain at the horizon, as mounted",
    site.LOBE: "side lobes across the guide",
    site.COUPLING: "coupling of the two feeds",
    "efficiency": "radiation efficiency",
    "end_power": "power left over for the load",
    cross_polar.NAME: "cross-polar along the guide",
}


@dataclass(frozen=True)
class Verdict:
    """Table, how the match stands to its target, and sentences.

    `worst_s11` is the largest |S11| in the band, dB; `conclusion` is all in one line.
    """

    rows: tuple[FigureRow, ...]
    state: MatchState
    worst_s11: Figure
    conclusion: str
    sentences: tuple[str, ...]


def full_wave_figures(results: Mapping[str, np.ndarray], record: Record, quality: str) -> dict[str, Figure]:
    """Figures of a solved run under the names of the estimate's."""
    error = solver_error(record, quality, provenance(results))
    basis = f"full wave, {quality} mesh"
    frequency, s11 = results["frequency"], results["s11"]
    best, power = deepest_match(frequency, s11)
    low, high = match_band(frequency, s11)
    centre = record.band.centre
    at_centre = value_at(frequency, s11, centre)

    def s11_figure(value: float) -> Figure:
        level = decibels(value)
        return Figure(level, "dB", basis, level_bar(level, error["s11"]))

    slope = float(np.abs(np.interp(best, frequency, np.abs(np.gradient(s11, frequency)))))
    # Where the curve is flat, an error of S11 itself moves its deepest point too; half the bar is usual.
    moved = float(np.hypot(error["resonance"] * best, 0.5 * error["s11"] / max(slope, 1e-15)))
    figures = {
        "resonance": Figure(best, "Hz", basis, min(moved, 0.1 * best)),
        "s11_at_resonance": s11_figure(power),
        "s11_at_centre": s11_figure(abs(at_centre) ** 2),
        "band_low": Figure(low, "Hz", basis, error["band"] * low if low else None),
        "band_high": Figure(high, "Hz", basis, error["band"] * high if high else None),
    }
    if "input_impedance" in results and at_centre != 1:
        z = input_impedance(at_centre, REFERENCE_OHM)
        spread = 2 * REFERENCE_OHM / abs(1 - at_centre) ** 2 * error["s11"]
        figures["input_impedance"] = Figure(z, "ohm", basis, spread)
    if "e_theta" in results:
        index = nearest_field(results["far_frequency"], centre)
        along, across = (cut(FarField.stored(results), index) for cut in (cut_along, cut_across))
        figures |= _pattern_figures(along, across, basis, error) | _gain_figures(results, index, basis, error)
        figures |= around_figures(record, across.angle, across.total, basis, error["ripple"], error["null"])
        figures |= cross_polar.simulated(record, results, index, basis)
        s21 = results.get("s21") if record.pair is not None else None
        figures |= site_figures(
            record,
            (along.angle, along.total),
            (across.angle, across.total),
            figures["realized_gain"],
            basis,
            None if s21 is None else value_at(frequency, s21, centre),
            error | {"beam": figures[beam.NAME].error},
        )
    figures["polarization"] = Figure(polarization(record), "", "longitudinal slots")
    return figures


def stored_figures(results: Results, record: Record) -> dict[str, Figure]:
    """`full_wave_figures` of results that know the quality of their mesh."""
    return full_wave_figures(results, record, mesh_quality(results))


def _pattern_figures(
    along: PatternCut, across: PatternCut, basis: str, error: Mapping[str, float]
) -> dict[str, Figure]:
    """What both principal cuts show."""
    figures = {
        beam.NAME: beam.beam_figure(along.angle, along.total, basis, error["beam"]),
        "side_lobe_level": Figure(
            side_lobe_level(along.angle, along.total, np.pi / 2), "dB", basis, error["side_lobe"]
        ),
        "front_to_back": Figure(
            front_to_back(across.angle, across.total), "dB", basis, error["front_to_back"]
        ),
    }
    for name, cut in (("beamwidth_along", along), ("beamwidth_across", across)):
        width = float(np.degrees(half_power_beamwidth(cut.angle, cut.total)))
        figures[name] = Figure(width, "deg", basis, error["beamwidth"] * width)
    return {
        name: figure if np.isfinite(figure.value) else Figure(None, figure.unit, figure.basis)
        for name, figure in figures.items()
    }


def _gain_figures(
    results: Mapping[str, np.ndarray], index: int, basis: str, error: Mapping[str, float]
) -> dict[str, Figure]:
    """What powers and fields in all directions make."""
    whole = float(results["radiated_power"][index]) + lost_power(results, index)
    efficiency = run_efficiency(results, index)
    walls = float(results["wall_loss"][index]) / whole if "wall_loss" in results else 0.0
    # half of what perturbation finds in the walls, and for what the fields tell as much as the powers may
    # miss
    unsure = 0.5 * walls + LARGEST_IMBALANCE * any(name in results for name in HEAT)
    direct = decibels(largest(results["directivity"][index]))
    mismatch = float(results["accepted_power"][index])
    figures = {
        "realized_gain": Figure(realized_gain_dbi(direct, efficiency, mismatch), "dBi", basis, error["gain"]),
        "directivity": Figure(direct, "dBi", basis, error["gain"]),
        "efficiency": Figure(
            efficiency,
            "",
            f"{basis}; wall loss by perturbation, that of substrate and load from the field",
            unsure,
        ),
    }
    if "load_power" in results:
        left = float(results["load_power"][index]) / mismatch
        figures["end_power"] = Figure(left, "", f"{basis}; of the accepted power", LARGEST_IMBALANCE)
    return figures


def state_of(record: Record, results: Mapping[str, np.ndarray], quality: str) -> MatchState:
    """How the match of a run stands to the target of a record."""
    return match_state(
        worst_in_band(record, results)[1],
        record.band.target_s11_db,
        solver_error(record, quality, provenance(results))["s11"],
    )


def verdict(
    record: Record,
    estimate: Estimate,
    figures: dict[str, Figure],
    results: Mapping[str, np.ndarray],
    quality: str,
    advice: Sequence[str] = (),
) -> Verdict:
    """Set the two sides by side and say what they mean.

    Parameters
    ----------
    record : Record
    estimate : Estimate
    figures : dict
        See `full_wave_figures`.
    results : mapping
        Arrays of the run.
    quality : str
        Of its mesh.
    advice : sequence of str
        What to change, in sentences; see `simharness.improvement.search`.
    """
    rows = []
    error, trusted = solver_error(record, quality, provenance(results)), estimate_error(record)
    for name, label in LABELS.items():
        one, two = estimate.figures.get(name), figures.get(name)
        if one is None and two is None:
            continue
        rows.append(row(name, label, one, two, trusted, error))
    where, worst = worst_in_band(record, results)
    state, band = state_of(record, results, quality), record.band
    size = Figure(worst, "dB", f"full wave, {quality} mesh", level_bar(worst, error["s11"]))
    conclusion = (
        f"{state.headline}: S11 is at worst {number(size)} from {band.low_ghz:g} to {band.high_ghz:g} GHz "
        f"({quality} mesh), the target {band.target_s11_db:g} dB."
    )
    said = [
        match_message(record, state, where, worst, error["s11"]),
        *advice,
        *other_messages(record, figures, results),
    ]
    kind, rests_on = calibration(record)
    said.append(
        f"The error bars are those of a {quality} mesh {kind}. They rest on {rests_on}; "
        "'simharness converge' tells for this very antenna."
    )
    said += site_trust(record, trusted)
    said += settling_messages(provenance(results))
    said += reasons(rows)
    off = [one.label for one in rows if one.agrees is False]
    said.append(side_lobe_message(estimate, results, band.centre, LABELS["side_lobe_level"] in off))
    if off:
        said.append(
            f"Estimate and full wave differ by more than both allow in: {', '.join(off)}. "
            "Trust the full wave, and look for the reason."
        )
    return Verdict(tuple(rows), state, size, conclusion, tuple(filter(None, said)))
