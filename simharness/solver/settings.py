"""What the solver is asked beside the geometry; everything here changes the result."""

from __future__ import annotations

import math
from dataclasses import dataclass

from simharness.constants import C0
from simharness.geometry.scene import Scene
from simharness.geometry.solids import FAR_LOAD
from simharness.mesh.grid import Grid
from simharness.mesh.settings import MeshSettings
from simharness.solver.model.ports import model_port
from simharness.solver.model.shapes import guide_shape

BASE_PERIODS = 10.0
ECHOES, PASSES = 1.6, 1.25
"""How long a record must be after the pulse before its poles tell the rest: some periods, and on top of
them so many travel times of a wave along the guide and back. One echo shows which modes there are, part of
another how they decay, and a fifth of the record is withheld as a check (seen on rows of 5 to 40 slots);
less where an end absorbs the wave (circuits of 20 and 40 slots before a matched load)."""

SLOW_PERIODS = 75.0
"""A run that takes more periods after the pulse settles slowly: two thirds more than the shipped arrays
take."""


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
    def echo(self) -> float:
        """Time of a wave along the guide and back, s; 0 without a guide, or where an end of it absorbs the
        wave."""
        scene = self.scene
        absorbed = any(model_port(port).absorbs for port in scene.ports) or any(
            p.part == FAR_LOAD for p in scene.prisms
        )
        return 0.0 if absorbed else 2 * self.transit

    @property
    def transit(self) -> float:
        """Time of a wave from end to end of the guide at the centre, s; 0 without a guide."""
        scene = self.scene
        if scene.inside is None:
            return 0.0
        *_, z0, z1 = scene.inside
        cutoff = guide_shape(scene).cutoff(scene)
        return (z1 - z0) / (C0 * math.sqrt(max(1 - (cutoff / scene.spectrum.centre) ** 2, 0.01)))

    @property
    def usual_periods(self) -> float:
        """Periods of the centre after the pulse until the poles of the record are known; no more than the
        run may make."""
        times = ECHOES if self.echo else PASSES
        return min(
            BASE_PERIODS + times * 2 * self.transit * self.scene.spectrum.centre, self.settings.longest
        )

    @property
    def steps(self) -> int:
        """Most time steps."""
        return self.steps_for(self.settings.longest)

    def steps_for(self, periods: float) -> int:
        """Time steps of the pulse and so many periods of the centre after it."""
        return math.ceil((self.pulse_length + periods / self.scene.spectrum.centre) / self.grid.time_step)
