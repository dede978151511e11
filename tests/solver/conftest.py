"""Everything here runs the real solver; results are kept for the session so that tests can share them."""

from __future__ import annotations

from pathlib import Path

import pytest

from simharness.runs.store import Store

SHORT = {
    "test_simulated_guide.py": ("[WR-90]",),
    "test_obstacles.py": ("test_thick_iris_within_0_02[12.192]", "test_centred_post_within_0_03[0.635]"),
    "test_dipole.py": (
        "test_gain_within",
        "test_resonant_resistance_within",
        "test_directivity_integrates",
        "test_accepted_power_is_radiated",
    ),
    "test_simulated_slot.py": ("[3.0]",),
    "test_antenna.py": ("[eight-slot-wr90-10g37]",),
    "test_machine_speed.py": ("",),
    "test_solver_python.py": ("",),
    "test_library_runs.py": ("",),
}
"""Tests of the short round, by file and what their names contain: a guide, an iris, a post, the dipole, one
slot against theory, one antenna from its record to the verdict, the measured speed of the machine, the solver
in another Python. A killed run is among the tests of child processes. The rest is left to the long round."""


def pytest_collection_modifyitems(items):
    here = Path(__file__).parent
    for item in items:
        path = Path(item.fspath)
        if here not in path.parents:
            continue
        item.add_marker(pytest.mark.solver)
        if not any(part in item.name for part in SHORT.get(path.name, ())):
            item.add_marker(pytest.mark.long)


@pytest.fixture(scope="session")
def store(tmp_path_factory) -> Store:
    return Store(tmp_path_factory.mktemp("runs"))


@pytest.fixture(scope="session")
def records() -> Path:
    return Path(__file__).parents[2] / "models"
