"""Effect of an open seam on an antenna: full-wave runs with and without it."""

from __future__ import annotations

from dataclasses import dataclass

from simharness.constants import MM
from simharness.figures import Figure
from simharness.geometry import antenna_scene
from simharness.geometry.seam import Seam, half_open_seam, with_open_seam
from simharness.mesh.settings import QUALITIES
from simharness.progress import Progress, Silent
from simharness.records import Record
from simharness.results.match import worst_in_band
from simharness.runs.execution import solve
from simharness.runs.planning import plan, record_plan, solver_settings
from simharness.runs.store import Store
from simharness.verdict.assessment import full_wave_figures

SHOWN = ("resonance", "s11_at_centre", "realized_gain", "side_lobe_level", "front_to_back")


@dataclass(frozen=True)
class SeamStudy:
    """An antenna without and with an open seam.

    Attributes
    ----------
    seam : Seam
    runs : tuple of 2 str
        Names of the stored runs, that without the seam first.
    figures : dict
        Name of a figure of `SHOWN` to its values, that without the seam first.
    worst_s11 : tuple of 2 floats
        Largest |S11| in the band, dB.
    """

    seam: Seam
    runs: tuple[str, str]
    figures: dict[str, tuple[Figure, Figure]]
    worst_s11: tuple[float, float]


def seam_study(
    record: Record, store: Store, quality: str, gap_mm: float, progress: Progress | None = None
) -> SeamStudy:
    """Solve an antenna as drawn, and with a seam that is open over half its length.

    Parameters
    ----------
    quality : str
        Of the mesh, one of `simharness.mesh.settings.QUALITIES`.
    gap_mm : float
        Width of the gap, mm.

    Raises
    ------
    InputError
        The gap is not positive.
    SolverError, NotConvergedError, CancelledError, BusyError, StoreError, MachineError
        As `runs.execution.solve`; runs that were finished before remain stored.
    """
    seam, progress = half_open_seam(record, gap_mm), progress or Silent()
    intact = solve(record_plan(record, quality), store, record, progress=progress)
    opened = plan(
        with_open_seam(antenna_scene(record), seam),
        solver_settings(record, QUALITIES[quality]),
        quality=quality,
        notes={"open_seam_m": str(seam.gap)},
    )
    # Stored without the record: it must not be taken for a run of the antenna as drawn.
    leaky = solve(
        opened,
        store,
        None,
        label=f"{record.name[:38]}-open-seam",
        progress=progress,
    )
    results = intact.results(), leaky.results()
    found = [full_wave_figures(result, record, quality) for result in results]
    figures = {
        name: (found[0][name], found[1][name]) for name in SHOWN if name in found[0] and name in found[1]
    }
    worst = worst_in_band(record, results[0])[1], worst_in_band(record, results[1])[1]
    return SeamStudy(seam, (intact.path.name, leaky.path.name), figures, worst)


def seam_sentence(study: SeamStudy) -> str:
    """The study as a sentence."""
    seam, (intact, leaky) = study.seam, study.worst_s11
    gain = study.figures.get("realized_gain")
    change = (
        ""
        if gain is None or None in (gain[0].value, gain[1].value)
        else f", the gain changes by {gain[1].value - gain[0].value:+.1f} dB"
    )
    return (
        f"A seam left open by {seam.gap / MM:g} mm along the edge between the front and one side wall, over "
        f"the middle {seam.end / MM - seam.start / MM:.0f} mm of the guide (full wave): the worst S11 in the "
        f"band goes from {intact:.1f} to {leaky:.1f} dB{change}."
    )
