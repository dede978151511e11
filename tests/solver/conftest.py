"""Everything here runs the real solver; results are kept for the session so that tests can share them."""

from __future__ import annotations

from pathlib import Path

import pytest

from simharness.runs.store import Store

SHORT = {
    "test_simulated_guide.py",
    "test_obstacles.py",
    "test_dipole.py",
    "test_antenna.py",
    "test_simulated_slot.py",
    "test_machine_speed.py",
    "test_library_runs.py",
    "test_solver_python.py",
}
"""Files of the short round: guide, irises, posts, dipole, one slot against theory, one antenna from its
record to the verdict.
"""

LONG_TESTS = {
    "test_slots_that_took_no_part_in_finding_the_edge_rule",
    "test_wide_slots",
    "test_resonance_and_conductance_against_the_moment_method",
}
"""Of those files, the tests that are left to the long round."""


def pytest_collection_modifyitems(items):
    here = Path(__file__).parent
    for item in items:
        if here not in Path(item.fspath).parents:
            continue
        item.add_marker(pytest.mark.solver)
        if Path(item.fspath).name not in SHORT or getattr(item, "originalname", "") in LONG_TESTS:
            item.add_marker(pytest.mark.long)


@pytest.fixture(scope="session")
def store(tmp_path_factory) -> Store:
    return Store(tmp_path_factory.mktemp("runs"))


@pytest.fixture(scope="session")
def records() -> Path:
    return Path(__file__).parents[2] / "models"
