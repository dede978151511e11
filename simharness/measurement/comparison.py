"""A measured reflection compared with the simulated one: figures, the likeliest cause, and sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0
from simharness.em.signals.match import deepest_match, match_band, value_at
from simharness.errors import InputError
from simharness.estimate.surrogate import Reflection, SpaceMappingSurrogate, estimated_reflection
from simharness.figures import Figure
from simharness.measurement.causes import Cause, Explanation, common_frequency, explanation
from simharness.measurement.files import OnePort
from simharness.measurement.remedies import remedy, remedy_sentences
from simharness.numerics.decibels import decibels
from simharness.progress import Progress
from simharness.records import Record
from simharness.results.outputs import Results
from simharness.verdict.agreement import difference, kind_of
from simharness.verdict.assessment import LABELS, full_wave_figures
from simharness.verdict.error_bars import provenance, solver_error

CONNECTOR_PERMITTIVITY = 2.03
"""Solid PTFE, as in common coax connectors (memory)."""

COMPARED = ("resonance", "s11_at_resonance", "s11_at_centre", "band_low", "band_high")

MENTIONED_SHARE = 0.05
"""Relative likelihood from which a second cause is mentioned."""


@dataclass(frozen=True)
class ComparisonRow:
    """One figure of both sides; `within`: whether they agree within the error bar of the run, if known."""

    name: str
    label: str
    run: Figure
    measured: Figure
    within: bool | None


@dataclass(frozen=True)
class Comparison:
    """A measurement compared with a run.

    Attributes
    ----------
    rows : tuple of ComparisonRow
    explanation : Explanation
    run_error : float
        Error of the run's S11 in the complex plane.
    delay : float
        One-way delay in s by which the measurement was moved to the plane of the run.
    delay_given : bool
        Whether that delay was given rather than fitted.
    sentences : tuple of str
    """

    rows: tuple[ComparisonRow, ...]
    explanation: Explanation
    run_error: float
    delay: float
    delay_given: bool
    sentences: tuple[str, ...]


def connector_delay(length_mm: float, permittivity: float = CONNECTOR_PERMITTIVITY) -> float:
    """One-way delay in s of a coax of this length.

    Examples
    --------
    >>> print(round(1e12 * connector_delay(10.0), 1))
    47.5
    """
    return 1e-3 * length_mm * math.sqrt(permittivity) / C0


def match_comparison(
    results: Mapping[str, NDArray],
    record: Record,
    quality: str,
    measured: OnePort,
    *,
    delay: float | None = None,
    reflection: Reflection = estimated_reflection,
    progress: Progress | None = None,
) -> Comparison:
    """Compare a measurement with a run and look for the cause of the difference.

    Parameters
    ----------
    results : mapping
        Arrays of the run.
    record : Record
        As it was solved; fed by a coax.
    quality : str
        Of the run's mesh; sets its error bar.
    measured : OnePort
    delay : float or None
        One-way delay of the connector, s; None fits it.
    reflection : function
        The estimate.
    progress : Progress or None

    Raises
    ------
    InputError
        The frequencies hardly overlap, or the run has no coax to compare with.
    """
    if not record.feed.has_coax:
        raise InputError(
            "feed.kind", record.feed.kind, "only S11 at a coax can be compared with a measured file"
        )
    run = OnePort(results["frequency"], results["s11"])
    frequency = common_frequency(run, record, measured)
    error = solver_error(record, quality, provenance(results))["s11"]
    model = SpaceMappingSurrogate(record, frequency, run.at(frequency), reflection)
    found = explanation(model, measured, run_error=error, delay=delay, progress=progress)
    match = Results({name: results[name] for name in ("frequency", "s11")}, provenance(results))
    rows = _rows(full_wave_figures(match, record, quality), record, frequency, measured, error)
    best = found.causes[0]
    sentences = (
        _figure_sentence(rows),
        *_cause_sentences(model, found, error),
        _connector_sentence(best.delay, delay is not None),
        *measured.remarks,
    )
    return Comparison(rows, found, error, best.delay, delay is not None, sentences)


def _rows(
    run: dict[str, Figure], record: Record, frequency: NDArray, measured: OnePort, error: float
) -> tuple[ComparisonRow, ...]:
    """Figures of both sides; `error`: of the run's S11, a distance in the complex plane."""
    found = measured_figures(frequency, measured, record.band.centre)
    rows = []
    for name in COMPARED:
        figure, value = run[name], found[name].value
        within = None
        if value is not None and figure.value is not None and figure.error is not None:
            if kind_of(name) == "s11":  # as a distance in the complex plane: dB of deep matches lie far apart
                within = bool(difference(name, figure, Figure(value, figure.unit, "")) <= error)
            else:
                within = bool(abs(value - figure.value) <= figure.error)
        rows.append(ComparisonRow(name, LABELS[name], figure, found[name], within))
    return tuple(rows)


