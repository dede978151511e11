"""The space-mapping surrogate: a fast model of S11, exact for the antenna as drawn and accurate near it.

The estimate gives the change of S11 with a dimension, the full-wave run gives S11 itself. The
estimate is first brought near the run by small changes of its own dimensions (its calibration);
the remaining difference is added to whatever it predicts:

    S_predicted(p) = S_run + S_estimate(calibrated, p) - S_estimate(calibrated)

This is space mapping with a response correction (J. W. Bandler and others, IEEE Trans. Microwave
Theory Tech. 52, 2004, 337-361; memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simharness.errors import InputError
from simharness.estimate.antenna import estimated_match
from simharness.estimate.deviations import Deviation, deviations
from simharness.numerics.likelihood import INDEPENDENT_SAMPLES
from simharness.records import Record

POINTS = 61
"""Frequencies at which curves are compared."""

CALIBRATION_STEPS = 3
CALIBRATION_WIDTH = 0.4
"""Standard deviation of a calibration as a share of the limit of the deviation."""

CALIBRATION_ERROR = 0.02
"""Distance in the complex plane that a calibration aims at."""

_CALIBRATED_ENOUGH = 0.3
"""Share of `CALIBRATION_ERROR` at which the calibration stops early."""

_SLOPE_STEP = 0.05
"""Step of a slope as a share of the limit of the deviation."""

Reflection = Callable[[Record, NDArray], NDArray]
"""S11 (f,) of a record at frequencies (f,) in Hz by a fast model, usually the estimate."""


def estimated_reflection(record: Record, frequency: NDArray) -> NDArray:
    """S11 (f,) of the estimate at frequencies (f,) in Hz within its span."""
    return CubicSpline(*estimated_match(record, POINTS))(frequency)


class SpaceMappingSurrogate:
    """The estimate of a record, calibrated by its run, at fixed frequencies.

    Parameters
    ----------
    record : Record
    frequency : (f,) array
        Hz.
    run_s11 : (f,) complex array
        S11 of the full-wave run.
    reflection : function
        The fast model that is calibrated.
    """

    def __init__(
        self,
        record: Record,
        frequency: NDArray,
        run_s11: NDArray,
        reflection: Reflection = estimated_reflection,
    ):
        self.record, self.frequency, self.run_s11, self._reflection = record, frequency, run_s11, reflection
        self.calibrated = self._calibrated([one for one in deviations(record) if one.calibrated])
        self.remainder = run_s11 - self._estimated(self.calibrated)
        self._known: dict[tuple[str, float], NDArray] = {}

    def predicted(self, deviation: Deviation, amount: float) -> NDArray:
        """S11 (f,) with one dimension off by an amount."""
        key = deviation.name, amount
        if key not in self._known:
            self._known[key] = self.remainder + self._estimated(deviation.applied(self.calibrated, amount))
        return self._known[key]

    def predicted_both(self, one: tuple[Deviation, float], two: tuple[Deviation, float]) -> NDArray:
        """S11 (f,) with two dimensions off, each by an amount.

        Raises
        ------
        InputError
            No such antenna exists.
        """
        return self.remainder + self._estimated(
            two[0].applied(one[0].applied(self.calibrated, one[1]), two[1])
        )

    def _estimated(self, record: Record) -> NDArray:
        return self._reflection(record, self.frequency)

    def _calibrated(self, variables: Sequence[Deviation]) -> Record:
        """The record whose estimate comes near the run, by damped least squares in a few steps."""
        limits = np.array([variable.limit for variable in variables])
        shift, best = np.zeros(len(variables)), self.record
        here = self._estimated(best)
        for _ in range(CALIBRATION_STEPS):
            if _distance(self.run_s11, here) < _CALIBRATED_ENOUGH * CALIBRATION_ERROR:
                break
            slopes = np.array([self._slope(variable, best, here) for variable in variables]).T
            step = _damped_step(slopes, self.run_s11 - here, shift / limits)
            trial = np.clip(shift + step * limits, -limits, limits)
            try:
                record = self._shifted(variables, trial)
            except InputError:
                break
            there = self._estimated(record)
            if _distance(self.run_s11, there) >= _distance(self.run_s11, here):
                break
            shift, best, here = trial, record, there
        return best

    def _slope(self, variable: Deviation, record: Record, here: NDArray) -> NDArray:
        """Change of S11 (f,) over the whole limit of a variable, from a small step; zero where it cannot
        vary."""
        for part in (_SLOPE_STEP, -_SLOPE_STEP):
            try:
                moved = variable.applied(record, part * variable.limit)
            except InputError:
                continue
            return (self._estimated(moved) - here) / part
        return np.zeros_like(here)

    def _shifted(self, variables: Sequence[Deviation], shift: NDArray) -> Record:
        record = self.record
        for variable, amount in zip(variables, shift):
            record = variable.applied(record, float(amount))
        return record


def _distance(one: NDArray, two: NDArray) -> float:
    """Root mean square distance in the complex plane."""
    return float(np.sqrt(np.mean(np.abs(one - two) ** 2)))


def _damped_step(slopes: NDArray, wanted: NDArray, shift: NDArray) -> NDArray:
    """Step of all variables, as shares of their limits: least squares with their prior distribution."""
    scale = 1 / (CALIBRATION_ERROR * np.sqrt(wanted.size / INDEPENDENT_SAMPLES))
    matrix = np.vstack([scale * slopes.real, scale * slopes.imag, np.eye(shift.size) / CALIBRATION_WIDTH])
    right = np.concatenate([scale * wanted.real, scale * wanted.imag, -shift / CALIBRATION_WIDTH])
    return np.linalg.lstsq(matrix, right, rcond=None)[0]
