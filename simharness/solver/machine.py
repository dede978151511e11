"""What this machine can do: where the solver is, which version, how fast, how much memory."""

from __future__ import annotations

import importlib.util
import os
import re
import subprocess
import sys
from dataclasses import dataclass

from simharness.errors import MachineError

BYTES_PER_CELL = 420
"""Peak memory of the solver while it builds its operator (measured on 0.5 to 3 million cells)."""

BUILD_SECONDS_PER_CELL = 4e-6
CELLS_PER_SECOND = 55e6
"""Throughput with absorbing layers on two cores (measured 45 to 80 million cells per second)."""

HOW_TO_INSTALL = (
    "install it with 'sudo apt-get install python3-openems' (Debian 12) and run scripts/setup again"
)


@dataclass(frozen=True)
class Machine:
    """Solver version and number of threads to use."""

    solver: str
    threads: int


def machine() -> Machine:
    """The solver on this machine.

    Raises
    ------
    MachineError
        The solver or its Python modules are missing or do not start.
    """
    missing = [name for name in ("CSXCAD", "openEMS") if importlib.util.find_spec(name) is None]
    if missing:
        raise MachineError(f"the field solver is missing (no Python module {' or '.join(missing)}): {HOW_TO_INSTALL}")
    code = "from openEMS import openEMS; import CSXCAD; openEMS.WelcomeScreen()"
    try:
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise MachineError(f"the field solver does not start ({error}): {HOW_TO_INSTALL}") from None
    found = re.search(r"openEMS.*version\s+v?([\w.\-+]+)", done.stdout + done.stderr)
    if done.returncode or not found:
        reason = (done.stderr.strip().splitlines() or ["no version found"])[-1]
        raise MachineError(f"the field solver does not start ({reason}): {HOW_TO_INSTALL}")
    return Machine(f"openEMS {found.group(1)}", len(os.sched_getaffinity(0)))


def memory_available() -> int:
    """Bytes that a new process may use; a large number where the system does not tell."""
    try:
        with open("/proc/meminfo", encoding="ascii") as text:
            for line in text:
                if line.startswith("MemAvailable:"):
                    return int(line.split()[1]) * 1024
    except OSError:
        pass
    return 1 << 60
