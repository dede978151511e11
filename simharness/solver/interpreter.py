"""Which Python runs the solver's child: this one, or another that can import the solver's two modules."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from simharness.errors import MachineError

SOLVER_PYTHON_VARIABLE = "SIMHARNESS_SOLVER_PYTHON"
"""Environment variable that names the Python to run the solver with; nothing else is then tried."""

SYSTEM_PYTHON = "/usr/bin/python3"
"""Debian's own Python, for which its package of the solver is made."""

MODULES = ("CSXCAD", "openEMS")
"""Python modules of the solver."""

HOW_TO_INSTALL = (
    "install it with 'sudo apt-get install python3-openems' (Debian 12) and run scripts/setup again, "
    f"or set {SOLVER_PYTHON_VARIABLE} to a Python that has it"
)

CHILD = Path(__file__).with_name("openems.py")
"""The program that runs the solver."""

START_LIMIT_S = 60.0
"""Allowance for the solver to tell its version."""


@dataclass(frozen=True)
class FoundSolver:
    """A solver that starts.

    Attributes
    ----------
    python : str
        The Python that it starts with; empty for the one that runs this program.
    version : str
        Name and version of the solver.
    files : tuple of str
        Its modules and the libraries that they load.
    """

    python: str
    version: str
    files: tuple[str, ...]


def child_command(python: str, *arguments: str | Path) -> list[str | Path]:
    """Command line of the solver's child; `python` as in `FoundSolver`."""
    return [python or sys.executable, CHILD, *arguments]


def own_modules() -> dict[str, str]:
    """Where the solver's modules are that this Python can import, links resolved."""
    found = {name: importlib.util.find_spec(name) for name in MODULES}
    return {name: os.path.realpath(str(spec.origin)) for name, spec in found.items() if spec is not None}


def candidates(remembered: str = "") -> list[str]:
    """Pythons that may have the solver, the one to be preferred first; empty text for the one that runs
    this program.

    Parameters
    ----------
    remembered : str
        The one in the machine profile, tried last.
    """
    chosen = os.environ.get(SOLVER_PYTHON_VARIABLE)
    if chosen:
        return [shutil.which(chosen) or chosen]
    found = [""] if len(own_modules()) == len(MODULES) else []
    others = [path for path in (SYSTEM_PYTHON, remembered) if path and os.path.exists(path)]
    return found + list(dict.fromkeys(others))


def find_solver(remembered: str = "") -> FoundSolver:
    """The first solver that starts.

    Raises
    ------
    MachineError
        There is none, or none starts.
    """
    refusals = []
    for python in candidates(remembered):
        try:
            return ask(python)
        except MachineError as error:
            refusals.append((python, error))
    chosen = os.environ.get(SOLVER_PYTHON_VARIABLE)
    if refusals and (chosen or refusals[0][0] == ""):
        raise refusals[0][1]
    lacks = [name for name in MODULES if name not in own_modules()]
    raise MachineError(
        f"the field solver is missing (no Python module {' or '.join(lacks)}): {HOW_TO_INSTALL}"
    )


def ask(python: str) -> FoundSolver:
    """Start the solver's child and let it tell its version.

    Raises
    ------
    MachineError
        It does not start.
    """
    try:
        done = subprocess.run(
            child_command(python, "--version"), capture_output=True, text=True, timeout=START_LIMIT_S
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise MachineError(f"the field solver does not start ({error}): {HOW_TO_INSTALL}") from None
    found = re.search(r"openEMS.*version\s+v?([\w.\-+]+)", done.stdout + done.stderr)
    if done.returncode or not found:
        reason = (done.stderr.strip().splitlines() or ["no version found"])[-1]
        raise MachineError(f"the field solver does not start ({reason}): {HOW_TO_INSTALL}")
    files = re.findall(r"^(?:module|loaded): (.+)$", done.stdout, re.MULTILINE)
    return FoundSolver(python, f"openEMS {found.group(1)}", tuple(dict.fromkeys(files)))
