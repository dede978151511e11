"""Everything here runs the real solver; results are kept for the session so that tests can share them."""

from __future__ import annotations

from pathlib import Path

import pytest

from simharness.store import Store


def pytest_collection_modifyitems(items):
    here = Path(__file__).parent
    for item in items:
        if here in Path(item.fspath).parents:
            item.add_marker(pytest.mark.solver)


@pytest.fixture(scope="session")
def store(tmp_path_factory) -> Store:
    return Store(tmp_path_factory.mktemp("runs"))


@pytest.fixture(scope="session")
def records() -> Path:
    return Path(__file__).parents[2] / "models"
