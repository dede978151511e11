"""What comes from outside comes through few doors: files are read by `files.py`, numbers of options by
`cli/options.py`.
"""

from __future__ import annotations

import ast
import importlib
from pathlib import Path

import click

import simharness
from simharness.cli.main import COMMANDS
from simharness.cli.options import FilePath, Number

ROOT = Path(simharness.__file__).parent
TREES = {
    str(path.relative_to(ROOT)): ast.parse(path.read_text(encoding="utf-8"))
    for path in sorted(ROOT.rglob("*.py"))
}

READERS = {
    "files.py": "the door itself",
    "results/outputs.py": "an image in memory",
    "sweep/table.py": "an image in memory",
    "results/file.py": "measures before it reads",
    "solver/files.py": "what the solver wrote into the working folder of this process",
    "solver/process.py": "writes the transcript",
    "solver/openems.py": "the child: the request of its parent",
    "solver/machine.py": "/proc",
    "sweep/worker.py": "a worker: the task of its parent",
    "jobs/entry.py": "writes the log of its worker",
    "live/worker.py": "a worker: the pipe of its parent",
    "page/frame/layout.py": "files of this package",
    "page/frame/previews.py": "what was just written into a private folder",
    "page/queue/view.py": "files of this package",
    "records/documentation.py": "the page of this project whose tables it writes",
    "report/page.py": "files of this package",
    "report/pictures.py": "pictures that were just drawn",
}
"""Modules that open files, and why they may."""
UNPICKLERS = {"sweep/worker.py"}
"""Programs that their parent starts on a file which it has just written into a folder of its own."""
PIPES = {"live/channel.py"}
"""Messages between a process and the worker that it has started: no file."""


def _calls(module: str) -> set[str]:
    """Last words of the names of all that a module calls, and the whole of two."""
    found = set()
    for node in ast.walk(TREES[module]):
        if isinstance(node, ast.Call):
            found.add(ast.unparse(node.func))
            if isinstance(node.func, ast.Attribute):
                found.add(f".{node.func.attr}")
    return found


def test_files_are_read_through_one_door():
    reading = {
        "open",
        "io.open",
        "os.fdopen",
        ".read_text",
        ".read_bytes",
        "h5py.File",
        "np.fromfile",
        "np.loadtxt",
        "np.genfromtxt",
    }
    assert {module for module in TREES if _calls(module) & reading} <= READERS.keys()


def test_nothing_from_a_stored_run_can_run():
    """Unpickling runs code; a run folder may come from anybody."""
    unpickling = {
        "pickle.load",
        "pickle.loads",
        "pickle.Unpickler",
        "np.load",
        "joblib.load",
        "shelve.open",
        "marshal.loads",
        "eval",
        "exec",
        "yaml.load",
    }
    assert {module for module in TREES if _calls(module) & unpickling} == UNPICKLERS | PIPES
    for module in UNPICKLERS:  # programs: nobody imports them
        name = "simharness." + module.removesuffix(".py").replace("/", ".")
        importing = {
            m
            for m, tree in TREES.items()
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and node.module == name
        }
        assert importing == set()


def test_options_take_finite_numbers_and_printable_names():
    wrong = []
    for name in COMMANDS:
        for parameter in importlib.import_module(f"simharness.cli.commands.{name}").command.params:
            kinds = parameter.type.types if isinstance(parameter.type, click.Tuple) else [parameter.type]
            for kind in kinds:
                if isinstance(kind, (click.types.FloatParamType, click.FloatRange)) and not isinstance(
                    kind, Number
                ):
                    wrong.append(f"{name} {parameter.name}: a number may be nan or infinite")
                if isinstance(kind, click.Path) and not isinstance(kind, FilePath):
                    wrong.append(f"{name} {parameter.name}: a name may act on a terminal")
    assert not wrong
