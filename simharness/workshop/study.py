"""What a finished antenna does, by its readings, and by a measured curve where there is one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simharness.em.signals.match import worst_match
from simharness.errors import InputError
from simharness.measurement.causes import common_frequency
from simharness.measurement.files import OnePort
from simharness.numerics.decibels import decibels
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.verdict.error_bars import estimate_error
from simharness.verdict.match_state import MatchState
from simharness.workshop.antenna import BuiltAntenna, Interval, drawn_figures
from simharness.workshop.base import BaseModel, base_model
from simharness.workshop.readings import Reading, Readings, changed_by
from simharness.workshop.weighing import Weighed, weighed

SURE = 0.975
"""Share of antennas that must meet the target, or miss it, for it to be called so."""

MATTERS = 0.005
"""Change of S11 below which an error of a dimension is not mentioned, a distance in the complex plane."""


@dataclass(frozen=True)
class Effect:
    """What is known of one reading, and what that does.

    Attributes
    ----------
    reading : Reading
    change : float
        Largest change of S11 in the band for what it is right within, a distance in the complex plane.
    """

    reading: Reading
    change: float


@dataclass(frozen=True)
class Cost:
    """What one kind of dimension, made otherwise than drawn, does to the match.

    Attributes
    ----------
    kind : str
        "slot length", "probe height".
    rows : tuple of Reading
        Those of that kind.
    worst_db : float
        Largest |S11| in the band if these alone were as drawn, dB.
    """

    kind: str
    rows: tuple[Reading, ...]
    worst_db: float


@dataclass(frozen=True)
class BuiltStudy:
    """A finished antenna.

    Attributes
    ----------
    readings : Readings
    base : BaseModel
        As drawn.
    amounts : (n,) array
        How far each dimension is from what is drawn, mm: as read, or as readings and curve together have it.
    record : Record
        As built.
    antenna : BuiltAntenna
    drawn : dict of float
        The figures as drawn; see `drawn_figures`.
    figures : dict of Interval
        With all errors; see `BuiltAntenna.intervals`.
    by_readings, by_model : dict of Interval
        With what is not known of the dimensions alone; with that and the error of the model against the full
        wave on its own mesh.
    likely : float
        Share of such antennas that meet the target, 0 to 1.
    effects : tuple of Effect
        The strongest first.
    costs : tuple of Cost
        What costs most first.
    weighed : Weighed or None
        With a measured curve.
    """

    readings: Readings
    base: BaseModel
    amounts: NDArray
    record: Record
    antenna: BuiltAntenna
    drawn: dict[str, float]
    figures: dict[str, Interval]
    by_readings: dict[str, Interval]
    by_model: dict[str, Interval]
    likely: float
    effects: tuple[Effect, ...]
    costs: tuple[Cost, ...]
    weighed: Weighed | None = None

    @property
    def drawn_db(self) -> float:
        """Largest |S11| in the band as drawn, dB."""
        return self.drawn["worst_s11"]

    @property
    def whole_error(self) -> float:
        """Of S11 against metal, a distance in the complex plane: by the measured curve where that counts."""
        told = self.weighed
        return told.floor if told is not None and told.agrees else self.base.whole_error

    @property
    def state(self) -> MatchState:
        """Whether the antenna meets its target."""
        return state_of_share(self.likely)

    @property
    def meets(self) -> bool:
        """Whether it meets its target more likely than not."""
        return self.figures["worst_s11"].value <= self.record.band.target_s11_db


def state_of_share(likely: float) -> MatchState:
    """What is said of an antenna when a share of those like it meets the target."""
    if likely >= SURE:
        return MatchState.MET
    return MatchState.MISSED if likely <= 1 - SURE else MatchState.CLOSE


def built_study(
    readings: Readings,
    run: OnePort | None = None,
    name: str = "",
    quality: str = "",
    *,
    measured: OnePort | None = None,
    delay: float | None = None,
    progress: Progress | None = None,
) -> BuiltStudy:
    """Study a finished antenna.

    Parameters
    ----------
    readings : Readings
    run : OnePort or None
        S11 of a full-wave run of the record as drawn.
    name, quality : str
        Of that run and its mesh.
    measured : OnePort or None
        S11 of the finished antenna, as it comes from the analyser.
    delay : float or None
        One-way delay of its connector, s; fitted without it.
    progress : Progress or None

    Raises
    ------
    InputError
        No antenna is as read, or the curve hardly covers the band.
    """
    progress = progress or Silent()
    progress.note(
        "the model of the antenna as drawn, then every dimension around what was read; some seconds"
    )
    base = base_model(readings.record, run, name, quality)
    record, amounts = readings.built(), readings.amounts
    antenna = BuiltAntenna(base, readings.rows, amounts, readings.covariance, progress=progress)
    told = None
    if measured is not None:
        bench = _bench(base, readings.record, measured)
        told = weighed(antenna, bench, delay)
        if told.agrees:
            amounts = amounts + told.shift
            record = readings.built(amounts)
            antenna = _anchored(antenna, amounts, told, progress)
    return _studied(readings, base, amounts, record, antenna, told)


def _bench(base: BaseModel, record: Record, measured: OnePort) -> NDArray:
    """The measured curve at the frequencies of the model."""
    common_frequency(OnePort(base.frequency, base.remainder), record, measured)
    if measured.frequency[0] > record.band.low or measured.frequency[-1] < record.band.high:
        found = f"{measured.frequency[0] / 1e9:.4g} to {measured.frequency[-1] / 1e9:.4g} GHz"
        allowed = f"must cover the band from {record.band.low_ghz:g} to {record.band.high_ghz:g} GHz"
        raise InputError("measured frequencies", found, allowed)
    return measured.at(base.frequency)


def _anchored(antenna: BuiltAntenna, amounts: NDArray, told: Weighed, progress: Progress) -> BuiltAntenna:
    """The antenna at the most probable dimensions, with S11 as measured."""
    base = antenna.base
    calibrated = changed_by(base.calibrated, antenna.rows, amounts)
    remainder = told.measured - (base.s11(calibrated) - base.remainder)
    return BuiltAntenna(base, antenna.rows, amounts, told.covariance, remainder=remainder, progress=progress)


def _studied(
    readings: Readings,
    base: BaseModel,
    amounts: NDArray,
    record: Record,
    antenna: BuiltAntenna,
    told: Weighed | None,
) -> BuiltStudy:
    band = record.band
    measured = told is not None and told.agrees
    error, whole = (0.0, told.floor) if measured and told is not None else (base.error, base.whole_error)
    figures = antenna.intervals(whole)
    gain, more = figures["gain"], estimate_error(record)["gain"]
    low, high = np.hypot(gain.value - gain.low, more), np.hypot(gain.high - gain.value, more)
    figures["gain"] = Interval(gain.value, float(gain.value - low), float(gain.value + high))
    return BuiltStudy(
        readings,
        base,
        amounts,
        record,
        antenna,
        drawn_figures(base),
        figures,
        antenna.intervals(0.0),
        antenna.intervals(error),
        antenna.likely(band.target_s11_db, whole),
        _effects(antenna),
        _costs(antenna, amounts),
        told,
    )


def _effects(antenna: BuiltAntenna) -> tuple[Effect, ...]:
    """What each dimension's own uncertainty does, the strongest first."""
    spread = 2 * np.sqrt(np.diag(antenna.covariance))
    both = np.vstack([np.diag(spread), -np.diag(spread), np.zeros(spread.size)])
    bands = antenna.surface.band_s11(antenna.parts(both))
    change = np.abs(bands[:-1] - bands[-1]).max(axis=1).reshape(2, -1).mean(axis=0)
    found = [Effect(row, float(size)) for row, size in zip(antenna.rows, change)]
    return tuple(sorted(found, key=lambda effect: -effect.change))


def _costs(antenna: BuiltAntenna, amounts: NDArray) -> tuple[Cost, ...]:
    """Each kind of dimension put back as drawn, the one that helps most first."""
    base, band, rows = antenna.base, antenna.base.record.band, antenna.rows
    found = []
    for kind in dict.fromkeys(_kind(row) for row in rows):
        of_it = np.array([_kind(row) == kind for row in rows])
        if not np.any(amounts[of_it]):
            continue
        try:
            changed = changed_by(base.calibrated, rows, np.where(of_it, 0.0, amounts))
            s11 = base.s11(changed) - base.remainder + antenna.remainder
        except InputError:
            continue
        worst = float(decibels(worst_match(base.frequency, s11, band.low, band.high)[1]))
        shown = tuple(
            replace(row, read=row.dimension.drawn + float(amount))
            for row, amount, wanted in zip(rows, amounts, of_it)
            if wanted
        )
        found.append(Cost(kind, shown, worst))
    return tuple(sorted(found, key=lambda cost: cost.worst_db))


def _kind(row: Reading) -> str:
    return "slot " + row.dimension.name.split()[-1] if row.dimension.slot else row.dimension.name
