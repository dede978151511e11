"""How far the full-wave figures of one record can still move: what refined meshes converge to, and what
else matters.

Each mesh is a run like any other, solved through `execution.solve` and kept in the store, so that an
interrupted study goes on where it stopped.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from simharness.convergence.steps import Step, remarks, study_steps
from simharness.errors import NotConvergedError, SolverError
from simharness.numerics.convergence import Convergence, convergence
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.results.outputs import Results
from simharness.runs.execution import solve
from simharness.runs.store import Store
from simharness.verdict.assessment import LABELS, full_wave_figures

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

SLOWEST = 1.0
"""Order of the error at metal edges on mesh lines, the slowest that is known to be present."""


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
        run = solve(step.plan, store, record, progress=progress)
        return run.path.name, run.results()

    meshes = [step for step in steps if not step.spread]
    runs, results = zip(*(solved(step) for step in meshes))
    figures = _figures(record, [1 / step.slot_cells for step in meshes], results)
    spread = tuple(_spread(record, step, results[0], solved) for step in steps if step.spread)
    said = remarks(meshes)
    if any(_numbers(record, result)["resonance"][0] is None for result in results):
        said += (
            "On some mesh the best match lies at the border of the frequencies solved for: "
            "that is no resonance, and has no limit.",
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
        known = [value for value in values if value is not None]
        if known:
            unit = next(found[name][1] for found in numbers if name in found)
            rows.append(
                FigureStudy(
                    name,
                    LABELS[name],
                    unit,
                    values,
                    convergence(h, known, SLOWEST) if len(known) == len(values) else None,
                )
            )
    # With S_k = S + C h_k^p the distance from the finest mesh is |C| (h_k^p - h_n^p): it converges to minus
    # the finest's own error.
    distance = tuple(s11_distance(record, result, results[-1]) for result in results)
    limit = convergence(h, distance, SLOWEST)
    place = 1 if rows and rows[0].name == "resonance" else 0
    rows.insert(
        place,
        FigureStudy(
            S11_DISTANCE, S11_LABEL, "", distance, replace(limit, extrapolated=abs(limit.extrapolated))
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
