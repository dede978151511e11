"""The version stands once; what repeats it says the same, and so does a tag on the commit."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

from simharness import __version__

ROOT = Path(__file__).parents[2]


def test_the_version_is_a_release_number():
    assert re.fullmatch(r"\d+\.\d+\.\d+", __version__)


def test_the_package_reads_its_version_from_the_code():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert "version" in project["project"]["dynamic"]
    assert project["tool"]["setuptools"]["dynamic"]["version"] == {"attr": "simharness.__version__"}


def test_the_citation_names_it():
    text = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    assert re.search(r"^version: (.+)$", text, re.MULTILINE)[1] == __version__


def test_licence_of_package_and_citation():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    cited = re.search(r"^license: (.+)$", (ROOT / "CITATION.cff").read_text(encoding="utf-8"), re.MULTILINE)[
        1
    ]
    assert project["license"] == cited == "GPL-3.0-or-later"
    assert "GNU GENERAL PUBLIC LICENSE" in (ROOT / "LICENSE").read_text(encoding="utf-8")


def test_a_tag_on_the_commit_names_it():
    try:
        done = subprocess.run(
            ["git", "tag", "--points-at", "HEAD", "v*"], cwd=ROOT, capture_output=True, text=True, timeout=60
        )
    except OSError:
        pytest.skip("git is not installed")
    if done.returncode:
        pytest.skip("this copy of the project is not under version control")
    assert set(done.stdout.split()) <= {f"v{__version__}"}
