"""Rational interpolation of several responses with common poles, sampled adaptively."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigvals

from simharness.errors import NotConvergedError


@dataclass(frozen=True)
class BarycentricRational:
    """r(x) = sum_j w_j f_j / (x - x_j) / sum_j w_j / (x - x_j), f_j a row of values.

    Attributes
    ----------
    nodes : (m,) array
    values : (m, columns) complex array
    weights : (m,) complex array
    """

    nodes: NDArray
    values: NDArray
    weights: NDArray

    def __call__(self, x: NDArray) -> NDArray:
        """Columns at x (n,), shape (n, columns)."""
        x = np.asarray(x, dtype=float)
        gap = x[:, None] - self.nodes
        hit = gap == 0.0
        cauchy = self.weights / np.where(hit, 1.0, gap)
        out = (cauchy @ self.values) / cauchy.sum(axis=1)[:, None]
        rows, cols = np.nonzero(hit)
        out[rows] = self.values[cols]
        return out

    def poles(self) -> tuple[NDArray, NDArray]:
        """Poles (p,) and their residues (p, columns).

        The zeros of the denominator, as eigenvalues of an arrow-shaped pencil (the paper cited in
        `rational_fit`, sec. 2.3, from memory): with u_j = w_j / (x - x_j) its rows say sum_j u_j = 0 and x_j
        u_j + w_j = x u_j.

        Examples
        --------
        >>> x = np.linspace(0.0, 1.0, 9)
        >>> poles, residues = rational_fit(x, (2.0 / (x - 0.4 - 0.05j))[:, None]).poles()
        >>> bool(abs(poles[0] - (0.4 + 0.05j)) < 1e-12 and abs(residues[0, 0] - 2) < 1e-11)
        True
        """
        size = self.nodes.size
        arrow = np.zeros((size + 1, size + 1), complex)
        arrow[0, 1:], arrow[1:, 0] = 1.0, self.weights
        arrow[1:, 1:] = np.diag(self.nodes)
        shape = np.eye(size + 1)
        shape[0, 0] = 0.0
        found = eigvals(arrow, shape)
        # Two eigenvalues lie at infinity, or where rounding has put that.
        found = found[np.isfinite(found)]
        found = found[np.abs(found) < 1e6 * np.abs(self.nodes).max()]
        cauchy = 1.0 / (found[:, None] - self.nodes)
        slope = -(cauchy**2 @ self.weights)
        return found, (cauchy @ (self.weights[:, None] * self.values)) / slope[:, None]


def rational_fit(x: NDArray, values: NDArray, spare: int = 3, floor: float = 1e-11) -> BarycentricRational:
    """Rational function with common poles through sampled columns.

    The adaptive Antoulas-Anderson method (Nakatsukasa, Sete, Trefethen, SIAM J. Sci.
    Comput. 40, 2018, A1494) with one set of nodes and weights for all columns: the
    next node is the worst sample; the weights are the right singular vector of the
    smallest singular value of the stacked Loewner matrices. Algorithm from memory,
    checked on functions with known poles.

    Parameters
    ----------
    x : (n,) array
        Distinct sample points.
    values : (n, columns) complex array
    spare : int
        Number of samples that are not nodes, so that the weights are determined.
    floor : float
        Stop when the largest misfit is below this part of the largest value.

    Examples
    --------
    >>> x = np.linspace(0.0, 1.0, 9)
    >>> fit = rational_fit(x, (1.0 / (x - 0.4 - 0.05j))[:, None])
    >>> bool(abs(fit(np.array([0.41]))[0, 0] - 1.0 / (0.01 - 0.05j)) < 1e-9)
    True
    """
    # a rotation of the columns leaves the Loewner norm alone: keep those that count
    left, size, _ = np.linalg.svd(values, full_matrices=False)
    short = (left * size)[:, size > 1e-14 * size[0]]
    scale = np.abs(short).max()
    free = np.ones(x.size, dtype=bool)
    misfit = np.abs(short - short.mean(axis=0)).max(axis=1)
    nodes: list[int] = []
    for _ in range(max(1, x.size - spare)):
        nodes.append(int(np.argmax(np.where(free, misfit, -1.0))))
        free[nodes[-1]] = False
        cauchy = 1.0 / (x[free][:, None] - x[nodes])
        loewner = (short[free][:, None, :] - short[nodes]) * cauchy[:, :, None]
        stacked = np.moveaxis(loewner, 2, 0).reshape(-1, len(nodes))
        weights = np.linalg.svd(np.linalg.qr(stacked, mode="r"))[2][-1].conj()
        fit = BarycentricRational(x[nodes], short[nodes], weights)
        misfit = np.zeros(x.size)
        misfit[free] = np.abs(fit(x[free]) - short[free]).max(axis=1)
        if misfit.max() < floor * scale:
            break
    return BarycentricRational(x[nodes], values[nodes], weights)


def adaptive_sweep(
    function: Callable[[NDArray], NDArray],
    x: NDArray,
    tolerance: float = 1e-5,
    start: int = 7,
    max_samples: int = 120,
) -> tuple[NDArray, NDArray, float]:
    """Columns on a grid from few exact samples and a rational fit.

    New samples go where the fits with and without the latest samples differ most.
    The error is measured: each new exact sample is compared with the fit made
    without it; two rounds in a row must stay below ``tolerance``.

    Parameters
    ----------
    function : callable
        Maps points, shape (n,), to columns, shape (n, columns), scaled so that an
        absolute error of ``tolerance`` means the same in each.
    x : (points,) array
        Grid, increasing.
    tolerance : float
        Largest accepted error of a column.
    start, max_samples : int
        Numbers of samples at the beginning and at most.

    Returns
    -------
    values : (points, columns) complex array
    sampled : (n,) int array
        Grid indices of the exact samples.
    error : float
        Largest error found in the last two rounds.

    Raises
    ------
    NotConvergedError
        ``max_samples`` samples were not enough.
    """
    if x.size <= start + 4:
        return function(x), np.arange(x.size), 0.0
    angle = np.linspace(np.pi, 0.0, start)
    index = np.unique(np.round((np.cos(angle) + 1) / 2 * (x.size - 1)).astype(int))
    unit = (x - x[0]) / (x[-1] - x[0])
    known = function(x[index])
    old = rational_fit(unit[index[::2]], known[::2], spare=1)(unit)
    errors = [np.inf]
    while True:
        new = rational_fit(unit[index], known)(unit)
        if max(errors[-2:]) < tolerance or index.size == x.size:
            new[index] = known
            return new, np.sort(index), max(errors[-2:])
        if index.size >= max_samples:
            raise NotConvergedError("frequency sweep: rational fit has not settled", errors[-1], tolerance)
        extra = _next_samples(np.abs(new - old).max(axis=1), index)
        exact = function(x[extra])
        errors.append(float(np.abs(exact - new[extra]).max()))
        index, known, old = np.append(index, extra), np.vstack([known, exact]), new


def _next_samples(doubt: NDArray, taken: NDArray, count: int = 2) -> NDArray:
    """Grid indices of the largest doubt, apart from each other, not yet taken."""
    doubt = doubt.copy()
    doubt[taken] = -1.0
    # in ties and for smooth data the middle of the widest gap must win
    room = np.abs(np.arange(doubt.size)[:, None] - taken).min(axis=1)
    doubt = np.where(doubt >= 0, doubt + 1e-14 * room, -1.0)
    chosen = []
    for _ in range(min(count, int((doubt >= 0).sum()))):
        best = int(np.argmax(doubt))
        chosen.append(best)
        near = max(1, room[best] // 2)
        doubt[max(0, best - near) : best + near + 1] = -1.0
        if doubt.max() < 0:
            break
    return np.array(chosen)
