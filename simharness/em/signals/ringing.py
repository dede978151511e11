"""Extrapolation of ringing records: poles by the matrix pencil, and the spectrum of the missing tail.

Time convention exp(+j omega t); spectra are those of :mod:`simharness.em.signals.spectra`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import TWO_PI
from simharness.em.signals.spectra import spectrum, time_step
from simharness.errors import InputError

_LARGEST_PENCIL = 800
"""Maximum number of columns of a pencil: it limits the computing time to a second or two."""

_WIDEST = 0.8
"""Largest part of the window that a pencil spans."""

_AGAIN = 2
"""Number of windows, each shorter by a sample of the fit, tried where the whole one nearly succeeds."""

_SAMPLES = 2.5
"""Samples of a fit per period of the highest frequency: a quarter more than the minimum."""


class TailRefused(ValueError):
    """The ringing of a record cannot be continued reliably.

    Attributes
    ----------
    residual : float
        Misfit of the poles, rms over rms of the window (nan if no fit was possible).
    disagreement : float
        Largest change of the spectrum between two windows, relative to the largest
        magnitude of the spectrum (nan if not reached).
    plain : ndarray, shape (ns, nf)
        The spectrum of the record without a tail.
    """

    def __init__(self, reason: str, residual: float, disagreement: float, plain: NDArray):
        self.residual, self.disagreement, self.plain = residual, disagreement, plain
        super().__init__(reason)


@dataclass(frozen=True)
class PoleModel:
    """Signals as sums of decaying exponentials with common poles.

    Attributes
    ----------
    poles : (p,) complex array
        Complex frequencies s in 1/s, real part negative.
    residues : (ns, p) complex array
        Amplitudes at the first sample of the fitted window, in the unit of the signals.
    residual : float
        Misfit over the fitted samples, rms over rms, worst signal.
    """

    poles: NDArray
    residues: NDArray
    residual: float

    @property
    def resonance(self) -> NDArray:
        """Frequency |Im s| / 2 pi of each pole in Hz, shape (p,)."""
        return np.abs(self.poles.imag) / TWO_PI

    @property
    def quality(self) -> NDArray:
        """Quality factor |Im s| / (2 |Re s|) of each pole, shape (p,)."""
        return np.abs(self.poles.imag) / (-2 * self.poles.real)

    def values(self, elapsed: ArrayLike) -> NDArray:
        """Signals (ns, nt) at times in s counted from the first fitted sample."""
        return (self.residues @ np.exp(np.outer(self.poles, np.asarray(elapsed, float)))).real


def _misfit(found: NDArray, signals: NDArray) -> float:
    """Rms of the difference over rms of the signal, worst signal."""
    size = np.sqrt(np.mean(signals**2, axis=-1))
    error = np.sqrt(np.mean((found - signals) ** 2, axis=-1))
    return float(np.max(error / np.where(size > 0, size, 1.0)))


def matrix_pencil(signals: ArrayLike, dt: float, cut: float = 1e-6) -> PoleModel:
    """Common poles and residues of several ringing signals.

    Parameters
    ----------
    signals : (n,) or (ns, n) real array
        Samples after the end of the excitation; 2.5 to 6 samples per period of the
        highest frequency they contain.
    dt : float
        Time step in s.
    cut : float
        Singular values below ``cut`` times the largest count as noise, that of accumulated single precision.
        At least 1e-6: the squares of smaller ones are lost in rounding.

    Returns
    -------
    PoleModel
        Only poles inside the unit circle; growing ones are left out, which is then visible
        in the residual.

    Raises
    ------
    InputError
        Fewer than 8 samples, a signal that is zero throughout, or no decaying pole.

    Notes
    -----
    T. K. Sarkar and O. Pereira, IEEE Antennas Propag. Mag. 37 (1), 1995, 48-55 (from
    memory): the Hankel matrices of the signals, each scaled to unit rms, are stacked; the
    leading right singular vectors span powers of the poles and are shift invariant.

    Examples
    --------
    >>> t = np.arange(60) * 0.1
    >>> model = matrix_pencil(np.exp(-0.3 * t) * np.cos(8 * t), 0.1)
    >>> np.round(np.sort_complex(model.poles), 6)
    array([-0.3-8.j, -0.3+8.j])
    """
    signals = np.atleast_2d(np.asarray(signals, float))
    count = signals.shape[-1]
    if count < 8:
        raise InputError("samples", count, "at least 8 for a fit of poles")
    size = np.sqrt(np.mean(signals**2, axis=-1, keepdims=True))
    if not np.all(size > 0):
        raise InputError("signals", "zero throughout", "signals that ring")
    # As wide as the rows allow: a pencil must span the longest echo, and several signals share the poles.
    share = min(len(signals) / (len(signals) + 1), _WIDEST)
    width = min(int(share * count), _LARGEST_PENCIL)
    hankel = np.lib.stride_tricks.sliding_window_view(signals / size, width + 1, axis=-1)
    stacked = hankel.reshape(-1, width + 1)
    # Squares of the singular values, to 1e-13 of the largest, in a third of the time of an SVD of `stacked`.
    squares, vectors = np.linalg.eigh(stacked.T @ stacked)
    rows = vectors.T[::-1][: min(int(np.sum(squares > cut**2 * squares[-1])), width)]
    shift = np.linalg.lstsq(rows[:, :-1].T, rows[:, 1:].T, rcond=None)[0]
    turns = np.linalg.eigvals(shift)
    turns = turns[(np.abs(turns) < 1) & (turns != 0)]
    if turns.size == 0:
        raise InputError("signals", "no decaying pole", "signals that ring down")
    powers = np.cumprod(
        np.vstack([np.ones(turns.size, complex), np.broadcast_to(turns, (count - 1, turns.size))]), axis=0
    )
    residues = np.linalg.lstsq(powers, (signals / size).T, rcond=None)[0].T * size
    misfit = _misfit((residues @ powers.T).real, signals)
    return PoleModel(np.log(turns) / dt, residues, misfit)


def analytic_tail(
    model: PoleModel, origin: ArrayLike, first: ArrayLike, dt: float, frequency: ArrayLike
) -> NDArray:
    """Transform of the missing samples of a record, summed to infinity.

    The geometric series of the samples themselves, so that it continues
    :func:`spectrum` without a seam.

    Parameters
    ----------
    model : PoleModel
        Fit of the ringing.
    origin : float or (ns,) array
        Time in s of the first fitted sample of each signal.
    first : float or (ns,) array
        Time in s of the first missing sample of each signal.
    dt : float
        Time step of the record in s (not of the fit).
    frequency : (nf,) array
        Frequencies in Hz.

    Returns
    -------
    (ns, nf) complex array
        To be added to the spectrum of the record, in units of signal times s.
    """
    omega = TWO_PI * np.atleast_1d(np.asarray(frequency, float))
    count = model.residues.shape[0]
    origin = np.broadcast_to(np.asarray(origin, float), count)[:, None]
    first = np.broadcast_to(np.asarray(first, float), count)[:, None]
    start = model.residues * np.exp(model.poles * (first - origin))
    series = 1 / -np.expm1((model.poles[:, None] - 1j * omega) * dt)
    # A real signal is the real part of the sum: average the poles and their mirror images.
    mirror = 1 / -np.expm1((model.poles.conj()[:, None] - 1j * omega) * dt)
    total = 0.5 * (start @ series + start.conj() @ mirror)
    return dt * total * np.exp(-1j * omega * first)


@dataclass(frozen=True)
class Extrapolation:
    """Spectra of ringing records with their analytic tail.

    Attributes
    ----------
    spectrum : (ns, nf) complex array
        Spectrum with the tail, in units of signal times s.
    plain : (ns, nf) complex array
        Spectrum of the record without a tail.
    model : PoleModel
        The poles of the whole window.
    residual : float
        Misfit at every sample of the window, rms over rms.
    disagreement : float
        Largest change of the spectrum when the last part of the record is withheld and
        predicted, relative to the largest magnitude of the spectrum of that signal.
    """

    spectrum: NDArray
    plain: NDArray
    model: PoleModel
    residual: float
    disagreement: float


def extrapolated_spectrum(
    time: ArrayLike,
    signals: ArrayLike,
    frequency: ArrayLike,
    start: float,
    *,
    highest: float | None = None,
    withheld: float = 0.2,
    residual_limit: float = 1e-3,
    disagreement_limit: float = 2e-3,
) -> Extrapolation:
    """Spectra of records that still ring at their end, or a refusal.

    A record that has settled needs no tail: see how far the spectrum changes when the end is cut off.

    Parameters
    ----------
    time : (nt,) or (ns, nt) array
        Sampling times in s; each signal may bring its own axis with the same step.
    signals : (ns, nt) array
        Records of one and the same structure (voltages and currents), so that they
        share their poles.
    frequency : (nf,) array
        Frequencies in Hz.
    start : float
        Time in s after which the excitation has died away.
    highest : float, optional
        Highest frequency in Hz which the signals contain (default: that of
        ``frequency``). The fit takes 2.5 samples per period of it.
    withheld : float
        Part of the window left out of the second fit and predicted by it.
    residual_limit, disagreement_limit : float
        Largest accepted residual and disagreement.

    Returns
    -------
    Extrapolation

    Raises
    ------
    TailRefused
        Too few samples or nothing that rings down; the poles do not describe every
        sample of the window (noise, excitation still running, content above the fit's
        sampling rate); or the shorter window predicts another spectrum.
    InputError
        Uneven time steps, or lengths which do not match.
    """
    signals = np.atleast_2d(np.asarray(signals, float))
    time = np.broadcast_to(np.asarray(time, float), signals.shape)
    dt = time_step(time)
    highest = float(np.max(frequency)) if highest is None else highest
    stride = max(1, int(1 / (_SAMPLES * highest * dt)))
    begin = int(np.searchsorted(time[0], start))
    last = begin + round((1 - withheld) * (signals.shape[-1] - begin))
    plain = spectrum(time, signals, frequency)

    def continued(end: int) -> tuple[NDArray, PoleModel, float]:
        window = signals[:, begin:end]
        model = matrix_pencil(window[:, ::stride], stride * dt)
        misfit = _misfit(model.values(dt * np.arange(window.shape[-1])), window)
        tail = analytic_tail(model, time[:, begin], time[:, 0] + end * dt, dt, frequency)
        return spectrum(time[:, :end], signals[:, :end], frequency) + tail, model, misfit

    try:
        whole, model, misfit = continued(signals.shape[-1])
        for lost in range(1, _AGAIN + 1):
            # In a few per cent of the windows a necessary pole comes out just growing, and is left out.
            if not residual_limit < misfit <= 2 * residual_limit:
                break
            whole, model, misfit = continued(signals.shape[-1] - lost * stride)
    except InputError as error:
        raise TailRefused(f"no poles: {error}", float("nan"), float("nan"), plain) from error
    if not misfit <= residual_limit:
        reason = f"poles leave a residual of {misfit:.2g}, limit {residual_limit:.2g}"
        raise TailRefused(reason, misfit, float("nan"), plain)
    change = np.max(np.abs(continued(last)[0] - whole), axis=-1)
    disagreement = float(np.max(change / np.max(np.abs(whole), axis=-1)))
    if not disagreement <= disagreement_limit:
        reason = f"two windows disagree by {disagreement:.2g}, limit {disagreement_limit:.2g}"
        raise TailRefused(reason, misfit, disagreement, plain)
    return Extrapolation(whole, plain, model, misfit, disagreement)
