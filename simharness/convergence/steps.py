"""The runs of a study: one record on meshes refined alike, and with other numerical choices on the coarsest.

Cells are counted across the narrowest slot; every other count of the mesh is scaled with it, and so is the
slope at which cells grow with distance: a slope held constant would keep the cells between the features as
coarse as they were.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from simharness.errors import InputError
from simharness.geometry import antenna_scene
from simharness.geometry.scene import Scene
from simharness.mesh.grid import Grid
from simharness.mesh.settings import QUALITIES, MeshSettings
from simharness.records import Record
from simharness.runs.planning import Plan, plan, solver_settings
from simharness.runs.store import Store
from simharness.solver.machine import Machine, machine
from simharness.solver.settings import SolverSettings

SLOT_CELLS = (2, 3, 4, 6)
"""Cells across a slot, the coarsest mesh first; the first three or all four are used."""

CAREFUL_ABSORBER = 8
"""Cells of the perfectly matched layer that the usual absorber is held against."""

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

    def step(label: str, cells: int, choice: SolverSettings, spread: str = "", what: Scene = scene) -> Step:
        return Step(label, cells, plan(what, choice, on, quality=label), spread)

    steps = [
        step(f"{n} cells across a slot", n, solver_settings(record, mesh_settings(n)))
        for n in SLOT_CELLS[:levels]
    ]
    if not spreads:
        return tuple(steps)
    least = SLOT_CELLS[0]
    usual = solver_settings(record, mesh_settings(least))
    mesh, gap = usual.mesh, antenna_scene(record, "gap")
    wide = mesh.margin_wavelengths + 0.25
    layer, instead = CAREFUL_ABSORBER, "Mur's condition"
    if mesh.absorber_cells:
        layer, instead = mesh.absorber_cells + 4, f"{mesh.absorber_cells}"
    steps += [
        step(
            f"air margin {wide:g} instead of {mesh.margin_wavelengths:g} wavelengths",
            least,
            replace(usual, mesh=replace(mesh, margin_wavelengths=wide)),
            "margin",
        ),
        step(
            f"matched layer of {layer} cells instead of {instead}",
            least,
            replace(usual, mesh=replace(mesh, absorber_cells=layer)),
            "absorber",
        ),
        step("record settled to 1e-4 instead of 1e-3", least, replace(usual, settled=1e-4), "length"),
    ]
    if gap.ports != scene.ports:  # a guide port has no simpler model
        steps.append(step("lumped gap instead of coax line", least, usual, "feed", gap))
    return tuple(steps)


def remaining_seconds(steps: Sequence[Step], store: Store) -> float:
    """Time that the runs not yet stored will usually take, s."""
    return sum(step.plan.typical_seconds for step in steps if store.find(step.plan.key) is None)


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
            f"From the coarsest to the finest mesh cells shrink {wanted:.2g} times across the slots, but "
            f"{found:.2f} times on average: edges near each other have set some cells already. Orders below "
            "are less sure for it."
        )
    posts = [step.plan.request.settings.mesh.post_cells for step in meshes]
    if _has_probe(first) and len(set(posts)) < len(posts):
        said.append(
            f"The probe has {', '.join(map(str, posts))} cells across, which is no even refinement: "
            "the match may step where that number changes."
        )
    return tuple(said)


def _has_probe(step: Step) -> bool:
    return any(feature.kind == "post" for feature in step.plan.request.scene.features)
