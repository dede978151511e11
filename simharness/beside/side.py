"""One of the things that are set side by side: its curve, its cuts, its figures with their error bars."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from simharness.em.pattern.cuts import cut_across, cut_along
from simharness.em.pattern.far_field import FarField, nearest_field
from simharness.em.pattern.gain import realized_gain
from simharness.em.signals.match import worst_match
from simharness.errors import InputError
from simharness.estimate import beam
from simharness.estimate.antenna import Estimate, estimate_span
from simharness.figures import Figure
from simharness.measurement.comparison import measured_figures
from simharness.measurement.files import MIN_POINTS, OnePort
from simharness.numerics.decibels import decibels
from simharness.records import REFERENCE_OHM, Record
from simharness.results.match import worst_in_band
from simharness.results.outputs import Results
from simharness.results.powers import run_efficiency
from simharness.verdict.agreement import kind_of, level_bar
from simharness.verdict.assessment import full_wave_figures
from simharness.verdict.error_bars import estimate_error, provenance, solver_error

ESTIMATE, FULL_WAVE, MEASURED = "estimate", "full wave", "measured"
"""Where the figures of a side come from."""

WORST = "worst_s11"
"""Largest |S11| in the band, dB: a figure beside those of `simharness.verdict.assessment.LABELS`."""

_POINTS = 201
"""Frequencies at which a measured curve is looked at, as many as an estimate has."""


@dataclass(frozen=True)
class SideCut:
    """A principal cut: `angle` (n,) in rad from broadside, towards the far end or +x, and realized gain (n,)
    in dBi."""

    angle: NDArray
    gain: NDArray


@dataclass(frozen=True)
class Side:
    """A record by its estimate, a run, or a measurement.

    Attributes
    ----------
    label : str
        What it is called; no two sides of a table have the same.
    kind : str
        `ESTIMATE`, `FULL_WAVE` or `MEASURED`.
    detail : str
        The kind in words, with the quality of the mesh.
    frequency : (f,) array
        Hz.
    s11 : (f,) complex array
        Of a measurement at its own plane, which is not moved.
    record : Record or None
        None of a measurement.
    s11_error : float or None
        Error bar of S11 as a distance in the complex plane; None where none is known.
    figures : dict of str to Figure
        With `WORST` where the curve covers the band.
    cuts : dict of str to SideCut
        "along" and "across", at the design frequency.
    remarks : tuple of str
    """

    label: str
    kind: str
    detail: str
    frequency: NDArray
    s11: NDArray
    record: Record | None = None
    s11_error: float | None = None
    figures: Mapping[str, Figure] = field(default_factory=dict)
    cuts: Mapping[str, SideCut] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()


def barred(figures: Mapping[str, Figure], record: Record) -> dict[str, Figure]:
    """Figures of an estimate with the error bars that `estimate_error` gives to their kinds."""
    trusted, found = estimate_error(record), {}
    width = figures.get("beamwidth_along")
    for name, figure in figures.items():
        error, kind = figure.error, kind_of(name)
        if isinstance(figure.value, complex) and record.feed.has_coax:
            # |1 - S11|^2 follows from the impedance: the bar of S11 times the slope of the impedance
            error = abs(figure.value + REFERENCE_OHM) ** 2 / (2 * REFERENCE_OHM) * trusted["s11"]
        elif kind in trusted and isinstance(figure.value, (int, float)):
            bar = trusted[kind]
            if kind == "s11":
                error = level_bar(figure.value, bar)
            elif kind in ("resonance", "band", "beamwidth"):
                error = bar * abs(figure.value)
            elif name == beam.NAME:
                error = bar * width.value if width is not None and width.value is not None else None
            else:
                error = bar
        found[name] = replace(figure, error=error)
    return found


def estimate_side(label: str, record: Record, guess: Estimate) -> Side:
    """A record by its estimate."""
    band, error = record.band, estimate_error(record)["s11"]
    _, power = worst_match(guess.frequency, guess.s11, band.low, band.high)
    level = decibels(power)
    worst = Figure(level, "dB", "estimate", level_bar(level, error))
    gain, cuts = guess.figures.get("realized_gain"), {}
    for name, cut in (("along", guess.along), ("across", guess.across)):
        if cut is not None and gain is not None and gain.value is not None:
            cuts[name] = SideCut(cut.angle, gain.value + decibels(cut.power))
    figures = {WORST: worst} | barred(guess.figures, record)
    return Side(label, ESTIMATE, ESTIMATE, guess.frequency, guess.s11, record, error, figures, cuts)


def run_side(label: str, record: Record, results: Results, quality: str) -> Side:
    """A full-wave run, judged by a record."""
    error = solver_error(record, quality, provenance(results))["s11"]
    _, level = worst_in_band(record, results)
    worst = Figure(level, "dB", f"full wave, {quality} mesh", level_bar(level, error))
    figures = {WORST: worst} | full_wave_figures(results, record, quality)
    detail = f"{FULL_WAVE}, {quality} mesh"
    frequency, s11 = results["frequency"], results["s11"]
    return Side(label, FULL_WAVE, detail, frequency, s11, record, error, figures, _run_cuts(results, record))


def _run_cuts(results: Results, record: Record) -> dict[str, SideCut]:
    """Both cuts, of both polarizations together, scaled to the gain of the figures."""
    needed = ("e_theta", "radiated_power", "accepted_power")
    if not record.slots or any(name not in results for name in needed):
        return {}
    index = nearest_field(results["far_frequency"], record.band.centre)
    kept = float(results["accepted_power"][index]) * run_efficiency(results, index)
    share = kept / float(results["radiated_power"][index])
    far, found = FarField.stored(results), {}
    for name, cut in (("along", cut_along), ("across", cut_across)):
        seen = cut(far, index)
        found[name] = SideCut(seen.angle, decibels(realized_gain(share * seen.total), -60.0))
    return found


def measured_side(label: str, measured: OnePort, beside: Record | None) -> Side:
    """A measured one-port; what it is held against, where there is a record, says which frequencies count.

    Raises
    ------
    InputError
        It has too few points there.
    """
    frequency = measured.frequency
    low, high = (frequency[0], frequency[-1]) if beside is None else estimate_span(beside)
    low, high = max(low, frequency[0]), min(high, frequency[-1])
    inside = int(np.count_nonzero((frequency >= low) & (frequency <= high)))
    if low >= high or inside < MIN_POINTS:
        wanted = "" if beside is None else f" from {low_high(beside)} GHz"
        raise InputError(
            "measured frequencies",
            f"{frequency[0] / 1e9:.4g} to {frequency[-1] / 1e9:.4g} GHz",
            f"must have {MIN_POINTS} points or more{wanted}",
        )
    shown = np.linspace(low, high, _POINTS)
    centre = 0.5 * (low + high) if beside is None else beside.band.centre
    figures = measured_figures(shown, measured, float(np.clip(centre, low, high)))
    if beside is None or not low <= centre <= high:
        figures.pop("s11_at_centre")
    if beside is not None and low <= beside.band.low and beside.band.high <= high:
        _, power = worst_match(shown, measured.at(shown), beside.band.low, beside.band.high)
        figures = {WORST: Figure(decibels(power), "dB", MEASURED)} | figures
    return Side(
        label, MEASURED, MEASURED, shown, measured.at(shown), figures=figures, remarks=measured.remarks
    )


def low_high(record: Record) -> str:
    """Span of the estimate of a record, as "9.1 to 10.1"."""
    low, high = estimate_span(record)
    return f"{low / 1e9:.4g} to {high / 1e9:.4g}"
