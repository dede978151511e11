"""Readings and a measured reflection weighed together: what each says of the dimensions, and if they agree.

The readings are the prior of all dimensions, a normal one. The measured curve, seen through a connector of
unknown delay, has the errors of the analyser and of the model, which are smooth over frequency: a handful of
independent samples. The most probable dimensions are found by Gauss-Newton steps on the quadratic model of a
finished antenna; their covariance is that of the linear model there (Laplace's approximation).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from simharness.constants import TWO_PI
from simharness.em.signals.reference_plane import behind_line
from simharness.errors import InputError
from simharness.measurement.causes import ANALYSER_ERROR, CONNECTOR_DELAY
from simharness.measurement.fit import fitted
from simharness.numerics.likelihood import INDEPENDENT_SAMPLES
from simharness.workshop.antenna import WITHIN_95, BuiltAntenna

ROUNDS = 12
_STILL = 1e-3
"""Change of the misfit in chi-square at which the rounds end."""

DOUBTFUL = 0.01
"""Probability of a chi-square as large as the one found, below which curve and readings contradict."""

LARGE_SLIP = 3.0
"""Standard deviations beyond which the most probable value of a reading contradicts it."""

_STARTS = (-2.0, -1.0, 1.0, 2.0)
"""Where a wrong reading is looked for, in standard deviations of a slip: S11 has several minima over it."""
_TRIED = 4
"""Readings that look most like slips, for which the model is made anew where they lead."""


@dataclass(frozen=True)
class Slip:
    """One reading that would explain the curve if it were wrong.

    Attributes
    ----------
    number : int
        Of the dimension, from 0.
    amount : float
        How far the dimension would be from its reading, mm.
    chi_square : float
        What would then be left.
    """

    number: int
    amount: float
    chi_square: float


@dataclass(frozen=True)
class Weighed:
    """What readings and curve say together.

    Attributes
    ----------
    shift : (n,) array
        Of each dimension from its reading, mm.
    covariance : (n, n) array
        mm^2.
    delay : float
        One-way delay of the connector, s.
    s11 : (f,) complex array
        Of the model at these dimensions.
    measured : (f,) complex array
        The curve behind its connector.
    before, misfit : float
        Root mean square distance of the curve from the model, by the readings alone and at these dimensions.
    floor : float
        What errors of model and analyser explain of it, root mean square.
    chi_square : float
        Distances from curve and readings in their standard deviations, squared and added.
    slips : tuple of Slip
        Single readings that would explain the curve, the best first; empty unless they contradict.
    """

    shift: NDArray
    covariance: NDArray
    delay: float
    s11: NDArray
    measured: NDArray
    before: float
    misfit: float
    floor: float
    chi_square: float
    slips: tuple[Slip, ...] = ()

    @property
    def agrees(self) -> bool:
        """Whether the curve can be explained within the readings."""
        return self.chi_square <= chi2.ppf(1 - DOUBTFUL, 2 * INDEPENDENT_SAMPLES)


def weighed(antenna: BuiltAntenna, bench: NDArray, delay: float | None = None) -> Weighed:
    """Weigh a measured curve against the readings.

    Parameters
    ----------
    antenna : BuiltAntenna
        By the readings.
    bench : (f,) complex array
        As measured, at the frequencies of `antenna.base`.
    delay : float or None
        One-way delay of the connector, s; None fits it.
    """
    span = CONNECTOR_DELAY if delay is None else (delay, delay)
    problem = _Problem(antenna, bench, span)
    found = problem.solved(antenna.covariance)
    if not found.agrees:
        found = replace(found, slips=problem.slips())
    return found


class _Problem:
    """A measured curve beside the quadratic model of an antenna, which is made where all dimensions are off
    from the readings by `anchor` (n,), mm."""

    def __init__(
        self,
        antenna: BuiltAntenna,
        bench: NDArray,
        span: tuple[float, float],
        anchor: NDArray | None = None,
    ):
        self.antenna, self.bench, self.span = antenna, bench, span
        self.anchor = np.zeros(len(antenna.rows)) if anchor is None else anchor
        self.frequency = antenna.base.frequency
        spread = np.hypot(antenna.base.whole_error, ANALYSER_ERROR) / WITHIN_95
        self.floor = float(np.sqrt(2) * spread)  # of a complex number with parts of that standard deviation
        self.weight = np.sqrt(INDEPENDENT_SAMPLES / bench.size) / spread

    def _curve(self, shift: NDArray) -> NDArray:
        """S11 (..., f) with the dimensions off by shifts (..., n)."""
        flat = np.atleast_2d(shift) - self.anchor
        found = self.antenna.curves(flat)
        grid = self.antenna.frequency
        within = np.array([np.interp(self.frequency, grid, curve) for curve in found])
        return within.reshape(*shift.shape[:-1], self.frequency.size)

    def solved(self, prior: NDArray, start: NDArray | None = None) -> Weighed:
        """The most probable dimensions under a prior covariance (n, n), from a start (n,) in mm."""
        values, vectors = np.linalg.eigh(prior)
        known = values > 1e-10 * values.max()
        root = vectors[:, known] * np.sqrt(values[known])  # shift = root @ whitened
        state, damping = np.zeros(root.shape[1]), 1.0
        before = self._state(state, root)
        if start is not None:
            state = np.linalg.lstsq(root, start, rcond=None)[0]
        here = self._state(state, root)
        for _ in range(ROUNDS):
            step = self._step(state, root, here)
            trial = state + damping * step
            there = self._state(trial, root)
            if there[0] > here[0]:
                damping /= 2
                continue
            gain, state, here, damping = here[0] - there[0], trial, there, min(1.0, 2 * damping)
            if gain < _STILL:
                break
        chi_square, delay, curve, turned = here
        jacobian = self._jacobian(state, root, curve, turned)
        inside = np.linalg.inv(np.eye(root.shape[1]) + jacobian.T @ jacobian)
        return Weighed(
            root @ state,
            root @ inside @ root.T,
            delay,
            curve,
            turned,
            _distance(before[3], before[2]),
            _distance(turned, curve),
            self.floor,
            chi_square,
        )

    def _state(self, state: NDArray, root: NDArray) -> tuple[float, float, NDArray, NDArray]:
        """Chi-square, delay, curve of the model and measured curve behind that delay, of whitened amounts."""
        curve = self._curve(root @ state)
        delay = fitted(self.frequency, self.bench, curve, self.span).delay
        turned = behind_line(self.frequency, self.bench, delay)
        apart = self.weight * np.abs(turned - curve)
        return float(apart @ apart + state @ state), delay, curve, turned

    def _jacobian(self, state: NDArray, root: NDArray, curve: NDArray, turned: NDArray) -> NDArray:
        """Slopes (2 f, n) of the weighted curve by the whitened amounts, the delay following them."""
        step = 0.1
        moved = self._curve((root @ (state[:, None] + step * np.eye(state.size))).T)
        slopes = (moved - curve).T / step
        rows = self.weight * np.vstack([slopes.real, slopes.imag])
        if self.span[0] < self.span[1]:
            turn = 2j * TWO_PI * self.frequency * turned
            line = np.concatenate([turn.real, turn.imag])
            line /= np.linalg.norm(line)
            rows = rows - np.outer(line, line @ rows)
        return rows

    def _step(self, state: NDArray, root: NDArray, here: tuple[float, float, NDArray, NDArray]) -> NDArray:
        _, _, curve, turned = here
        rows, apart = self._jacobian(state, root, curve, turned), self.weight * (turned - curve)
        right = rows.T @ np.concatenate([apart.real, apart.imag]) - state
        return np.linalg.solve(rows.T @ rows + np.eye(state.size), right)

    def slips(self) -> tuple[Slip, ...]:
        """Single readings that would explain the curve if they were wrong, the best first."""
        tried = [self._slip(number) for number in range(len(self.antenna.rows))]
        tried.sort(key=lambda found: found[1].chi_square)
        kept = []
        for number, found in tried[:_TRIED]:
            try:
                found = self._moved(found.shift).solved(self._prior(number), found.shift)
            except InputError:
                continue
            if found.agrees:
                kept.append(Slip(number, float(found.shift[number]), found.chi_square))
        return tuple(sorted(kept, key=lambda slip: slip.chi_square))

    def _prior(self, number: int) -> NDArray:
        """That of the readings, but for one that may be wrong."""
        prior = self.antenna.covariance.copy()
        prior[number, number] += self.antenna.rows[number].dimension.deviation.limit ** 2
        return prior

    def _slip(self, number: int) -> tuple[int, Weighed]:
        """The best explanation by one wrong reading."""
        size, prior = self.antenna.rows[number].dimension.deviation.limit, self._prior(number)
        unit = np.eye(len(self.antenna.rows))[number]
        found = [self.solved(prior, share * size * unit) for share in _STARTS]
        return number, min(found, key=lambda one: one.chi_square)

    def _moved(self, shift: NDArray) -> _Problem:
        """With the model made where the dimensions are off by a shift (n,), mm."""
        antenna = self.antenna
        there = BuiltAntenna(antenna.base, antenna.rows, antenna.amounts + shift, antenna.covariance)
        return _Problem(there, self.bench, self.span, shift)


def _distance(one: NDArray, two: NDArray) -> float:
    """Root mean square distance in the complex plane."""
    return float(np.sqrt(np.mean(np.abs(one - two) ** 2)))
