"""Why a built antenna does not do what was simulated: the single dimension that explains it best.

Every dimension deviation is fitted alone, at its full amount and not by its slope, together with the
delay of the connector, by the space-mapping surrogate of `simharness.estimate.surrogate`; they are ranked
by what they leave unexplained.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError
from simharness.estimate.antenna import estimate_span
from simharness.estimate.deviations import Deviation, deviations
from simharness.estimate.surrogate import POINTS, Reflection, SpaceMappingSurrogate, estimated_reflection
from simharness.measurement.files import MIN_POINTS, OnePort
from simharness.measurement.fit import fitted, likely_amount
from simharness.numerics.likelihood import INDEPENDENT_SAMPLES, log_likelihood, shares
from simharness.progress import Progress, Silent
from simharness.records import Record

CONNECTOR_DELAY = (-10e-12, 190e-12)
"""Delays of a connector that are considered, s: up to 40 mm filled with PTFE."""

ANALYSER_ERROR = 0.01
"""Error of a calibrated hand-held analyser in the complex plane (common practice, no source)."""

UNEXPLAINED_SHARE = 0.3
"""What "none of them alone" is assumed to leave unexplained, as a share of the whole difference: more than
the true cause does in full-wave runs of antennas with one wrong dimension."""

UNEXPLAINED_PARAMETERS = 2
"""Number of free amounts that "none of them alone" is charged with."""

EXPECTED_SHARE = 0.5
"""Standard deviation of the prior of an amount, as a share of the limit of the deviation."""

_COST = 0.5 * np.log(2 * INDEPENDENT_SAMPLES)
"""Penalty of a free amount in logarithmic likelihood, as in the BIC."""

_REFINEMENTS = 6
_CLOSE = 0.01
"""Amounts closer than this share of the limit count as equal."""

_ENOUGH = 0.1
"""A misfit that interpolation predicted to within this share needs no further refinement."""


@dataclass(frozen=True)
class Cause:
    """One explanation of the measurement.

    Attributes
    ----------
    deviation : Deviation or None
        None for an antenna as drawn.
    amount : float
        In the unit of the deviation; 0 as drawn, 1 for a covered slot.
    delay : float
        One-way delay of the connector that goes with it, s.
    misfit : float
        Root mean square distance in the complex plane that it leaves.
    share : float
        Relative likelihood among all causes considered, 0 to 1.
    s11 : (f,) complex array
        Its prediction at `Explanation.frequency`.
    """

    deviation: Deviation | None
    amount: float
    delay: float
    misfit: float
    share: float
    s11: NDArray


@dataclass(frozen=True)
class Explanation:
    """All causes, the likeliest first, and what they were compared with.

    Attributes
    ----------
    frequency : (f,) array
        Hz.
    run, measured : (f,) complex arrays
        S11 of the run, and of the measurement as in its file.
    causes : tuple of Cause
    unexplained : float
        Relative likelihood that it is none of them alone, 0 to 1.
    """

    frequency: NDArray
    run: NDArray
    measured: NDArray
    causes: tuple[Cause, ...]
    unexplained: float


def common_frequency(run: OnePort, record: Record, measured: OnePort) -> NDArray:
    """Frequencies (f,) in Hz that run, estimate and measurement share.

    Raises
    ------
    InputError
        They share less than half of the record's band, or too few points.
    """
    low = max(run.frequency[0], measured.frequency[0], estimate_span(record)[0])
    high = min(run.frequency[-1], measured.frequency[-1], estimate_span(record)[1])
    band = record.band
    shared = min(high, band.high) - max(low, band.low)
    inside = np.count_nonzero((measured.frequency >= low) & (measured.frequency <= high))
    if shared < 0.5 * (band.high - band.low) or inside < MIN_POINTS:
        raise InputError(
            "measured frequencies",
            f"{measured.frequency[0] / 1e9:.4g} to {measured.frequency[-1] / 1e9:.4g} GHz",
            f"must cover at least half of the band from {band.low_ghz:g} to {band.high_ghz:g} GHz "
            f"with {MIN_POINTS} points or more",
        )
    return np.linspace(low, high, POINTS)


def explanation(
    model: SpaceMappingSurrogate,
    measured: OnePort,
    *,
    run_error: float = 0.0,
    delay: float | None = None,
    progress: Progress | None = None,
) -> Explanation:
    """Fit every deviation alone and rank them.

    Parameters
    ----------
    model : SpaceMappingSurrogate
    measured : OnePort
        Covers the frequencies of the model.
    run_error : float
        Error of the run's S11, a distance in the complex plane.
    delay : float or None
        One-way delay of the connector, s; None fits it with each deviation.
    progress : Progress or None
    """
    bench = measured.at(model.frequency)
    floor = float(np.hypot(ANALYSER_ERROR, 0.5 * run_error))
    span = CONNECTOR_DELAY if delay is None else (delay, delay)
    plain = fitted(model.frequency, bench, model.run_s11, span)
    found = [Cause(None, 0.0, plain.delay, plain.misfit, 0.0, model.run_s11)]
    progress, everything = progress or Silent(), deviations(model.record)
    begin = time.monotonic()
    for number, deviation in enumerate(everything):
        left = (time.monotonic() - begin) / max(number, 1) * (len(everything) - number)
        progress.advance(number / len(everything), left, deviation.name)
        if not deviation.unit or deviation.range(model.calibrated) != (0.0, 0.0):
            found.append(_fitted_cause(model, deviation, bench, span, floor))
    progress.done()
    scores = [_score(cause, floor) for cause in found]
    other = log_likelihood(UNEXPLAINED_SHARE * plain.misfit, floor) - _COST * UNEXPLAINED_PARAMETERS
    weights = shares(np.array([*scores, other]))
    ranked = sorted(
        (replace(cause, share=float(w)) for cause, w in zip(found, weights)), key=lambda cause: -cause.share
    )
    return Explanation(model.frequency, model.run_s11, bench, tuple(ranked), float(weights[-1]))


def causes(
    run: OnePort, record: Record, measured: OnePort, reflection: Reflection = estimated_reflection
) -> tuple[Cause, ...]:
    """The causes of a difference between a run and a measurement, the likeliest first.

    Parameters
    ----------
    run : OnePort
        S11 of the full-wave run of the record.
    record : Record
    measured : OnePort
    reflection : function
        The estimate.

    Raises
    ------
    InputError
        The frequencies hardly overlap.
    """
    frequency = common_frequency(run, record, measured)
    return explanation(
        SpaceMappingSurrogate(record, frequency, run.at(frequency), reflection), measured
    ).causes


def _expected(deviation: Deviation) -> float:
    """Standard deviation of the prior of the amount."""
    return EXPECTED_SHARE * deviation.limit


def _score(cause: Cause, floor: float) -> float:
    """Logarithm of the likelihood of a cause times the prior of its amount."""
    score = float(log_likelihood(cause.misfit, floor))
    if cause.deviation is None or not cause.deviation.unit:
        return score
    return score - 0.5 * (cause.amount / _expected(cause.deviation)) ** 2 - _COST


def _fitted_cause(
    model: SpaceMappingSurrogate,
    deviation: Deviation,
    bench: NDArray,
    span: tuple[float, float],
    floor: float,
) -> Cause:
    """The deviation at its likeliest amount."""
    if not deviation.unit:
        return _cause(model, deviation, 1.0, bench, span)
    low, high = deviation.range(model.calibrated)
    tried = [Cause(deviation, 0.0, 0.0, 0.0, 0.0, model.run_s11)]
    tried += [_cause(model, deviation, amount, bench, span) for amount in (low / 2, high / 2) if amount]
    for _ in range(_REFINEMENTS):
        tried.sort(key=lambda cause: cause.amount)
        amounts, curves = (
            np.array([cause.amount for cause in tried]),
            np.array([cause.s11 for cause in tried]),
        )
        amount, expected = likely_amount(
            model.frequency, bench, amounts, curves, span, floor, _expected(deviation)
        )
        if amount in (amounts[0], amounts[-1]):
            amount = low if amount < 0 else high
        if np.min(np.abs(amounts - amount)) < _CLOSE * deviation.limit:
            break
        tried.append(_cause(model, deviation, amount, bench, span))
        if abs(tried[-1].misfit - expected) <= _ENOUGH * expected:
            break
    return max((cause for cause in tried if cause.amount), key=lambda cause: _score(cause, floor))


def _cause(
    model: SpaceMappingSurrogate,
    deviation: Deviation,
    amount: float,
    bench: NDArray,
    span: tuple[float, float],
) -> Cause:
    """A deviation at one amount, evaluated by the model itself."""
    curve = model.predicted(deviation, amount)
    fit = fitted(model.frequency, bench, curve, span)
    return Cause(deviation, amount, fit.delay, fit.misfit, 0.0, curve)