def measured_figures(frequency: NDArray, measured: OnePort, centre: float) -> dict[str, Figure]:
    """Figures `COMPARED` of a measured reflection, without error bars, from the first to the last of some
    frequencies (f,) in Hz; `centre` is the design frequency, Hz.
    """
    fine = np.linspace(frequency[0], frequency[-1], 4 * frequency.size)
    s11 = measured.at(fine)
    best, power = deepest_match(fine, s11)
    at_centre = abs(value_at(fine, s11, centre)) ** 2
    low, high = match_band(fine, s11)
    values = (best, decibels(power), decibels(at_centre), low, high)
    return {
        name: Figure(value, unit, "measured")
        for name, unit, value in zip(COMPARED, ("Hz", "dB", "dB", "Hz", "Hz"), values)
    }


def _figure_sentence(rows: tuple[ComparisonRow, ...]) -> str:
    named = {row.name: row for row in rows}
    best, depth = named["resonance"], named["s11_at_resonance"]
    shift = best.measured.value - best.run.value
    way = "above" if shift > 0 else "below"
    bar = "which is within" if best.within else "which is more than"
    return (
        f"The best match was measured {abs(shift) / 1e6:.0f} MHz "
        f"({100 * abs(shift) / best.run.value:.1f} %) {way} the simulated one, {bar} the error bar of "
        f"the run; it is {depth.measured.value:.1f} dB deep where {depth.run.value:.1f} dB were simulated."
    )


def _cause_sentences(model: SpaceMappingSurrogate, found: Explanation, run_error: float) -> list[str]:
    best, plain = found.causes[0], next(cause for cause in found.causes if cause.deviation is None)
    if best is plain and best.share > found.unexplained:
        return [
            f"The measurement fits the antenna as drawn: what is left, {plain.misfit:.3f} in the complex "
            f"plane, needs no other cause (error of the run: {run_error:g})."
        ]
    rest = f"which leaves {best.misfit:.3f} of a difference of {plain.misfit:.3f} in the complex plane"
    if found.unexplained > best.share:
        return [
            f"No single dimension explains the difference well ({_percent(found.unexplained)}): think of two "
            "at once, of an open seam, of the connector, of metal nearby. The nearest single cause would be "
            f"that {cause_text(best)}, {rest}."
        ]
    said = [f"Likeliest single cause ({_percent(best.share)}): {cause_text(best)}, {rest}."]
    others = [cause for cause in found.causes[1:] if cause.share >= MENTIONED_SHARE]
    if others:
        said.append(
            "Also possible: "
            + "; ".join(f"{cause_text(cause)} ({_percent(cause.share)})" for cause in others)
            + "."
        )
    if best.deviation is not None:
        said += remedy_sentences(
            model, best.deviation, best.amount, remedy(model.record, best.deviation, best.amount)
        )
    return said


def cause_text(cause: Cause) -> str:
    """A cause as a clause, without a full stop."""
    return "it is as drawn" if cause.deviation is None else cause.deviation.sentence(cause.amount)


def percent(share: float) -> str:
    """A relative likelihood with the digits it deserves.

    Examples
    --------
    >>> percent(0.63), percent(0.01), percent(0.99)
    ('about 65 %', 'under 5 %', 'over 95 %')
    """
    return (
        "over 95 %" if share > 0.95 else "under 5 %" if share < 0.05 else f"about {5 * round(20 * share)} %"
    )


def _percent(share: float) -> str:
    return f"{percent(share)} likely"


def _connector_sentence(delay: float, given: bool) -> str:
    length = 1e3 * C0 * delay / math.sqrt(CONNECTOR_PERMITTIVITY)
    how = "as given" if given else "fitted"
    return (
        f"The measurement was moved to the outer face of the wall by {1e12 * delay:.0f} ps ({how}), as of "
        f"{length:.0f} mm of connector filled with PTFE."
    )
