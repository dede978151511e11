"""How exact the dimensions of a record must be."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.errors import InputError
from simharness.library.values import Cancellable, ShortRepr, plain

if TYPE_CHECKING:
    from simharness.estimate.response_surface import Figures
    from simharness.library.solved_run import SolvedRun
    from simharness.progress import Progress
    from simharness.records import Record
    from simharness.solver.process import Cancel
    from simharness.tolerance.defects import SeamStudy
    from simharness.tolerance.study import ToleranceStudy


@dataclass(frozen=True, repr=False)
class ToleranceResult(ShortRepr):
    """Tolerances of a record.

    Attributes
    ----------
    record : Record
    study : simharness.tolerance.study.ToleranceStudy
        What each dimension does, how far it may be off, and the sample of antennas.
    seam : simharness.tolerance.defects.SeamStudy or None
        What an open seam does, where that was solved.
    """

    record: Record
    study: ToleranceStudy
    seam: SeamStudy | None = None

    @property
    def share(self) -> float:
        """Share of the antennas of the sample that keep to the target, 0 to 1."""
        return self.study.sample.share

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """All of it in words."""
        from simharness.tolerance.messages import tolerance_sentences

        return tuple(tolerance_sentences(self.record, self.study))

    def write_picture(self, path: Path | str) -> Path:
        """Draw the dimensions by what they do, as PNG; MachineError where the file cannot be written."""
        from simharness.plot import write_figure
        from simharness.tolerance.picture import tolerance_figure

        return write_figure(path, tolerance_figure, self.study, self.record)

    def as_dict(self) -> dict[str, Any]:
        """Effects, allowed deviations and the sample in types that JSON knows."""
        study, figures = self.study, self.study.sample.figures
        return plain(
            {
                "record": self.record.name,
                "tools": study.tools,
                "run": study.run,
                "target_s11_db": self.record.band.target_s11_db,
                "resonance_is": study.resonance_is,
                "drawn": _single(study.drawn),
                "dimensions": [
                    asdict(effect)
                    | {
                        "allowed": asdict(study.allowed[effect.name])
                        if effect.name in study.allowed
                        else None
                    }
                    for effect in study.effects
                ],
                "yield": {
                    "share": study.sample.share,
                    "interval": study.sample.interval,
                    "good": study.sample.good,
                    "samples": figures.worst_s11.size,
                    "spot_error": study.sample.spot_error,
                    "worst_s11_db": figures.worst_s11.tolist(),
                },
                "slips": [
                    {"words": defect.description, "figures": _single(defect.figures)}
                    for defect in study.defects
                ],
                "sentences": self.sentences,
                "seam": _seam(self.seam),
            }
        )


def _single(figures: Figures) -> dict[str, float]:
    """Figures of one antenna, with their units in the names."""
    return {
        "resonance_hz": figures.resonance[0],
        "worst_s11_db": figures.worst_s11[0],
        "gain_dbi": figures.gain[0],
        "side_lobes_db": figures.side_lobes[0],
    }


def _seam(study: SeamStudy | None) -> dict[str, Any] | None:
    if study is None:
        return None
    return {
        "gap_m": study.seam.gap,
        "start_m": study.seam.start,
        "end_m": study.seam.end,
        "runs": study.runs,
        "worst_s11_db": study.worst_s11,
        "figures": {name: [figure.value for figure in pair] for name, pair in study.figures.items()},
    }


def tolerance(
    record: Record,
    tools: str = "hand",
    *,
    samples: int = 2000,
    seed: int = 1,
    run: SolvedRun | None = None,
    seam_mm: float | None = None,
    quality: str = "draft",
    runs: Path | str = "runs",
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> ToleranceResult:
    """Find how exact the dimensions of a record must be, and how many antennas made with given tools will do.

    Each dimension alone: what it does and how far it may be off. All together: the share of antennas that
    keep to the target. By the estimate, in half a minute or so.

    Parameters
    ----------
    record : Record
    tools : str
        Whose errors are assumed: "hand" or "mill".
    samples : int
        Antennas in the sample.
    seed : int
        Of the random errors: the same seed, the same antennas.
    run : SolvedRun, optional
        Of this antenna: its S11 takes the place of that of the model.
    seam_mm : float, optional
        Also solve the antenna closed and with a seam open by this over half its length: two full-wave
        runs.
    quality : str
        How fine the mesh of those two runs is.
    runs : Path or str
        Folder where they are stored.
    progress : Progress, optional
    cancel : threading.Event or callable, optional
        Asked whenever there is progress to tell: an event that is set, or a function that returns true, ends
        the study.

    Returns
    -------
    ToleranceResult

    Raises
    ------
    InputError
        Unknown tools, a record without slots, or a run of another antenna.
    CancelledError
        `cancel` said so. With a seam, also the errors of `solve`.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> found = simharness.tolerance(record, "mill", samples=500)  # doctest: +SKIP
    >>> found.share  # doctest: +SKIP
    1.0
    """
    from simharness.runs.store import Store
    from simharness.tolerance.analysis import ToleranceAnalysis
    from simharness.tolerance.model import corrected_model, response_surface
    from simharness.tolerance.tool_errors import TOOLS, require_tools

    require_tools(tools)
    told = Cancellable(progress, cancel)
    seam = None
    if seam_mm is not None:
        from simharness.tolerance.defects import seam_study

        seam = seam_study(record, Store(runs), quality, seam_mm, told)
    if run is None:
        name, model = None, response_surface(record)
    else:
        name, (frequency, s11) = run.name, run_curve(record, run)
        model = corrected_model(record, frequency, s11)
    study = ToleranceAnalysis(model, TOOLS[tools], told).study(tools, samples, seed, name)
    return ToleranceResult(record, study, seam)


def run_curve(record: Record, run: SolvedRun) -> tuple:
    """Frequencies (Hz) and S11 of a stored run of this antenna."""
    results, solved = run.results, run.record
    if solved.antenna != record.antenna:
        raise InputError(
            "--run", run.name, f"is a run of another antenna than {record.name} is now; solve it first"
        )
    return results["frequency"], results["s11"]
