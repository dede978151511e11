"""The command `page` where its packages were not installed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

MODELS = Path(__file__).parents[2] / "models"
_WITHOUT = """
import sys
for name in {missing!r}:
    sys.modules[name] = None  # an import of it fails as if it were not there
from simharness.cli.main import main
sys.exit(main())
"""


def called(folder: Path, missing: tuple[str, ...], *words: str) -> subprocess.CompletedProcess:
    """A command of a child in which some packages cannot be imported."""
    program = _WITHOUT.format(missing=missing)
    return subprocess.run(
        [sys.executable, "-c", program, *words], cwd=folder, capture_output=True, text=True, timeout=120
    )


ALL = ("nicegui", "uvicorn", "fastapi", "starlette")


@pytest.mark.parametrize("missing", [ALL, ("nicegui",), ("uvicorn",)])
def test_the_page_says_in_one_sentence_how_to_get_its_packages(tmp_path, missing):
    found = called(tmp_path, missing, "page", "--no-browser")
    assert found.returncode == 4
    assert found.stdout == ""
    assert len(found.stderr.strip().splitlines()) == 1
    assert "scripts/setup" in found.stderr and "simharness[page]" in found.stderr
    assert list(tmp_path.iterdir()) == []


def test_all_else_works_without_the_packages_of_the_page(tmp_path):
    record = str(MODELS / "eight-slot-5g8.toml")
    for words in (("check", record), ("estimate", record), ("page", "--help"), ("runs",)):
        found = called(tmp_path, ALL, *words)
        assert found.returncode == 0, (words, found.stderr)
