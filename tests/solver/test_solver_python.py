"""The solver's child in another Python gives the very same numbers.

Layout: a wire dipole, 83 thousand cells, 200 steps, once in this Python and once in that of the system.
Exact: every bit of every record, since both load the same library and are told the same. Seen: equal.
"""

import importlib.util
import os

import h5py
import pytest
from textbook_scenes import dipole_scene

from simharness.errors import MachineError
from simharness.mesh.grid import grid
from simharness.mesh.settings import MeshSettings
from simharness.solver.interpreter import MODULES, SYSTEM_PYTHON, ask, child_command
from simharness.solver.model.request import write_request
from simharness.solver.process import supervise
from simharness.solver.settings import SolverSettings
from simharness.solver.speed import STEPS, ShortRequest

MESH = MeshSettings(per_wavelength=20, surface_wavelengths=0.25)


def _record(folder, python: str) -> dict[str, bytes]:
    scene = dipole_scene(0.047, 0.8e-3, 0.6e-3)
    folder.mkdir()
    write_request(ShortRequest(scene, grid(scene, MESH), SolverSettings(MESH)), folder)
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    end = supervise(child_command(python, folder, "2"), folder, folder / "transcript.txt", env=environment)
    assert end.ok, end.last_lines
    assert f"Time for {STEPS} iterations" in (folder / "transcript.txt").read_text()
    found = {}
    with h5py.File(folder / "raw.h5") as file:
        file.visititems(
            lambda name, item: (
                found.update({name: item[()].tobytes()}) if isinstance(item, h5py.Dataset) else None
            )
        )
    return found


def test_the_python_of_the_system_gives_the_same_bits(tmp_path):
    if not all(importlib.util.find_spec(name) for name in MODULES):
        pytest.skip("this Python cannot import the solver")
    try:
        ask(SYSTEM_PYTHON)
    except MachineError as error:
        pytest.skip(str(error))
    here, there = _record(tmp_path / "here", ""), _record(tmp_path / "there", SYSTEM_PYTHON)
    assert len(here) == 12 * 4 + 2  # twelve faces with three axes each, voltage and current
    assert here == there
