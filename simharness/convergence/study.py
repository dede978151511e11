"""How far the full-wave figures of one record can still move: meshes refined alike, and the other numerical
choices.

Each mesh is a run like any other, solved through `run.solve` and kept in the store, so that an
interrupted study goes on where it stopped. Cells are counted across the narrowest slot; every other
count of the mesh is scaled with it, and so is the slope at which cells grow with distance: a slope
held constant would keep the cells between the features as coarse as they were.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from simharness.errors import InputError, NotConvergedError, SolverError
from simharness.geometry import antenna_scene
from simharness.mesh.grid import Grid
from simharness.mesh.settings import QUALITIES, MeshSettings
from simharness.numerics.convergence import Convergence, convergence
from simharness.progress import Progress, Silent
from simharness.records import CoaxFeed, Record
from simharness.results.outputs import Results
from simharness.runs.execution import Plan, plan, solve
from simharness.runs.store import Store
from simharness.solver.machine import Machine, machine
from simharness.solver.settings import SolverSettings
from simharness.verdict.assessment import LABELS, full_wave_figures

SLOT_CELLS = (2, 3, 4, 6)
"""Cells across a slot, the coarsest mesh first; the first three or all four are used."""

FIGURES = (
    "resonance",
    "band_low",
    "band_high",
    "realized_gain",
    "directivity",
    "beamwidth_along",
    "beamwidth_across",
    "side_lobe_level",
)
S11_DISTANCE = "s11_distance"
S11_LABEL = "S11 in the complex plane, worst in the band"

CAREFUL_ABSORBER = 8
"""Cells of the perfectly matched layer that the usual absorber is held against."""

SLOWEST = 1.0
"""Order of the error at metal edges on mesh lines, the slowest that is known to be present."""

UNLIKE = 0.8
"""A refinement of all cells by less than this share of that across the slots is remarked upon."""


@dataclass(frozen=True)
class Step:
    """One run of a study. `slot_cells`: of its mesh; `spread`: key of what it varies, empty for a mesh of
    the sequence."""

    label: str
    slot_cells: int
    plan: Plan
    spread: str = ""


@dataclass(frozen=True)
class FigureStudy:
    """One figure on all meshes, the coarsest first, in SI units (deg for angles, dB for ratios).

    `values`: None where a mesh has no such figure; `convergence`: None unless all have it. The values of
    `S11_DISTANCE` are distances from the finest mesh; its `extrapolated` is that of the finest mesh from
    the limit.
    """

    name: str
    label: str
    unit: str
    values: tuple[float | None, ...]
    convergence: Convergence | None


@dataclass(frozen=True)
class Spread:
    """What one other numerical choice does on the coarsest mesh.

    `changes`: figure -> change against the run of the sequence, in the unit of the figure; None with
    `reason` where the run came to nothing.
    """

    name: str
    label: str
    changes: dict[str, float | None] | None
    reason: str = ""


@dataclass(frozen=True)
class Study:
    """Result of `converge`. `h`: cell size in slot widths; `cells`: of each mesh; `runs`: names of the
    stored runs."""

    record: str
    slot_cells: tuple[int, ...]
    h: tuple[float, ...]
    cells: tuple[int, ...]
    runs: tuple[str, ...]
    figures: tuple[FigureStudy, ...]
    spreads: tuple[Spread, ...]
    remarks: tuple[str, ...]


def mesh_settings(slot_cells: int) -> MeshSettings:
    """Mesh with so many cells across a slot, all else scaled alike.

    Counts on probe and bore are whole: 1, 1, 2, 3 and 1, 2, 3, 5 for 2, 3, 4, 6 cells, those of the
    qualities as far as they reach. Absorber and air (its margin and its cells) are held, and are those of
    the normal quality.

    Examples
    --------
    >>> mesh_settings(4).per_wavelength, mesh_settings(4).growth
    (30.0, 0.15)
    """
    usual = QUALITIES["normal"]
    return replace(
        usual,
        per_wavelength=7.5 * slot_cells,
        slot_cells=slot_cells,
        post_cells=max(1, slot_cells // 2),
        bore_cells=slot_cells - 1,
        growth=usual.growth * SLOT_CELLS[0] / slot_cells,
        tube_cells=12 * slot_cells,
    )


def study_steps(
    record: Record, levels: int = 3, spreads: bool = False, on: Machine | None = None
) -> tuple[Step, ...]:
    """The runs of a study in their order: meshes from coarse to fine, then what else is varied.

    Parameters
    ----------
    levels : int
        Meshes, 3 or 4.
    spreads : bool
        Whether air margin, absorber, length of the record and (with a probe) feed model are varied on the
        coarsest mesh.

    Raises
    ------
    InputError
        Another number of levels.
    MachineError
        The solver is missing, or a mesh does not fit into memory.
    """
    if not 3 <= levels <= len(SLOT_CELLS):
        raise InputError("levels", levels, f"must be 3 to {len(SLOT_CELLS)}: an order needs three meshes")
    on = on or machine()
    scene = antenna_scene(record)
    steps = [
        Step(f"{n} cells across a slot", n, plan(scene, SolverSettings(mesh_settings(n)), on))
        for n in SLOT_CELLS[:levels]
    ]
    if spreads:
        least = SLOT_CELLS[0]
        usual = SolverSettings(mesh_settings(least))
        wide = usual.mesh.margin_wavelengths + 0.25
        for name, label, settings in (
            (
                "margin",
                f"air margin {wide:g} instead of {usual.mesh.margin_wavelengths:g} wavelengths",
                replace(usual, mesh=replace(usual.mesh, margin_wavelengths=wide)),
            ),
            (
                "absorber",
                f"matched layer of {CAREFUL_ABSORBER} cells instead of Mur's condition",
                replace(usual, mesh=replace(usual.mesh, absorber_cells=CAREFUL_ABSORBER)),
            ),
            ("length", "record settled to 1e-4 instead of 1e-3", replace(usual, settled=1e-4)),
        ):
            steps.append(Step(label, least, plan(scene, settings, on), name))
        if isinstance(record.feed, CoaxFeed):
            steps.append(
                Step(
                    "lumped gap instead of coax line",
                    least,
                    plan(antenna_scene(record, "gap"), usual, on),
                    "feed",
                )
            )
    return tuple(steps)


def remaining_seconds(steps: Sequence[Step], store: Store) -> float:
    """Time that the runs not yet stored will usually take, s."""
    return sum(step.plan.typical_seconds for step in steps if store.find(step.plan.key) is None)


def converge(
    record: Record,
    store: Store,
    levels: int = 3,
    *,
    spreads: bool = False,
    steps: Sequence[Step] | None = None,
    progress: Progress | None = None,
) -> Study:
    """Refine the mesh of a record, and say what its figures converge to and how surely.

    Parameters
    ----------
    steps : sequence of Step, optional
        From `study_steps`, which is otherwise called with `levels` and `spreads`.

    Returns
    -------
    Study
        Figures of `FIGURES` as far as a mesh has them, and `S11_DISTANCE`.

    Raises
    ------
    SolverError, NotConvergedError, CancelledError, BusyError, StoreError, MachineError
        As `run.solve`, for a mesh of the sequence; the runs finished before stay in the store. A failed
        spread is recorded as such.
    """
    steps = tuple(steps or study_steps(record, levels, spreads))
    progress = progress or Silent()
    number = iter(range(1, len(steps) + 1))

    def solved(step: Step) -> tuple[str, Results]:
        progress.note(
            f"run {next(number)} of {len(steps)}: {step.label}, {step.plan.cells / 1e6:.2f} million cells"
        )
        run = solve(step.plan, store, record, progress=progress, notes={"quality": step.label})
        return run.path.name, run.results()

    meshes = [step for step in steps if not step.spread]
    runs, results = zip(*(solved(step) for step in meshes))
    figures = _figures(record, [1 / step.slot_cells for step in meshes], results)
    spread = tuple(_spread(record, step, results[0], solved) for step in steps if step.spread)
    said = remarks(meshes)
    if any(_numbers(record, result)["resonance"][0] is None for result in results):
        said += (
            "On some mesh the best match lies at the border of the frequencies solved for: that is no resonance, and has no limit.",
        )
    return Study(
        record.name,
        tuple(step.slot_cells for step in meshes),
        tuple(1 / step.slot_cells for step in meshes),
        tuple(step.plan.cells for step in meshes),
        runs,
        figures,
        spread,
        said,
    )


def _numbers(record: Record, results: Results) -> dict[str, tuple[float | None, str]]:
    """Value and unit of the figures that are studied."""
    found = full_wave_figures(results, record, "")
    numbers = {
        name: (None if found[name].value is None else float(found[name].value), found[name].unit)
        for name in FIGURES
        if name in found
    }
    # A least value at the border of the frequencies is no resonance: it would stand still on all meshes and
    # look certain.
    if numbers["resonance"][0] in (results["frequency"][0], results["frequency"][-1]):
        numbers["resonance"] = (None, "Hz")
    return numbers


def s11_distance(record: Record, one: Results, two: Results) -> float:
    """Largest |S11 - S11'| of two runs between the edges of the record's band.

    The frequencies are those of the second run; the first is interpolated in the complex plane.
    """
    frequency = two["frequency"]
    inside = (frequency >= record.band.low * (1 - 1e-9)) & (frequency <= record.band.high * (1 + 1e-9))
    there = frequency[inside]
    first = np.interp(there, one["frequency"], one["s11"])
    return float(np.max(np.abs(first - two["s11"][inside])))


def _figures(record: Record, h: list[float], results: Sequence[Results]) -> tuple[FigureStudy, ...]:
    numbers = [_numbers(record, result) for result in results]
    rows = []
    for name in FIGURES:
        values = tuple(found.get(name, (None, ""))[0] for found in numbers)
        if any(value is not None for value in values):
            unit = next(found[name][1] for found in numbers if name in found)
            rows.append(
                FigureStudy(
                    name,
                    LABELS[name],
                    unit,
                    values,
                    None if None in values else convergence(h, values, SLOWEST),
                )
            )
    # With S_k = S + C h_k^p the distance from the finest mesh is |C| (h_k^p - h_n^p): it converges to minus
    # the finest's own error.
    distance = tuple(s11_distance(record, result, results[-1]) for result in results)
    found = convergence(h, distance, SLOWEST)
    place = 1 if rows and rows[0].name == "resonance" else 0
    rows.insert(
        place,
        FigureStudy(
            S11_DISTANCE, S11_LABEL, "", distance, replace(found, extrapolated=abs(found.extrapolated))
        ),
    )
    return tuple(rows)


def _spread(
    record: Record, step: Step, usual: Results, solved: Callable[[Step], tuple[str, Results]]
) -> Spread:
    """Changes of the figures against the usual choice."""
    try:
        _, results = solved(step)
    except (SolverError, NotConvergedError) as error:
        return Spread(step.spread, step.label, None, str(error))
    before, after = _numbers(record, usual), _numbers(record, results)
    changes: dict[str, float | None] = {S11_DISTANCE: s11_distance(record, usual, results)}
    for name in before:
        one, two = before[name][0], after.get(name, (None, ""))[0]
        changes[name] = None if one is None or two is None else two - one
    return Spread(step.spread, step.label, changes)


def inner_cells(grid: Grid) -> int:
    """Cells of a mesh without its absorber."""
    return math.prod(
        len(line) - 1 - sum(grid.absorber[2 * i : 2 * i + 2]) for i, line in enumerate(grid.lines)
    )


def remarks(meshes: Sequence[Step]) -> tuple[str, ...]:
    """Where the meshes are not refined alike, in sentences.

    The refinement of all cells is the cube root of their number's ratio (Celik et al., J. Fluids Eng. 130,
    2008, 078001; memory), the absorber left out.
    """
    first, last = meshes[0], meshes[-1]
    wanted = last.slot_cells / first.slot_cells
    found = (inner_cells(last.plan.request.grid) / inner_cells(first.plan.request.grid)) ** (1 / 3)
    said = []
    if found < UNLIKE * wanted:
        said.append(
            f"From the coarsest to the finest mesh cells shrink {wanted:.2g} times across the slots, but {found:.2f} times on "
            "average: edges near each other have set some cells already. Orders below are less sure for it."
        )
    posts = [step.plan.request.settings.mesh.post_cells for step in meshes]
    if _has_probe(first) and len(set(posts)) < len(posts):
        said.append(
            f"The probe has {', '.join(map(str, posts))} cells across, which is no even refinement: the match may step where "
            "that number changes."
        )
    return tuple(said)


def _has_probe(step: Step) -> bool:
    return any(feature.kind == "post" for feature in step.plan.request.scene.features)
