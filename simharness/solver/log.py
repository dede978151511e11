"""Lines of the solver's transcript as events; pure.

The wording is that of openEMS 0.0.35 with `-v`, as seen in transcripts of real runs
under LC_ALL=C. A line that says nothing of interest, or garbage, is no event.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

MAX_LINE = 4096
"""Characters of a line that are looked at."""


@dataclass(frozen=True)
class SolverProgress:
    """State of a running solver, printed every four seconds.

    `speed` is in cells per second; `energy` a plain sum of squares, NaN after a
    blow-up; `energy_db` its decay from the peak in dB (zero or negative, or NaN).
    """

    timestep: int
    speed: float
    energy: float
    energy_db: float

    @property
    def blown_up(self) -> bool:
        """Whether the fields have become infinite or NaN."""
        return not math.isfinite(self.energy)


@dataclass(frozen=True)
class GridSize:
    """Lines of the mesh along x, y, z, and the number of cells."""

    lines: tuple[int, int, int]
    cells: int


@dataclass(frozen=True)
class TimestepLength:
    """Length of a time step in seconds."""

    seconds: float


@dataclass(frozen=True)
class ExcitationLength:
    """Length of the exciting pulse in time steps."""

    timesteps: int


@dataclass(frozen=True)
class PecEdges:
    """Number of metallic mesh edges: a checksum of the geometry (printed with `-v` only)."""

    count: int


@dataclass(frozen=True)
class OperatorBuilt:
    """The solver has built its operator, in so many seconds."""

    seconds: float


@dataclass(frozen=True)
class Running:
    """The solver has built its operator and begins to step."""


@dataclass(frozen=True)
class Finished:
    """The last line of a run that came to its end; `cells` is rounded to what was printed."""

    iterations: int
    cells: int
    seconds: float


@dataclass(frozen=True)
class Aborted:
    """The solver found a file ABORT and stopped early."""


@dataclass(frozen=True)
class SolverWarning:
    """A warning; `expected` when it only says that the asked-for number of steps was made."""

    text: str
    expected: bool


@dataclass(frozen=True)
class Problem:
    """A line that reports an error; the solver may yet exit with 0."""

    text: str


Event = (
    SolverProgress
    | GridSize
    | TimestepLength
    | ExcitationLength
    | PecEdges
    | OperatorBuilt
    | Running
    | Finished
    | Aborted
    | SolverWarning
    | Problem
)

_N = r"([-+]?(?:nan|inf|\d+(?:\.\d*)?(?:e[-+]?\d+)?))"
_SIZE = r"(\d+)x(\d+)x(\d+)"
_EXPECTED_WARNING = "Max. number of timesteps was reached before the end-criteria"


def _progress(m: re.Match[str]) -> SolverProgress:
    decay = float(m[4].replace(" ", ""))
    return SolverProgress(int(m[1]), float(m[2]) * 1e6, float(m[3]), -decay if decay else 0.0)


def _grid(m: re.Match[str]) -> GridSize:
    return GridSize((int(m[1]), int(m[2]), int(m[3])), int(m[4]))


def _finished(m: re.Match[str]) -> Finished:
    return Finished(int(m[1]), round(float(m[2])), float(m[3]))


_RULES: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], Event]], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), make)
    for pattern, make in (
        (
            rf"^\[@.{{0,40}}?\] Timestep:\s*(\d+) \|\| Speed:\s*{_N} MC/s \([^)]*\) "
            rf"\|\| Energy: ~\s*{_N} \(-\s*{_N}dB\)",
            _progress,
        ),
        (rf"^Dimensions\s*: {_SIZE} = (\d+) Cells", _grid),
        (rf"^FDTD simulation size: {_SIZE} --> (\d+) FDTD cells", _grid),
        (rf"^Timestep \(s\)\s*: {_N}\s*$", lambda m: TimestepLength(float(m[1]))),
        (rf"^FDTD timestep is: {_N} s;", lambda m: TimestepLength(float(m[1]))),
        (r"^Excitation signal length is: (\d+) timesteps", lambda m: ExcitationLength(int(m[1]))),
        (r"^Number of PEC edges\s*: (\d+)\s*$", lambda m: PecEdges(int(m[1]))),
        (rf"^Creation time for operator: {_N} s", lambda m: OperatorBuilt(float(m[1]))),
        (r"^Running FDTD engine", lambda m: Running()),
        (rf"^Time for (\d+) iterations with {_N} cells : {_N} sec", _finished),
        (r'Found file "ABORT", aborting', lambda m: Aborted()),
        (r"\bwarning\b", lambda m: SolverWarning(m.string, _EXPECTED_WARNING in m.string)),
        (
            r"\berror\b|\bfailed\b|exiting|\bexit!|terminate called|segmentation fault"
            r"|bad_alloc|assertion|traceback|out of memory",
            lambda m: Problem(m.string),
        ),
    )
)


def event(line: str) -> Event | None:
    """What a line of the transcript says.

    Parameters
    ----------
    line : str
        One line, without its end.

    Returns
    -------
    Event or None
        None for a line that says nothing of interest. No line raises.

    Examples
    --------
    >>> event("[@ 1m03s] Timestep:        10400 || Speed:  149.7 MC/s (6.724e-03 s/TS) "
    ...       "|| Energy: ~1.15e-14 (- 1.33dB)")
    SolverProgress(timestep=10400, speed=149700000.0, energy=1.15e-14, energy_db=-1.33)
    >>> event("Number of PEC edges\\t: 3993")
    PecEdges(count=3993)
    >>> event("Read Geometry...") is None
    True
    """
    line = line[:MAX_LINE].strip()
    for pattern, make in _RULES:
        match = pattern.search(line)
        if match is not None:
            try:
                return make(match)
            except (ValueError, OverflowError):
                return None
    return None


@dataclass(frozen=True)
class Digest:
    """What a whole transcript says; None where it does not say it.

    `warnings` holds the unexpected ones only. `blown_up` knows the printed energy
    alone: a short run prints none, and its signals must be looked at as well.
    """

    grid: GridSize | None
    timestep_length: float | None
    pec_edges: int | None
    building: float | None
    finished: Finished | None
    aborted: bool
    blown_up: bool
    warnings: tuple[str, ...]
    problems: tuple[str, ...]


def digest(lines: Iterable[str]) -> Digest:
    """Digest of a transcript, given line by line; memory grows with its warnings only."""
    last: dict[type, Any] = {}
    blown_up = False
    warnings: dict[str, None] = {}
    problems: dict[str, None] = {}
    for found in map(event, lines):
        if found is None:
            continue
        last[type(found)] = found
        if isinstance(found, SolverProgress):
            blown_up = blown_up or found.blown_up
        elif isinstance(found, SolverWarning) and not found.expected:
            warnings[found.text] = None
        elif isinstance(found, Problem):
            problems[found.text] = None
    length, edges, built = last.get(TimestepLength), last.get(PecEdges), last.get(OperatorBuilt)
    return Digest(
        grid=last.get(GridSize),
        timestep_length=length.seconds if length else None,
        pec_edges=edges.count if edges else None,
        building=built.seconds if built else None,
        finished=last.get(Finished),
        aborted=Aborted in last,
        blown_up=blown_up,
        warnings=tuple(warnings),
        problems=tuple(problems),
    )
