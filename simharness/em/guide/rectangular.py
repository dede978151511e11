"""Closed forms of the rectangular guide, width `a` along x and height `b` along y.

All quantities are SI, the time convention is exp(+j omega t) and the mode is TE10
unless a function takes mode numbers. Frequencies may be arrays; results broadcast.

References
----------
R. E. Collin, Field Theory of Guided Waves, 2nd ed., chapter 5; D. M. Pozar, Microwave
Engineering, 4th ed., section 3.3 (equations 3.84 to 3.96; numbers from memory,
recomputed in ``tests/published/test_guide_published.py``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import C0, ETA0, MU0, TWO_PI
from simharness.errors import InputError

NEPER_IN_DB = 20.0 / math.log(10.0)
"""One neper in decibels, 8.686."""


def cutoff_frequency(a: float, m: int = 1, n: int = 0, b: float | None = None, eps_r: float = 1.0) -> float:
    """Cutoff of mode TE(m,n) or TM(m,n), Hz.

    Parameters
    ----------
    a, b : float
        Inner width and height, m; `b` is needed only when `n` is not 0.
    m, n : int
        Half waves across the width and the height, not both 0.
    eps_r : float
        Relative permittivity of the filling.

    Raises
    ------
    InputError
        `n` is given without `b`, or both mode numbers are 0.

    Examples
    --------
    >>> round(cutoff_frequency(22.86e-3) / 1e9, 3)
    6.557
    """
    if m == 0 and n == 0:
        raise InputError("mode", "(0, 0)", "at least one mode number must be positive")
    if n and b is None:
        raise InputError("b", b, "the height is needed for a mode that varies along it")
    wavenumber = math.hypot(m * math.pi / a, n * math.pi / b if n and b else 0.0)
    return C0 * wavenumber / (TWO_PI * math.sqrt(eps_r))


def next_mode(a: float, b: float, eps_r: float = 1.0) -> tuple[str, float]:
    """Name and cutoff frequency (Hz) of the first mode above TE10.

    The candidates are TE20 and TE01: every other mode cuts off above one of them.
    `b` must be less than `a`, so that TE10 is the lowest mode.

    Examples
    --------
    >>> name, frequency = next_mode(90e-3, 45.5e-3)
    >>> name, round(frequency / 1e9, 3)
    ('TE01', 3.294)
    """
    modes = {
        "TE20": cutoff_frequency(a, 2, 0, eps_r=eps_r),
        "TE01": cutoff_frequency(a, 0, 1, b, eps_r=eps_r),
    }
    name = min(modes, key=modes.__getitem__)
    return name, modes[name]


def phase_constant(a: float, frequency: ArrayLike, eps_r: float = 1.0) -> NDArray:
    """TE10 phase constant beta, rad/m.

    Raises
    ------
    InputError
        A frequency is at or below cutoff, where the mode does not propagate.

    Examples
    --------
    >>> round(float(phase_constant(22.86e-3, 10e9)), 2)
    158.24
    """
    frequency = np.asarray(frequency, dtype=float)
    cutoff = cutoff_frequency(a, eps_r=eps_r)
    if np.any(frequency <= cutoff):
        raise InputError(
            "frequency",
            f"{np.min(frequency) / 1e9:g} GHz",
            f"must be above the cutoff of TE10, {cutoff / 1e9:.4g} GHz",
        )
    return TWO_PI * math.sqrt(eps_r) / C0 * np.sqrt(frequency**2 - cutoff**2)


def guide_wavelength(a: float, frequency: ArrayLike, eps_r: float = 1.0) -> NDArray:
    """TE10 wavelength along the guide, m; raises as `phase_constant` does.

    Examples
    --------
    >>> round(float(guide_wavelength(22.86e-3, 10e9)) * 1e3, 3)
    39.707
    """
    return TWO_PI / phase_constant(a, frequency, eps_r)


def wave_impedance(a: float, frequency: ArrayLike, eps_r: float = 1.0) -> NDArray:
    """TE10 wave impedance omega mu / beta, ohm; raises as `phase_constant` does.

    Examples
    --------
    >>> round(float(wave_impedance(22.86e-3, 10e9)), 1)
    499.0
    """
    frequency = np.asarray(frequency, dtype=float)
    return TWO_PI * frequency * MU0 / phase_constant(a, frequency, eps_r)


def surface_resistance(conductivity: float, frequency: ArrayLike) -> NDArray:
    """Surface resistance of a smooth thick conductor, ohm; 0 for infinite conductivity.

    Parameters
    ----------
    conductivity : float
        S/m, `math.inf` for a perfect conductor.

    Examples
    --------
    >>> round(float(surface_resistance(5.813e7, 10e9)), 4)
    0.0261
    """
    return np.sqrt(math.pi * np.asarray(frequency, dtype=float) * MU0 / conductivity)


def attenuation(a: float, b: float, frequency: ArrayLike, conductivity: float, eps_r: float = 1.0) -> NDArray:
    """TE10 wall loss, Np/m, by the power-loss method (smooth walls, well above cutoff).

    alpha = R_s (2 b pi^2 + a^3 k^2) / (a^3 b beta k eta), Pozar equation 3.96.
    Within about 5 % of cutoff the method overestimates without limit.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.

    Examples
    --------
    >>> round(float(attenuation_db(attenuation(22.86e-3, 10.16e-3, 10e9, 5.8e7))), 4)
    0.1084
    """
    beta = phase_constant(a, frequency, eps_r)
    k = TWO_PI * np.asarray(frequency, dtype=float) * math.sqrt(eps_r) / C0
    eta = ETA0 / math.sqrt(eps_r)
    loss = surface_resistance(conductivity, frequency)
    return loss * (2 * b * math.pi**2 + a**3 * k**2) / (a**3 * b * beta * k * eta)


def attenuation_db(nepers: ArrayLike) -> NDArray:
    """Attenuation in dB for one given in nepers (or dB/m for Np/m)."""
    return NEPER_IN_DB * np.asarray(nepers, dtype=float)


@dataclass(frozen=True)
class StandardGuide:
    """One standard size: EIA and IEC names, inner size (m) and recommended band (Hz)."""

    name: str
    iec_name: str
    a: float
    b: float
    low: float
    high: float


_STANDARD = (
    # EIA RS-261 / IEC 60153-2: a mm, b mm, band GHz as printed in charts of standard
    # sizes; the IEC names are from memory.
    ("WR-430", "R 22", 109.22, 54.61, 1.70, 2.60),
    ("WR-340", "R 26", 86.36, 43.18, 2.20, 3.30),
    ("WR-284", "R 32", 72.136, 34.036, 2.60, 3.95),
    ("WR-229", "R 40", 58.166, 29.083, 3.30, 4.90),
    ("WR-187", "R 48", 47.549, 22.149, 3.95, 5.85),
    ("WR-159", "R 58", 40.386, 20.193, 4.90, 7.05),
    ("WR-137", "R 70", 34.849, 15.799, 5.85, 8.20),
    ("WR-112", "R 84", 28.499, 12.624, 7.05, 10.0),
    ("WR-90", "R 100", 22.86, 10.16, 8.20, 12.40),
    ("WR-62", "R 140", 15.799, 7.899, 12.40, 18.0),
)


def standard_guides() -> tuple[StandardGuide, ...]:
    """The standard rectangular guides from WR-430 to WR-62, largest first.

    Examples
    --------
    >>> [g.name for g in standard_guides() if g.low < 2.45e9 < g.high]
    ['WR-430', 'WR-340']
    """
    return tuple(
        StandardGuide(name, iec, a * 1e-3, b * 1e-3, low * 1e9, high * 1e9)
        for name, iec, a, b, low, high in _STANDARD
    )
