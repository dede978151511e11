"""What is made of the records of each kind of port: waves at its reference plane, and what it means for the
guide."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, TWO_PI
from simharness.em.guide.rectangular import phase_constant, wave_impedance
from simharness.em.signals.spectra import wave_split
from simharness.geometry.scene import CoaxPort, GapPort, ModePort, Port, RoundModePort, Scene
from simharness.mesh.grid import Grid
from simharness.mesh.raster import coax_plane, meshed_coax_permittivity
from simharness.records import REFERENCE_OHM

Waves = tuple[NDArray, NDArray]
"""Complex amplitudes of the waves into and out of the structure."""


class PortResults(Protocol):
    """The questions."""

    has_terminals: bool
    """Whether an impedance in ohm can be stated at the port."""

    def waves(self, port: Any, grid: Grid, voltage: NDArray, current: NDArray, frequency: NDArray) -> Waves:
        """Waves at the reference plane, from the spectra of voltage and current."""


class GapResults:
    """Power waves of `REFERENCE_OHM` at the gap itself."""

    has_terminals = True

    def waves(
        self, port: GapPort, grid: Grid, voltage: NDArray, current: NDArray, frequency: NDArray
    ) -> Waves:
        """Waves at the gap."""
        return wave_split(voltage, current, REFERENCE_OHM)


class LineResults:
    """A port on a line of known phase constant, recorded at a plane away from its reference plane."""

    has_terminals = False

    def line(self, port: Any, grid: Grid, frequency: NDArray) -> tuple[NDArray, Any, NDArray, int]:
        """Phase constant (rad/m) and impedance (ohm), mesh lines along the line (m), index of the measuring
        plane."""
        raise NotImplementedError

    def mean_over_cell(self, port: Any, grid: Grid, frequency: NDArray) -> NDArray:
        """What a travelling wave loses when its current is the mean of those half a cell before and behind.

        The cells on either side of the measuring plane are taken as equal.
        """
        beta, _, line, plane = self.line(port, grid, frequency)
        return np.cos(beta * (line[plane + 1] - line[plane - 1]) / 4)

    def waves(self, port: Any, grid: Grid, voltage: NDArray, current: NDArray, frequency: NDArray) -> Waves:
        """Waves of the line's own impedance, moved to the reference plane."""
        beta, impedance, line, plane = self.line(port, grid, frequency)
        a, b = wave_split(voltage, current / self.mean_over_cell(port, grid, frequency), impedance)
        phase = np.exp(-1j * beta * abs(port.reference - line[plane]))
        return a * phase, b / phase


class CoaxResults(LineResults):
    """Power waves of `REFERENCE_OHM`, from those of the coax line."""

    has_terminals = True

    def line(self, port: CoaxPort, grid: Grid, frequency: NDArray) -> tuple[NDArray, Any, NDArray, int]:
        """The coax line as it is on the mesh."""
        beta = TWO_PI * frequency / C0 * np.sqrt(meshed_coax_permittivity(port, grid))
        return beta, port.impedance, grid.lines[port.axis], coax_plane(port, grid)

    def waves(
        self, port: CoaxPort, grid: Grid, voltage: NDArray, current: NDArray, frequency: NDArray
    ) -> Waves:
        """Waves at the reference plane."""
        a, b = super().waves(port, grid, voltage, current, frequency)
        root = np.sqrt(port.impedance)
        return wave_split(root * (a + b), (a - b) / root, REFERENCE_OHM)


class ModeResults(LineResults):
    """Waves of the lowest mode of a guide."""

    def line(self, port: ModePort, grid: Grid, frequency: NDArray) -> tuple[NDArray, Any, NDArray, int]:
        """The guide."""
        beta, impedance = phase_constant(port.a, frequency), wave_impedance(port.a, frequency)
        return beta, impedance, grid.z, grid.index(2, port.plane)


_LINES: dict[type, LineResults] = {
    CoaxPort: CoaxResults(),
    ModePort: ModeResults(),
    RoundModePort: ModeResults(),
}
_RESULTS: dict[type, PortResults] = {GapPort: GapResults(), **_LINES}


def port_results(port: Port) -> PortResults:
    """What is made of the records of a port."""
    return _RESULTS[type(port)]


def port_waves(
    port: Port, grid: Grid, voltage: NDArray, current: NDArray, frequency: NDArray
) -> tuple[NDArray, NDArray]:
    """Waves into and out of the structure at the reference plane of a port.

    Coax and gap: power waves of `REFERENCE_OHM`; guide port: of its mode.
    """
    return port_results(port).waves(port, grid, voltage, current, frequency)


def mean_over_cell(port: CoaxPort | ModePort, grid: Grid, frequency: NDArray) -> NDArray:
    """What a travelling wave loses at a port when its current is the mean of those around; see
    `LineResults`."""
    return _LINES[type(port)].mean_over_cell(port, grid, frequency)


def open_ends(scene: Scene) -> list[float]:
    """Places along z where the guide goes on as a port and has no wall, m."""
    found = []
    for port in scene.ports:
        if not port_results(port).has_terminals:
            found.append(port.reference)  # type: ignore[union-attr]
    return found
