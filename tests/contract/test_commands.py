"""What the command line promises: help, quick start-up, exit codes."""

from __future__ import annotations

import importlib
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from each_case import each_case

from simharness import errors
from simharness.cli import main as entry
from simharness.cli.main import COMMANDS, cli
from simharness.solver.interpreter import CHILD

HEAVY = {
    "numpy",
    "scipy",
    "pydantic",
    "matplotlib",
    "h5py",
    "skrf",
    "shapely",
    "rich",
    "reportlab",
    "ezdxf",
    "jinja2",
    "distributed",
    "CSXCAD",
    "openEMS",
}


def _classes(base: type) -> list[type]:
    return [c for child in base.__subclasses__() for c in (child, *_classes(child))]


ERRORS = [c for c in _classes(errors.HarnessError) if c.__module__ == "simharness.errors"]
"""One class for each decision of the caller; subclasses elsewhere inherit the code."""


def _help(*words: str) -> str:
    found = CliRunner().invoke(cli, [*words, "--help"])
    assert found.exit_code == 0, found.output
    return found.output


def test_help_lists_every_command_with_its_line():
    text = _help()
    for name, line in COMMANDS.items():
        assert re.search(rf"^  {name} +{re.escape(line)}$", text, re.MULTILINE)


@each_case("name", COMMANDS)
def test_help_of_a_command_mentions_its_arguments_and_options(name):
    command = importlib.import_module(f"simharness.cli.commands.{name}").command
    assert command.name == name
    text = _help(name)
    assert text.startswith(f"Usage: cli {name} [OPTIONS]")
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{name} {parameter.opts} has no help text"
            assert all(word in text for word in parameter.opts + parameter.secondary_opts)
        else:
            assert parameter.make_metavar(click.Context(command)) in text.splitlines()[0]


_TELL = "print('loaded', *sorted({name.split('.')[0] for name in sys.modules}))"


def _loaded_by(*words: str, first: str = "") -> set[str]:
    """Top-level modules in memory after a command line has run in a process of its own, which does `first`
    before.
    """
    code = (
        f"import sys; sys.argv = ['simharness', *sys.argv[1:]]\n{first}"
        "from simharness.cli.main import main\n"
        f"try:\n    main()\nexcept SystemExit as end:\n    assert not end.code, end.code\n{_TELL}\n"
    )
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    return set(next(line for line in done.stdout.splitlines() if line.startswith("loaded ")).split()[1:])


@each_case("words", [("--help",), ("--version",), *((name, "--help") for name in COMMANDS)], ids=" ".join)
def test_help_starts_without_the_heavy_packages(words):
    """Counted in modules, not in seconds: the former does not depend on the load of the machine."""
    assert _loaded_by(*words) & HEAVY == set()


def test_nothing_slow_is_loaded_before_the_solver_starts(tmp_path):
    """Scipy and matplotlib are loaded beside it; a second of waiting is a twentieth of a short run."""
    record = Path(__file__).parents[2] / "models" / "eight-slot-wr90-10g37.toml"
    starts = (
        "from simharness.runs import watch\n"
        f"def starts(*_, **__):\n    {_TELL}\n    sys.exit()\n"
        "watch.supervise = starts\n"
    )
    loaded = _loaded_by("solve", str(record), "--runs", str(tmp_path), first=starts)
    assert "simharness" in loaded and loaded & {"scipy", "matplotlib", "skrf"} == set()


def test_the_solver_child_does_without_the_dependencies_of_this_package(tmp_path):
    """It may run in a Python that has the solver, numpy and h5py, and nothing else that is needed here."""
    (tmp_path / "CSXCAD.py").write_text("")
    (tmp_path / "openEMS.py").write_text("")
    code = (
        f"import runpy, sys; sys.argv = ['child', '--version']; sys.path.insert(0, {str(tmp_path)!r})\n"
        f"try:\n    runpy.run_path({str(CHILD)!r}, run_name='__main__')\n"
        "except (SystemExit, ImportError):\n    pass\n"
        "import simharness.solver.files, simharness.solver.subnormals\n"
        "print(*sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-P", "-c", code], capture_output=True, text=True, timeout=60, cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    loaded = set(done.stderr.split())
    assert {"numpy", "h5py"} <= loaded
    assert loaded & {"scipy", "matplotlib", "pydantic", "shapely", "click", "rich", "skrf"} == set()


def test_the_installed_command_starts():
    done = subprocess.run(
        [sys.executable, "-m", "simharness.cli.main", "--help"], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0
    assert done.stdout.startswith("Usage: ")


def test_help_states_the_exit_codes():
    """0 and 2 (the usual code for a wrong command line) and one for each class of deliberate error."""
    text = " ".join(_help().split())
    stated = re.search(r"Exit codes: (.*?)\.", text)[1]
    codes = [int(re.match(r"(\d+) \S", part)[1]) for part in stated.split(", ")]
    assert len(codes) == len(set(codes))
    assert set(codes) == {0, 2} | {c.exit_code for c in ERRORS}


def test_every_class_of_error_has_its_own_code():
    codes = [c.exit_code for c in ERRORS]
    assert len(codes) == len(set(codes))
    assert not set(codes) & {0, 1, 2}


def _instance(kind: type) -> errors.HarnessError:
    if kind is errors.InputError:
        return kind("guide.a_mm", 3, "must be more")
    if kind is errors.NotConvergedError:
        return kind("still moving", 0.1, 0.01)
    return kind("something is wrong")


@pytest.mark.parametrize("kind", ERRORS, ids=lambda c: c.__name__)
def test_an_error_becomes_one_line_and_its_code(kind, monkeypatch, capsys):
    error = _instance(kind)

    def fail(**_):
        raise error

    monkeypatch.setattr(entry, "cli", fail)
    with pytest.raises(SystemExit) as end:
        entry.main()
    assert end.value.code == kind.exit_code
    out, err = capsys.readouterr()
    assert (out, err) == ("", f"simharness: {error}\n")


@pytest.mark.parametrize("interruption", [KeyboardInterrupt, click.exceptions.Abort])
def test_an_interruption_has_its_code(interruption, monkeypatch, capsys):
    def fail(**_):
        raise interruption

    monkeypatch.setattr(entry, "cli", fail)
    with pytest.raises(SystemExit) as end:
        entry.main()
    assert end.value.code == errors.CancelledError.exit_code
    assert capsys.readouterr().err.startswith("interrupted")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["nonsense"], 2),
        (["check"], 2),
        (["check", "there-is-no-such-record.toml"], errors.InputError.exit_code),
        (["show", "there-is-no-such-run", "--runs", "there-is-no-such-folder"], errors.StoreError.exit_code),
    ],
    ids=lambda v: " ".join(v) if isinstance(v, list) else str(v),
)
def test_real_command_lines_end_with_the_stated_code(words, code, monkeypatch, capsys, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", ["simharness", *words])
    with pytest.raises(SystemExit) as end:
        entry.main()
    assert end.value.code == code
    assert capsys.readouterr().err.strip()
    assert list(tmp_path.iterdir()) == []
