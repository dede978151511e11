"""Plain stand-ins. For the estimate: TE10 line, resonant shunt slots, a probe with one reactance; for a far
field: a row.

The physics is that of first courses (Stevenson's conductance, Collin's probe, both as quoted in the
package's kernels), crude but sensitive to every dimension, and takes a millisecond. `Truth` makes
it wrong in its constants, as a model is wrong against a measurement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.guide.rectangular import phase_constant
from simharness.records import REFERENCE_OHM, Record


@dataclass(frozen=True)
class Truth:
    """Constants of the stand-in.

    `stretch` of resonant lengths, quality of a slot, strength of slots, and strength and reactance
    (ohm) of the probe.
    """

    stretch: float = 1.0
    quality: float = 7.0
    conductance: float = 1.0
    probe: float = 1.0
    reactance: float = 0.0


def _slots(record: Record, frequency: NDArray, truth: Truth) -> list[tuple[float, NDArray]]:
    """Place (m) and normalised admittance (f,) of each slot."""
    a, b = record.guide.a_mm * 1e-3, record.guide.b_mm * 1e-3
    wave = TWO_PI / phase_constant(a, frequency)
    ratio = wave * frequency / C0
    found = []
    for slot in record.slots:
        resonant = C0 / (
            2.05e-3
            * truth.stretch
            * (slot.length_mm + 0.15 * slot.width_mm - 0.5 * record.guide.front_wall_mm)
        )
        strength = (
            2.09
            * a
            / b
            * ratio
            * np.cos(np.pi / 2 / ratio) ** 2
            * np.sin(np.pi * slot.offset_mm * 1e-3 / a) ** 2
        )
        quality = truth.quality * (6.0 / slot.width_mm) ** 0.5
        detuning = frequency / resonant - resonant / frequency
        found.append((slot.position_mm * 1e-3, truth.conductance * strength / (1 + 1j * quality * detuning)))
    return found


def reflection(record: Record, frequency: NDArray, truth: Truth = Truth()) -> NDArray:
    """S11 (f,) of a probe-fed record at frequencies (f,) in Hz."""
    a, b, length = (1e-3 * getattr(record.guide, name) for name in ("a_mm", "b_mm", "length_mm"))
    beta = phase_constant(a, frequency) * (1 - 0.002j)
    place, height = record.feed.position_mm * 1e-3, record.feed.height_mm * 1e-3
    looking, here = np.full(frequency.size, -1.0 + 0j), length
    for where, admittance in [*reversed(_slots(record, frequency, truth)), (place, np.zeros(frequency.size))]:
        looking = looking * np.exp(-2j * beta * (here - where))
        total = (1 - looking) / (1 + looking) + admittance
        looking, here = (1 - total) / (1 + total), where
    line = 1 / ((1 - looking) / (1 + looking) - 1j / np.tan(beta * place))
    wave = TWO_PI * frequency / C0
    strength = truth.probe * 2 * ETA0 / (a * b * beta.real * wave) * np.tan(wave * height / 2) ** 2
    reactance = truth.reactance - 120 / np.tan(wave * height)
    impedance = strength * line + 1j * reactance
    return (impedance - REFERENCE_OHM) / (impedance + REFERENCE_OHM)


FREQUENCY = 2.45e9
CROSS = 0.05
"""Cross-polar field of the row relative to the co-polar one, in every direction."""


def row_factor(sine: NDArray) -> NDArray:
    """Field of five equal sources 83.5 mm apart over the sine of the angle along the row, largest 1."""
    places = (np.arange(5) - 2) * 0.0835
    return np.mean(np.exp(2j * np.pi * FREQUENCY / C0 * np.multiply.outer(sine, places)), axis=-1)


def row_far_field(record: Record) -> dict[str, NDArray]:
    """Far-field arrays of a run: that row in the place of the record's slots, a cardioid across, E along
    phi.
    """
    theta, phi = np.radians(np.arange(0, 181, 2.0)), np.radians(np.arange(0, 361, 4.0))
    middle = 0.5e-3 * (record.slots[0].position_mm + record.slots[-1].position_mm)
    wave = row_factor(np.cos(theta)) * np.exp(2j * np.pi * FREQUENCY / C0 * middle * np.cos(theta))
    e_phi = (wave[:, None] * (1.2 + np.sin(phi)))[None]
    return {
        "far_frequency": np.array([FREQUENCY]),
        "theta": theta,
        "phi": phi,
        "e_phi": e_phi,
        "e_theta": CROSS * e_phi,
    }
