"""What the solver is asked beside the geometry; everything here changes the result."""

from __future__ import annotations

import math
from dataclasses import dataclass

from simharness.grid import Grid
from simharness.mesh_settings import MeshSettings
from simharness.scene import Scene


TYPICAL_PERIODS = 45.0
"""Periods after the pulse that a slotted array usually takes to settle (seen on the shipped records)."""


@dataclass(frozen=True)
class SolverSettings:
    """Pulse, length and stop of a run.

    `bandwidth`: half width of the pulse at -20 dB as a share of the centre frequency;
    `longest`: most periods of the centre frequency after the pulse;
    `settled`: the run may stop when no S parameter asked for has moved by more than this;
    `true_speed`: vacuum is adjusted so that TE10 has its true wavelength on the mesh.
    """

    mesh: MeshSettings
    bandwidth: float = 0.16
    longest: float = 300.0
    settled: float = 1e-3
    true_speed: bool = True


@dataclass(frozen=True)
class SolverRequest:
    """One complete input of the solver."""

    scene: Scene
    grid: Grid
    settings: SolverSettings

    @property
    def pulse_width(self) -> float:
        """Half bandwidth of the Gaussian pulse at -20 dB, Hz."""
        spectrum = self.scene.spectrum
        least = 1.3 * max(spectrum.high - spectrum.centre, spectrum.centre - spectrum.low)
        return max(self.settings.bandwidth * spectrum.centre, least)

    @property
    def pulse_length(self) -> float:
        """Duration of the pulse, s: nine standard widths, as the solver makes it."""
        return 2 * 9 / (2 * math.pi * self.pulse_width)

    @property
    def steps(self) -> int:
        """Most time steps."""
        duration = self.pulse_length + self.settings.longest / self.scene.spectrum.centre
        return math.ceil(duration / self.grid.time_step)
