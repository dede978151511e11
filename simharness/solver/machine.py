"""What this machine can do: where the solver is, which version, how fast, how much memory.

What was found out is remembered in one small file, the profile, as long as solver, processor and
number of cores are the same; see `profile_path`.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, PositiveInt

from simharness.errors import MachineError
from simharness.files import UnreadableError, atomic_write_text, content
from simharness.solver.interpreter import candidates, find_solver, own_modules

BYTES_PER_CELL = 420
"""Peak memory of the solver while it builds its operator (measured on 0.5 to 3 million cells)."""

BUILD_SECONDS_PER_CELL = 4e-6
CELLS_PER_SECOND = 55e6
"""Throughput with absorbing layers on two cores (measured 45 to 80 million cells per second)."""

CELLS_PER_SECOND_WITHOUT_LAYERS = 100e6
"""Throughput with first-order absorbing faces on two cores (measured 100 to 185 million)."""

START_SECONDS = 2.0
"""Start of the child, and what follows its last step (seen: 0.7 s and about a second)."""

CHECK_SECONDS = 4.0
"""The solver checks whether to stop no sooner: a shorter run makes all its steps."""

MAX_PROFILE_BYTES = 100_000
PROFILE_VARIABLE = "SIMHARNESS_PROFILE"

_Rate = Annotated[float, Field(gt=0, allow_inf_nan=False)]


@dataclass(frozen=True)
class Speed:
    """Cells per second while the solver steps, and seconds per cell before the first step."""

    cells_per_second: _Rate
    build_time: _Rate


@dataclass(frozen=True)
class Machine:
    """Solver version, number of threads to use, and speeds.

    `plain`: with first-order absorbing faces or none; `layered`: with absorbing layers; `measured`: the day
    (ISO 8601) on which threads and speeds were measured, empty where they are guessed; `python`: the Python
    that runs the solver, empty for the one that runs this program.
    """

    solver: str
    threads: PositiveInt
    plain: Speed = Speed(CELLS_PER_SECOND_WITHOUT_LAYERS, BUILD_SECONDS_PER_CELL)
    layered: Speed = Speed(CELLS_PER_SECOND, BUILD_SECONDS_PER_CELL)
    measured: str = ""
    python: str = ""

    def speed(self, layered: bool) -> Speed:
        """With absorbing layers or without."""
        return self.layered if layered else self.plain

    def seconds(self, cells: int, layered: bool, steps: int, most_steps: int) -> float:
        """Wall clock of a run that may make `most_steps` and settles after `steps`, s.

        Examples
        --------
        Ten steps of 0.1 s would be enough, but nothing is checked before four seconds have passed:

        >>> fast = Machine("a solver", 2, plain=Speed(cells_per_second=1e7, build_time=1e-6))
        >>> round(fast.seconds(1_000_000, layered=False, steps=10, most_steps=1000), 6)
        7.0
        """
        speed = self.speed(layered)
        step = cells / speed.cells_per_second
        stepping = min(max(steps * step, CHECK_SECONDS), most_steps * step)
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
    known = remembered()
    if known:
        return known
    found = find_solver(_remembered_python())
    guess = Machine(found.version, usable_cores(), python=found.python)
    with contextlib.suppress(MachineError, OSError):
        _write(_profile_now(found.files, guess))
    return guess


def remembered() -> Machine | None:
    """The machine of the profile, if that can be read and is true of this machine as it is now."""
    known = _profile()
    if known is None:
        return None
    if known.machine.measured:
        return known.machine
    return Machine(known.machine.solver, known.cores, python=known.machine.python)


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
    from platformdirs import user_cache_path

    chosen = os.environ.get(PROFILE_VARIABLE)
    if chosen is not None:
        return Path(chosen) if chosen else None
    cache = user_cache_path("simharness", appauthor=False)
    return cache / "machine.json" if cache.is_absolute() else None


def usable_cores() -> int:
    """Cores that this process may use."""
    import psutil

    process = psutil.Process()
    if hasattr(process, "cpu_affinity"):  # not on every system
        return len(process.cpu_affinity())
    return psutil.cpu_count() or 1


def processor() -> str:
    """Model of the processor, empty where the system does not tell."""
    try:
        lines = Path("/proc/cpuinfo").read_text(errors="replace").splitlines()
    except OSError:
        return ""
    return next((line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), "")


def _profile_now(loaded: Iterable[str], found: Machine) -> Profile:
    """Profile of a machine as it is now; OSError where a file that the solver loads is gone."""
    # Several environments may link to one solver.
    modules = [] if found.python else own_modules().values()
    stats = {path: os.stat(path) for path in sorted({*modules, *loaded})}
    files = {path: (stat.st_size, stat.st_mtime_ns) for path, stat in stats.items()}
    return Profile(
        processor=processor(),
        cores=usable_cores(),
        library_path=os.environ.get("LD_LIBRARY_PATH", ""),
        files=files,
        machine=found,
    )


def _stored_profile() -> Profile | None:
    """The profile as it was written, if it can be read."""
    path = profile_path()
    if path is None:
        return None
    try:
        return Profile.model_validate_json(content(path, MAX_PROFILE_BYTES))
    except (OSError, ValueError, UnreadableError):
        return None


def _remembered_python() -> str:
    """The Python that the profile names, whether or not the rest of it is still true."""
    known = _stored_profile()
    return known.machine.python if known else ""


def _profile() -> Profile | None:
    """The profile, if it is true of this machine as it is now."""
    known = _stored_profile()
    if known is None or candidates(known.machine.python)[:1] != [known.machine.python]:
        return None
    try:
        return known if _profile_now(known.files, known.machine) == known else None
    except OSError:
        return None


def _write(profile: Profile) -> None:
    path = profile_path()
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
        atomic_write_text(path, profile.model_dump_json(indent=2) + "\n")


def memory_available() -> int:
    """Bytes that a new process may use without swapping."""
    import psutil

    return int(psutil.virtual_memory().available)
