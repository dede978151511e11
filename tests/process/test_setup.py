"""`scripts/setup` on machines that lack something, played by stand-in programs: nothing is installed here."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TOOLS = ("bash", "cat", "cut", "dirname", "env", "flock", "mktemp", "rm", "sha256sum", "tail")


@pytest.fixture
def stage(tmp_path):
    """A copy of the script, a folder of stand-ins that is the whole PATH, and a log of what they were
    told.
    """
    (tmp_path / "scripts").mkdir()
    shutil.copy(ROOT / "scripts/setup", tmp_path / "scripts/setup")
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    bin_folder = tmp_path / "bin"
    bin_folder.mkdir()
    for tool in TOOLS:
        found = shutil.which(tool)
        if found is None:
            pytest.skip(f"this machine has no {tool}")
        (bin_folder / tool).symlink_to(found)

    def stand_in(name: str, body: str) -> None:
        path = bin_folder / name
        path.write_text(f'#!{shutil.which("bash")}\necho "{name} $*" >> "{tmp_path}/log"\n{body}\n')
        path.chmod(0o755)

    def run(*words: str, **more: str) -> tuple[int, str, str, list[str]]:
        done = subprocess.run(
            [tmp_path / "scripts/setup", *words],
            env={"PATH": str(bin_folder), "LC_ALL": "C", "TMPDIR": str(tmp_path), **more},
            cwd=os.sep,
            capture_output=True,
            text=True,
            timeout=60,
        )
        log = tmp_path / "log"
        return done.returncode, done.stdout, done.stderr, log.read_text().splitlines() if log.exists() else []

    return stand_in, run


def test_missing_packages_and_no_network(stage):
    stand_in, run = stage
    stand_in("dpkg-query", "exit 1")
    stand_in("id", "echo 0")
    stand_in("apt-get", 'echo "E: Unable to fetch" >&2; exit 100')
    code, _, err, log = run()
    assert code == 4
    lines = err.splitlines()
    assert lines[0] == "E: Unable to fetch"
    assert lines[1].startswith("setup: apt-get could not install python3-openems python3-venv")
    assert "check the network" in lines[1] and len(lines) == 2
    assert [line for line in log if line.startswith("apt-get")] == ["apt-get update"]


def test_missing_packages_and_no_right_to_install(stage):
    stand_in, run = stage
    stand_in("dpkg-query", "exit 1")
    stand_in("id", "echo 1000")
    stand_in("apt-get", "exit 0")
    code, _, err, log = run()
    assert code == 4
    assert "as root, run 'apt-get install python3-openems python3-venv'" in err and len(err.splitlines()) == 1
    assert not [line for line in log if line.startswith("apt-get")]


def test_only_the_missing_package_is_installed_by_way_of_sudo_after_one_update(stage):
    stand_in, run = stage
    stand_in("dpkg-query", "[[ $* == *python3-venv* ]] && echo -n installed || echo -n config-files")
    stand_in("id", "echo 1000")
    stand_in("sudo", '"$@"')
    stand_in("apt-get", '[[ $1 == update ]] || { echo "E: held" >&2; exit 100; }')
    code, out, err, log = run()
    assert code == 4 and "E: held" in err
    assert "installing the Debian packages python3-openems (" in out
    assert [line for line in log if line.startswith("apt-get")] == [
        "apt-get update",
        "apt-get install -y --no-install-recommends python3-openems",
    ]
    assert sum(line.startswith("sudo") for line in log) == 2


def test_another_system_is_told_so(stage):
    _, run = stage
    code, _, err, _ = run()
    assert code == 4
    assert "on Debian 12 only" in err and "--without-solver" in err and len(err.splitlines()) == 1


def test_a_release_without_the_package_is_told_what_else_there_is(stage):
    stand_in, run = stage
    stand_in("dpkg-query", "exit 1")
    stand_in("id", "echo 0")
    stand_in("apt-get", '[[ $1 == update ]] || { echo "E: Unable to locate package" >&2; exit 100; }')
    code, _, err, _ = run()
    assert code == 4
    assert "DEVELOPERS.md" in err.splitlines()[-1] and "--without-solver" in err.splitlines()[-1]


@pytest.mark.parametrize("version, suits", [("3.10", False), ("3.14", False), ("3.13", True)])
def test_the_python_asked_for_must_suit(stage, version, suits):
    """A stand-in Python answers for its version; what suits goes on to make an environment and fails."""
    stand_in, run = stage
    stand_in(
        "python",
        f'[[ $2 == *"sys.exit("* ]] && exit {int(not suits)}; [[ $1 == -c ]] || exit 1; echo {version}',
    )
    code, out, err, _ = run("--without-solver", PYTHON="python")
    assert code == 4
    assert ("Python 3.11 to 3.13 is needed" in err) is not suits
    assert (f"(Python {version})" in out) is suits


def test_an_unknown_argument_is_refused(stage):
    _, run = stage
    code, _, err, _ = run("--solver")
    assert code == 4 and "--solver" in err and len(err.splitlines()) == 1
