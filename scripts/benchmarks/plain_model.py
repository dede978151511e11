"""The child that builds and runs the plain model, as one writes it by hand with the solver's own interface.

Run as ``python -m benchmarks.plain_model FOLDER THREADS``: reads ``request.pickle`` there and leaves
``facts.json`` with the times of each phase, S11 and the directivity. The same metal as the tool draws, on
plain lines.
"""

from __future__ import annotations

import json
import pickle
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from simharness.constants import C0, TWO_PI
from simharness.em.signals.spectra import spectrum, wave_split
from simharness.geometry.scene import CoaxPort, Scene
from simharness.geometry.solids import Material
from simharness.mesh.grid import Grid
from simharness.mesh.raster import coax_cells, coax_plane, meshed_coax_permittivity, tiles
from simharness.records import REFERENCE_OHM
from simharness.solver.files import read_series
from simharness.solver.parent_death import die_with_parent

UNIT = 1e-3
STEP_DEG = 3.0
PULSE_SHARE = 0.3
"""Bandwidth of the Gaussian pulse as a share of its centre: what users take as a matter of course."""

END_CRITERION = 1e-5
"""Energy at which the solver ends the run, -50 dB: less is known not to be enough for slots."""


@dataclass(frozen=True)
class PlainRequest:
    """Input of the child; `most_steps` only keeps a run that never settles from going on for ever."""

    scene: Scene
    grid: Grid
    most_steps: int = 1_000_000


def plain_scene(scene: Scene) -> Scene:
    """The scene with the cable's own permittivity: the tool's tuning of the coax line goes by its name."""
    return replace(
        scene,
        prisms=tuple(
            (
                replace(p, material=Material("dielectric", permittivity=p.material.permittivity))
                if p.material.name == "coax filling"
                else p
            )
            for p in scene.prisms
        ),
    )


def build(request: PlainRequest):
    """FDTD object, structure and recording box of the far field."""
    from CSXCAD import ContinuousStructure
    from openEMS import openEMS

    scene, grid = request.scene, request.grid
    fdtd = openEMS(NrTS=request.most_steps, EndCriteria=END_CRITERION)
    fdtd.SetGaussExcite(scene.spectrum.centre, PULSE_SHARE * scene.spectrum.centre)
    fdtd.SetBoundaryCond(["PML_8"] * 6)
    csx = ContinuousStructure()
    fdtd.SetCSX(csx)
    csx.GetGrid().SetDeltaUnit(UNIT)
    lines = [line / UNIT for line in grid.lines]
    for name, line in zip("xyz", lines):
        csx.GetGrid().SetLines(name, line)
    solids: dict[str, object] = {}
    for tile in tiles(plain_scene(scene), grid):
        material = tile.material
        if material.name not in solids:
            solids[material.name] = (
                csx.AddMetal(material.name)
                if material.metal
                else csx.AddMaterial(material.name, epsilon=material.permittivity)
            )
        low, high = (
            [float(lines[axis][i]) for axis, i in enumerate(corner)] for corner in (tile.low, tile.high)
        )
        solids[material.name].AddBox(low, high, priority=10 if material.metal else 5)
    _add_coax(csx, scene.ports[0], grid, lines)
    return fdtd, csx, fdtd.CreateNF2FFBox(frequency=list(scene.spectrum.far))


def _add_coax(csx, port: CoaxPort, grid: Grid, lines: list[np.ndarray]) -> None:
    """Source with resistor at the end of the coax line, one voltage and two current probes in it."""
    pin_x, pin_z, bore_x, _ = coax_cells(port, grid)
    end = grid.index(1, port.reference - port.direction * port.length)
    below, above = sorted((end, end + port.direction))
    low, high = (
        [float(lines[axis][i]) for axis, i in enumerate(corner)]
        for corner in ((pin_x[0], below, pin_z[0]), (pin_x[1], above, pin_z[1]))
    )
    csx.AddLumpedElement("resistor", ny=1, caps=False, R=port.impedance).AddBox(low, high, priority=20)
    csx.AddExcitation("source", exc_type=0, exc_val=[0, 1, 0]).AddBox(low, high, priority=20)
    plane = coax_plane(port, grid)
    y = float(lines[1][plane])
    csx.AddProbe("voltage", p_type=0, weight=1).AddBox(
        [lines[0][pin_x[1]], y, lines[2][pin_z[0]]], [lines[0][bore_x[1]], y, lines[2][pin_z[0]]]
    )
    middle = [(line[1:] + line[:-1]) / 2 for line in lines]
    for name, layer in (("current_a", plane - 1), ("current_b", plane)):
        loop_low = [middle[0][pin_x[0] - 1], middle[1][layer], middle[2][pin_z[0] - 1]]
        loop_high = [middle[0][pin_x[1]], middle[1][layer], middle[2][pin_z[1]]]
        csx.AddProbe(name, p_type=1, weight=port.direction, norm_dir=1).AddBox(loop_low, loop_high)


def reflection(engine: Path, port: CoaxPort, grid: Grid, frequency: np.ndarray) -> np.ndarray:
    """S11 at the outer face of the wall, 50 ohm, by plain Fourier sums.

    The line's impedance is that of the line as meshed, which a careful user reads from the solver's fields;
    it is given to the plain model for nothing.
    """
    voltage, one, two = (read_series(engine / name) for name in ("voltage", "current_a", "current_b"))
    u = spectrum(voltage[0], voltage[1], frequency)
    i = (spectrum(one[0], one[1], frequency) + spectrum(two[0], two[1], frequency)) / 2
    impedance = port.impedance * np.sqrt(meshed_coax_permittivity(port, grid) / port.permittivity)
    a, b = wave_split(u, i, impedance)
    length = abs(port.reference - grid.y[coax_plane(port, grid)])
    phase = np.exp(-1j * TWO_PI * frequency / C0 * np.sqrt(port.permittivity) * length)
    a, b = a * phase, b / phase
    a, b = wave_split(np.sqrt(impedance) * (a + b), (a - b) / np.sqrt(impedance), REFERENCE_OHM)
    return b / a


def main(folder: Path, threads: int) -> int:
    """Build, run, evaluate, and time each."""
    clock = [time.perf_counter()]
    request: PlainRequest = pickle.loads((folder / "request.pickle").read_bytes())
    scene, engine = request.scene, folder / "engine"
    fdtd, csx, recorder = build(request)
    clock.append(time.perf_counter())
    fdtd.Run(str(engine), cleanup=False, verbose=1, numThreads=threads)
    clock.append(time.perf_counter())
    frequency = np.linspace(scene.spectrum.low, scene.spectrum.high, scene.spectrum.points)
    s11 = reflection(engine, scene.ports[0], request.grid, frequency)
    theta, phi = np.arange(0, 180.1, STEP_DEG), np.arange(0, 360.1, STEP_DEG)
    far = recorder.CalcNF2FF(str(engine), list(scene.spectrum.far), theta, phi)
    clock.append(time.perf_counter())
    facts = {
        "phases": dict(zip(("build", "run", "transform"), np.round(np.diff(clock), 2).tolist())),
        "frequency": frequency.tolist(),
        "s11_real": s11.real.tolist(),
        "s11_imag": s11.imag.tolist(),
        "far_frequency": list(scene.spectrum.far),
        "directivity_db": (10 * np.log10(far.Dmax)).tolist(),
    }
    (folder / "facts.json").write_text(json.dumps(facts))
    del fdtd, csx
    return 0


if __name__ == "__main__":
    die_with_parent()
    sys.exit(main(Path(sys.argv[1]).resolve(), int(sys.argv[2])))
