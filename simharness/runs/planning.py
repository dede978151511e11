"""What a run would be: its mesh, its key, its memory and its time, before it starts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from simharness.errors import InputError, MachineError
from simharness.fingerprint import canonical, nanometres, request_key
from simharness.geometry import antenna_scene
from simharness.geometry.mast import unsolvable
from simharness.geometry.scene import Scene
from simharness.mesh.grid import grid
from simharness.mesh.settings import QUALITIES, MeshSettings, beside_others
from simharness.mesh.staircasing import with_staircasing_correction
from simharness.records import Record
from simharness.solver.machine import BYTES_PER_CELL, Machine, machine, memory_available
from simharness.solver.settings import SLOW_PERIODS, SolverRequest, SolverSettings

MAX_CELLS = 20_000_000
"""Cells that a run with a pole, a wall or a second antenna may have: hours on an office machine."""


@dataclass(frozen=True)
class Plan:
    """What a run would be: printed before it starts. Times in s, memory in bytes.

    `predicted`: periods after the pulse until it settles, by the estimate (`prediction.settling_periods`);
    None: by the length of the guide alone. `quality`: name of the mesh quality, which the run keeps; empty
    where it has none.
    """

    request: SolverRequest
    key: str
    machine: Machine
    memory: int
    predicted: float | None = None
    quality: str = ""
    notes: Mapping[str, str] = field(default_factory=dict)

    @property
    def solver(self) -> str:
        """Name and version of the solver."""
        return self.machine.solver

    @property
    def threads(self) -> int:
        """Threads of the solver."""
        return self.machine.threads

    @property
    def cells(self) -> int:
        """Cells of the mesh."""
        return self.request.grid.cells

    @property
    def cells_per_second(self) -> float:
        """Speed of this machine on such a mesh, measured or guessed."""
        return self.machine.speed(self._layered).cells_per_second

    @property
    def typical_periods(self) -> float:
        """Periods after the pulse until it has settled, as predicted; no more than it may make."""
        known = self.predicted if self.predicted is not None else self.request.usual_periods
        return min(known, self.request.settings.longest)

    @property
    def slow(self) -> bool:
        """Whether it settles slowly: over more periods than a row of a dozen slots."""
        return self.typical_periods > SLOW_PERIODS

    @property
    def typical_seconds(self) -> float:
        """Wall clock until it has settled, as predicted."""
        return self._seconds(self.request.steps_for(self.typical_periods))

    @property
    def most_seconds(self) -> float:
        """Wall clock if it makes all its steps."""
        return self._seconds(self.request.steps)

    @property
    def _layered(self) -> bool:
        return any(self.request.grid.absorber)

    def _seconds(self, steps: int) -> float:
        return self.machine.seconds(self.cells, self._layered, steps, self.request.steps)


def plan(
    scene: Scene,
    settings: SolverSettings,
    on: Machine | None = None,
    *,
    quality: str = "",
    notes: Mapping[str, str] | None = None,
) -> Plan:
    """Mesh a scene and say what it will cost.

    Parameters
    ----------
    scene : Scene
        What is to be solved.
    settings : SolverSettings
        Mesh, pulse and stop.
    on : Machine, optional
        Where it will run; this machine by default.
    quality : str
        Name of the mesh, kept with the run.
    notes : mapping
        What else is to be kept in the provenance of the run.

    Raises
    ------
    MachineError
        The solver is missing, or the run cannot fit into memory.
    """
    on = on or machine()
    scene = with_staircasing_correction(scene, settings.mesh)
    mesh = grid(scene, settings.mesh)
    request = SolverRequest(scene, mesh, settings)
    memory = 150_000_000 + BYTES_PER_CELL * mesh.cells
    available = memory_available()
    if memory > available:
        raise MachineError(
            f"the mesh of {mesh.cells / 1e6:.1f} million cells needs about {memory / 1e9:.1f} GB of memory, "
            f"{available / 1e9:.1f} GB are free: use a coarser quality or a shorter antenna"
        )
    return Plan(request, _key(request, on.solver), on, memory, quality=quality, notes=dict(notes or {}))


def _key(request: SolverRequest, solver: str) -> str:
    """Hash of what the solver sees."""
    scene = request.scene
    settings = canonical(request.settings)
    settings.pop("mesh")
    return request_key(
        {
            "format": 2,
            "solver": solver,
            "lines": nanometres(request.grid.lines),
            "prisms": [
                [p.part, canonical(p.material), p.axis, nanometres([p.low, p.high, o.exterior, o.holes])]
                for p in scene.prisms
                for o in (p.meshed or p.outline,)
            ],
            "ports": [[type(p).__name__, canonical(p)] for p in scene.ports],
            "slots": [nanometres([s.x, s.y, s.z, s.width, s.length]) for s in scene.slots],
            "spectrum": canonical(scene.spectrum),
            "boundaries": [scene.boundaries, scene.radiates, request.grid.absorber, request.grid.surface],
            "conductivity": scene.conductivity if scene.conductivity < 1e30 else "perfect",
            "settings": settings,
        }
    )


def solver_settings(record: Record, mesh: MeshSettings) -> SolverSettings:
    """Settings of a record's run at some fineness; open faces reflect less where something is beside it."""
    alone = record.mast is None and record.pair is None and record.wings is None
    return SolverSettings(mesh if alone else beside_others(mesh))


def record_plan(
    record: Record, quality: str = "normal", feed: str = "coax", on: Machine | None = None
) -> Plan:
    """Plan for a design record at one of the named qualities.

    Parameters
    ----------
    record : Record
    quality : str
        One of `mesh.settings.QUALITIES`.
    feed : str
        'coax', or 'gap' for a lumped source in a cut of the probe.
    on : Machine, optional
        Where it will run; this machine by default.

    Raises
    ------
    InputError
        There is no such quality; the full wave does not hold such a pair, or what stands beside the antenna
        is too far away to be solved.
    MachineError
        As `plan`.
    """
    if quality not in QUALITIES:
        raise InputError("quality", quality, f"must be one of {', '.join(QUALITIES)}")
    settings = solver_settings(record, QUALITIES[quality])
    if (refused := unsolvable(record, feed)) is not None:
        raise InputError(*refused)
    scene = antenna_scene(record, feed)
    if record.mast is not None or record.pair is not None:
        _require_room(record, grid(scene, settings.mesh).cells)
    return plan(scene, settings, on, quality=quality)


def _require_room(record: Record, cells: int) -> None:
    """InputError where a pole, wall or second antenna is so far away that the mesh grows too large."""
    if cells <= MAX_CELLS:
        return
    what, part = ("mast", record.mast) if record.mast is not None else ("pair", record.pair)
    assert part is not None
    raise InputError(
        f"{what}.distance_mm",
        f"{part.distance_mm:g}",
        f"the full wave would need {cells / 1e6:.0f} million cells with it, at most {MAX_CELLS / 1e6:.0f} "
        "million are solved: bring it nearer or take a coarser quality; 'simharness estimate' takes any "
        "distance",
    )
