"""What is said of a record while it changes: predicted at once, or exact a moment later."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simharness.em.signals.match import deepest_match, value_at, worst_match
from simharness.figures import Figure
from simharness.live.cuts import ANGLE, relative_levels
from simharness.live.surface import POINTS
from simharness.numerics.decibels import decibels
from simharness.records import Record


@dataclass(frozen=True)
class NearFigures:
    """The figures that move with a dimension; nan where one does not exist.

    Attributes
    ----------
    best_frequency : float
        Of the deepest match, Hz.
    best_s11, worst_s11, centre_s11 : float
        |S11| there, the largest in the band, and at the design frequency, dB.
    gain : float
        Realized gain, dBi.
    side_lobes : float
        Along the guide, in front, dB.
    """

    best_frequency: float
    best_s11: float
    worst_s11: float
    centre_s11: float
    gain: float
    side_lobes: float


@dataclass(frozen=True)
class Prediction:
    """Match, slot voltages and cuts of a record.

    Attributes
    ----------
    frequency : (f,) array
        Hz.
    s11 : (f,) complex array
    slot_voltages : (n,) complex array
        In order along the guide, largest magnitude 1, turned by `in_phase`.
    angle : (a,) array
        rad from broadside.
    along, across : (a,) arrays or None
        Cuts in dB below the larger of their peaks; None without slots that radiate.
    figures : NearFigures
    exact : bool
        Whether it is the estimate itself, not a prediction of it.
    """

    frequency: NDArray
    s11: NDArray
    slot_voltages: NDArray
    angle: NDArray
    along: NDArray | None
    across: NDArray | None
    figures: NearFigures
    exact: bool


@dataclass(frozen=True)
class Exact:
    """All that the estimate says of a record.

    Attributes
    ----------
    record : Record
    shown : Prediction
        With `exact` true.
    reflection : (f,) complex array
        Of TE10 at the feed.
    slot_power : (n,) array
        Share of the accepted power that each slot radiates.
    figures : dict of str to Figure
        Of the estimate.
    sentences : tuple of str
        What the estimate says in words.
    trust : dict of str to float
        How far the figures of the estimate are trusted; see `simharness.verdict.error_bars`.
    """

    record: Record
    shown: Prediction
    reflection: NDArray
    slot_power: NDArray
    figures: dict[str, Figure]
    sentences: tuple[str, ...]
    trust: dict[str, float]


def exact_answer(record: Record) -> Exact:
    """The estimate of a record, in less than a second for up to 16 slots.

    Raises
    ------
    InputError
        Another mode than TE10 may travel.
    """
    from simharness.estimate.antenna import row_reflection
    from simharness.library.analysis import estimate
    from simharness.verdict.error_bars import estimate_error

    found = estimate(record, POINTS)
    model, figures = found.model, found.figures
    along = across = None
    if model.along is not None and model.across is not None:
        powers = (np.interp(ANGLE, cut.angle, cut.power) for cut in (model.along, model.across))
        along, across = relative_levels(*powers)
    reflected = match_figures(record, model.frequency, model.s11)
    shown = Prediction(
        model.frequency,
        model.s11,
        in_phase(model.slot_voltages),
        ANGLE,
        along,
        across,
        replace(
            reflected,
            centre_s11=_value(figures, "s11_at_centre"),
            gain=_value(figures, "realized_gain"),
            side_lobes=_value(figures, "side_lobe_level"),
        ),
        True,
    )
    return Exact(
        record,
        shown,
        row_reflection(record, POINTS)[1],
        model.slot_power,
        dict(figures),
        found.sentences,
        estimate_error(record),
    )


def in_phase(voltages: NDArray) -> NDArray:
    """Voltages (n,) with the largest magnitude 1, turned so that they are as real as can be and the first is
    positive: two answers then have the same phases. Those of the back wall may be against those of the front.

    Examples
    --------
    >>> print(np.round(in_phase(np.array([1j, -2j])), 6))
    [ 0.5+0.j -1. -0.j]
    """
    if not voltages.size or not np.any(voltages):
        return voltages
    turned = voltages / np.abs(voltages).max() * np.exp(-0.5j * np.angle((voltages**2).sum()))
    return turned if turned[0].real >= 0 else -turned


def _value(figures: dict[str, Figure], name: str) -> float:
    figure = figures.get(name)
    return float("nan") if figure is None or figure.value is None else float(figure.value)


def match_figures(record: Record, frequency: NDArray, s11: NDArray) -> NearFigures:
    """The figures of a match alone: frequencies (f,) in Hz and S11 (f,)."""
    best, power = deepest_match(frequency, s11)
    _, worst = worst_match(frequency, s11, record.band.low, record.band.high)
    at_centre = abs(value_at(frequency, s11, record.band.centre)) ** 2
    nothing = float("nan")
    return NearFigures(best, decibels(power), decibels(worst), decibels(at_centre), nothing, nothing)
