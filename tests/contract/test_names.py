"""The files of the project name no machine and no package registry."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

# Put together from pieces, so that this file does not find itself.
PLACES = ["/" + place + "/" for place in ("home", "root", "work", "tmp", "opt", "mnt", "Users", "private")]
HOSTS = [
    name + "." + end
    for name, end in (
        ("pypi", "org"),
        ("pythonhosted", "org"),
        ("conda", "anaconda"),
        ("anaconda", "org"),
        ("deb.debian", "org"),
        ("npmjs", "org"),
        ("crates", "io"),
        ("proxy.golang", "org"),
        ("ghcr", "io"),
        ("docker", "io"),
    )
]
FORBIDDEN = re.compile(
    r"(?<![\w.~])(?:"
    + "|".join(map(re.escape, PLACES))
    + r")|(?<!\w)[A-Z]:\\\\?\w|(?:"
    + "|".join(map(re.escape, HOSTS))
    + ")"
)


def _files() -> list[Path]:
    """Files that are tracked or would be: all that git does not ignore."""
    try:
        done = subprocess.run(
            ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT,
            capture_output=True,
            timeout=60,
        )
    except OSError:
        pytest.skip("git is not installed, so nothing says which files belong to the project")
    if done.returncode:
        pytest.skip("this copy of the project is not under version control")
    names = [name for name in done.stdout.decode().split("\0") if name]
    return [ROOT / name for name in names if (ROOT / name).is_file()]


def _finds(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if FORBIDDEN.search(line)]


def test_no_machine_path_and_no_registry_host():
    found = {}
    for path in _files():
        content = path.read_bytes()
        if b"\0" in content:
            continue
        lines = _finds(content.decode("utf-8", errors="replace"))
        if lines:
            found[str(path.relative_to(ROOT))] = lines
    assert found == {}


@pytest.mark.parametrize(
    "text", [PLACES[0] + "me/x", "see https://" + HOSTS[0] + "/p", "open('" + PLACES[3] + "a')", "C:" + "\\x"]
)
def test_the_search_finds_what_it_should(text):
    assert _finds(text)


@pytest.mark.parametrize(
    "text", ["/usr/bin/python3", "/proc/meminfo", "the work/home balance", "../work/x", "a: b"]
)
def test_the_search_leaves_the_rest(text):
    assert not _finds(text)
