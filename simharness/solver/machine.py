"""What this machine can do: where the solver is, which version, how fast, how much memory.

What was found out is remembered in one small file, the profile, as long as solver, processor and
number of cores are the same; see `profile_path`.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, PositiveInt

from simharness.errors import MachineError
from simharness.files import UnreadableError, atomic_write_text, content

BYTES_PER_CELL = 420
"""Peak memory of the solver while it builds its operator (measured on 0.5 to 3 million cells)."""

BUILD_SECONDS_PER_CELL = 4e-6
CELLS_PER_SECOND = 55e6
"""Throughput with absorbing layers on two cores (measured 45 to 80 million cells per second)."""

CELLS_PER_SECOND_WITHOUT_LAYERS = 100e6
"""Throughput with first-order absorbing faces on two cores (measured 100 to 185 million)."""

START_SECONDS = 2.0
"""Start of the child, and what follows its last step (seen: 0.7 s and about a second)."""

LOOK_SECONDS = 4.0
"""The solver looks up from its work no sooner: a shorter run makes all its steps."""

MAX_PROFILE_BYTES = 100_000
PROFILE_VARIABLE = "SIMHARNESS_PROFILE"

HOW_TO_INSTALL = (
    "install it with 'sudo apt-get install python3-openems' (Debian 12) and run scripts/setup again"
)

_MODULES = ("CSXCAD", "openEMS")

_ASK = """
from pathlib import Path
from openEMS import openEMS
import CSXCAD
openEMS.WelcomeScreen()
maps = Path("/proc/self/maps")
for line in maps.read_text().splitlines() if maps.exists() else ():
    if "openEMS" in line or "CSXCAD" in line:
        print("loaded:", line.split(maxsplit=5)[5])
"""

_Rate = Annotated[float, Field(gt=0, allow_inf_nan=False)]


@dataclass(frozen=True)
class Speed:
    """Cells per second while the solver steps, and seconds per cell before the first step."""

    cells_per_second: _Rate
    build_time: _Rate


@dataclass(frozen=True)
class Machine:
    """Solver version, number of threads to use, and speeds.

    `plain`: with first-order absorbing faces or none; `layered`: with absorbing layers; `measured`: the
    day (ISO 8601) on which threads and speeds were measured, empty where they are guessed.
    """

    solver: str
    threads: PositiveInt
    plain: Speed = Speed(CELLS_PER_SECOND_WITHOUT_LAYERS, BUILD_SECONDS_PER_CELL)
    layered: Speed = Speed(CELLS_PER_SECOND, BUILD_SECONDS_PER_CELL)
    measured: str = ""

    def speed(self, layered: bool) -> Speed:
        """With absorbing layers or without."""
        return self.layered if layered else self.plain

    def seconds(self, cells: int, layered: bool, steps: int, most_steps: int) -> float:
        """Wall clock of a run that may make `most_steps` and settles after `steps`, s.

        Examples
        --------
        Ten steps of 0.1 s would be enough, but nobody looks before four seconds have passed:

        >>> fast = Machine("a solver", 2, plain=Speed(cells_per_second=1e7, build_time=1e-6))
        >>> round(fast.seconds(1_000_000, layered=False, steps=10, most_steps=1000), 6)
        7.0
        """
        speed = self.speed(layered)
        step = cells / speed.cells_per_second
        stepping = min(max(steps * step, LOOK_SECONDS), most_steps * step)
        return START_SECONDS + cells * speed.build_time + stepping


class Profile(BaseModel):
    """What is remembered, and of which circumstances it is true.

    `files`: size in bytes and time of change in ns of the solver's modules and of all libraries that
    they load, so that another build is noticed without starting it.
    """

    model_config = ConfigDict(extra="forbid", strict=True)

    format: Literal[2] = 2
    processor: str
    cores: int
    library_path: str
    files: dict[str, tuple[int, int]]
    machine: Machine


def machine() -> Machine:
    """The solver on this machine: as remembered, or else asked for its version, with guessed speeds.

    Raises
    ------
    MachineError
        The solver or its Python modules are missing or do not start.
    """
    missing = [name for name in _MODULES if importlib.util.find_spec(name) is None]
    if missing:
        raise MachineError(
            f"the field solver is missing (no Python module {' or '.join(missing)}): {HOW_TO_INSTALL}"
        )
    known = remembered()
    if known:
        return known
    version, loaded = _version()
    found = Machine(version, usable_cores())
    with contextlib.suppress(MachineError, OSError):
        _write(_profile_now(loaded, found))
    return found


def remembered() -> Machine | None:
    """The machine of the profile, if that can be read and is true of this machine as it is now."""
    known = _profile()
    if known is None:
        return None
    return known.machine if known.machine.measured else Machine(known.machine.solver, known.cores)


def remember(found: Machine) -> None:
    """Put a measured machine in the place of the guess that is remembered.

    Where the machine refuses to write, it is measured again the next time.
    """
    known = _profile()
    if known:
        with contextlib.suppress(MachineError, OSError):
            _write(known.model_copy(update={"machine": found}))


def profile_path() -> Path | None:
    """Where the profile lies: $SIMHARNESS_PROFILE, or simharness/machine.json in the user's cache folder.

    None where the variable is set to nothing or there is no cache folder: then nothing is remembered.
    """
    chosen = os.environ.get(PROFILE_VARIABLE)
    if chosen is not None:
        return Path(chosen) if chosen else None
    cache = Path(os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache"))
    return cache / "simharness" / "machine.json" if cache.is_absolute() else None


def usable_cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0))


def processor() -> str:
    """Model of the processor, empty where the system does not tell."""
    try:
        lines = Path("/proc/cpuinfo").read_text(errors="replace").splitlines()
    except OSError:
        return ""
    return next((line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), "")


def _version() -> tuple[str, list[str]]:
    """Name with version of the solver, and files that it loads; asked of a child."""
    try:
        done = subprocess.run([sys.executable, "-c", _ASK], capture_output=True, text=True, timeout=60)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise MachineError(f"the field solver does not start ({error}): {HOW_TO_INSTALL}") from None
    found = re.search(r"openEMS.*version\s+v?([\w.\-+]+)", done.stdout + done.stderr)
    if done.returncode or not found:
        reason = (done.stderr.strip().splitlines() or ["no version found"])[-1]
        raise MachineError(f"the field solver does not start ({reason}): {HOW_TO_INSTALL}")
    return f"openEMS {found.group(1)}", re.findall(r"^loaded: (.+)$", done.stdout, re.MULTILINE)


def _profile_now(loaded: list[str], found: Machine) -> Profile:
    """Profile of a machine as it is now; OSError where a file that the solver loads is gone."""
    # Several environments may link to one solver.
    modules = [os.path.realpath(importlib.util.find_spec(name).origin) for name in _MODULES]
    stats = {path: os.stat(path) for path in sorted({*modules, *loaded})}
    files = {path: (stat.st_size, stat.st_mtime_ns) for path, stat in stats.items()}
    return Profile(
        processor=processor(),
        cores=usable_cores(),
        library_path=os.environ.get("LD_LIBRARY_PATH", ""),
        files=files,
        machine=found,
    )


def _profile() -> Profile | None:
    path = profile_path()
    if path is None:
        return None
    try:
        known = Profile.model_validate_json(content(path, MAX_PROFILE_BYTES))
        return known if _profile_now(list(known.files), known.machine) == known else None
    except (OSError, ValueError, UnreadableError):
        return None


def _write(profile: Profile) -> None:
    path = profile_path()
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
        atomic_write_text(path, profile.model_dump_json(indent=2) + "\n")


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
