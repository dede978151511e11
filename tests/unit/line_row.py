"""An invented row of slots as a circuit: a line with TE10's dispersion, shunt resonances on it, a matched
probe before a short.

Its response is known exactly at every frequency, complex ones too, and so are its records over time: a
Laplace inversion (a line of complex frequencies, one FFT) whose only error is the one rounding makes.
"""

from __future__ import annotations

import numpy as np

from simharness.constants import C0, TWO_PI

A = 40.386e-3
"""Width of WR-159, m (EIA RS-261)."""
CENTRE = 5.8e9
PULSE_WIDTH = 0.16 * CENTRE
PULSE = 2 * 9 / (TWO_PI * PULSE_WIDTH)
"""Duration of the solver's pulse, s (`SolverRequest.pulse_length`)."""
HALF_WAVE = np.pi / (TWO_PI / C0 * np.sqrt(CENTRE**2 - (C0 / 2 / A) ** 2))
SLOT_QUALITY = 12.0
_WINDOW = 1000.0
_DAMPING = 20.0
"""Periods of the inversion, and how far (nepers) a window later lies below the first."""


def length(slots: int) -> float:
    """From short to short, m."""
    return (slots + 1) * HALF_WAVE


def row(frequency: np.ndarray, slots: int) -> tuple[np.ndarray, np.ndarray]:
    """Reflection (f,) at the probe, and voltages (slots, f) for an incident wave of 1; Hz."""
    beta = TWO_PI / C0 * np.sqrt(frequency**2 - (C0 / 2 / A) ** 2 + 0j)
    slot = 1 / slots / (1 + 1j * SLOT_QUALITY * (frequency / CENTRE - CENTRE / frequency))
    quarter, half = np.tan(beta * HALF_WAVE / 2), np.tan(beta * HALF_WAVE)
    seen = [slot + 1 / (1j * quarter)]
    for _ in range(slots - 1):
        seen.append((seen[-1] + 1j * half) / (1 + 1j * seen[-1] * half) + slot)
    seen.reverse()
    whole = (seen[0] + 1j * half) / (1 + 1j * seen[0] * half) + 1 / (1j * quarter)
    reflection = (1 - whole) / (1 + whole)
    voltages, before = [], 1 + reflection
    for load in seen:
        before = before / (np.cos(beta * HALF_WAVE) + 1j * load * np.sin(beta * HALF_WAVE))
        voltages.append(before)
    return reflection, np.array(voltages)


def records(slots: int, shown: list[int], periods: float, samples: int = 8) -> tuple[np.ndarray, np.ndarray]:
    """Time (t,) until so many periods after the pulse, s, and records (2 + shown, t): wave in plus and minus
    wave out, slots shown.
    """
    step = 1 / (samples * CENTRE)
    count = round(_WINDOW * samples)
    time = np.arange(count) * step
    coming = np.exp(-((TWO_PI * PULSE_WIDTH / 3 * (time - PULSE / 2)) ** 2)) * np.cos(
        TWO_PI * CENTRE * (time - PULSE / 2)
    )
    damping = np.exp(-_DAMPING * time / time[-1])
    real = np.fft.rfftfreq(count, step)
    frequency = real - 1j * _DAMPING / time[-1] / TWO_PI
    used = (real > 1.02 * C0 / 2 / A) & (real < 1.6 * CENTRE)  # the pulse has nothing beyond
    response = np.zeros((1 + len(shown), real.size), complex)
    reflection, voltages = row(frequency[used], slots)
    response[:, used] = [reflection, *voltages[shown]]
    going, *inside = np.fft.irfft(response * np.fft.rfft(coming * damping), count) / damping
    kept = int((PULSE * CENTRE + periods) * samples)
    return time[:kept], np.array([coming + going, coming - going, *inside])[:, :kept]
