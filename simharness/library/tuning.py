"""The probe tuned by a few full-wave runs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.library.values import Cancellable, ShortRepr, plain, write_text

if TYPE_CHECKING:
    from simharness.progress import Progress
    from simharness.records import Record
    from simharness.runs.planning import Plan
    from simharness.runs.store import Store
    from simharness.solver.process import Cancel
    from simharness.tuning.result import MatchCurve, Tuning


@dataclass(frozen=True)
class TunePlan:
    """What a tuning would cost.

    Attributes
    ----------
    run : simharness.runs.planning.Plan
        Of one of its runs.
    max_runs : int
    stored : bool
        Whether the run of the unchanged record is stored already; it counts as one.
    """

    run: Plan
    max_runs: int
    stored: bool

    def as_dict(self) -> dict[str, Any]:
        """In types that JSON knows."""
        return plain(
            {
                "most_runs": self.max_runs,
                "cells": self.run.cells,
                "typical_seconds_each": self.run.typical_seconds,
                "own_run_stored": self.stored,
            }
        )


@dataclass(frozen=True, repr=False)
class TuneResult(ShortRepr):
    """A tuned record, and the runs behind it.

    Attributes
    ----------
    model : simharness.tuning.result.Tuning
        The runs, the model's curves, the optimum before rounding.
    """

    model: Tuning

    @property
    def record(self) -> Record:
        """The tuned record."""
        return self.model.record

    @property
    def before(self) -> Record:
        """The record as it was."""
        return self.model.before

    @property
    def met(self) -> bool:
        """Whether the best run meets the target of the record beyond its error bar."""
        from simharness.verdict.match_state import MatchState

        return self.model.state is MatchState.MET

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """What was found: how sharp the optimum is, and what half a millimetre costs."""
        from simharness.tuning.messages import tuning_sentences

        return tuple(tuning_sentences(self.model))

    @property
    def conclusion(self) -> str:
        """All in one line."""
        return self.model.conclusion

    def text(self, source: Path | str | None = None, called: str = "") -> str:
        """The tuned record as TOML.

        Parameters
        ----------
        source : Path or str, optional
            The file of the record before: its comments and its order are kept, and only what was tuned is
            changed.
        called : str
            What the record before is called in the heading; as its file, or by its name, without it.
        """
        from simharness import __version__
        from simharness.records.text import record_text, updated_text
        from simharness.tuning.variables import point_text

        name = called or (self.before.name if source is None else Path(source).name)
        heading = (
            f"Tuned from {name} by simharness {__version__}, {self.model.quality} mesh, "
            f"run {self.model.best.name}:\n{point_text(self.model.variables, self.model.best.values)}"
        )
        if source is None:
            return record_text(self.record, heading)
        return updated_text(source, self.record, heading)

    def save(self, path: Path | str, source: Path | str | None = None, replace: bool = False) -> Path:
        """Write `text` to a file; InputError where one is and `replace` is false, or where none can be."""
        return write_text(path, self.text(source), replace)

    def write_pictures(self, folder: Path | str) -> tuple[Path, ...]:
        """Draw S11 against the height, and of a bent probe the map of the two dimensions that match it, as
        PNG.
        """
        from simharness.plot import write_figure
        from simharness.tuning.map_picture import tuning_map_figure
        from simharness.tuning.picture import tuning_figure

        folder = Path(folder)
        over_both: tuple[Path, ...] = ()
        if self.model.map is not None:
            over_both = (write_figure(folder / "tuning-map.png", tuning_map_figure, self.model),)
        return write_figure(folder / "tuning.png", tuning_figure, self.model), *over_both

    def as_dict(self) -> dict[str, Any]:
        """Runs, optimum and curves in types that JSON knows."""
        found = self.model

        def named(values: Iterable[float]) -> dict:
            return {variable.name: value for variable, value in zip(found.variables, values)}

        return plain(
            {
                "record": found.before.name,
                "quality": found.quality,
                "over": found.objective.over,
                "before_mm": named(variable.read(found.before) for variable in found.variables),
                "tuned_mm": named(found.best.values),
                "optimum_mm": named(found.optimum),
                "verdict": found.state.value,
                "settled": found.settled,
                "gain_db": found.gain_db,
                "runs": [
                    {
                        "name": run.name,
                        "values_mm": named(run.values),
                        "centre_db": run.centre_db,
                        "worst_db": run.worst_db,
                        "missed": run.missed,
                    }
                    for run in found.runs
                ],
                "near_mm": found.near,
                "keeps_target_mm": found.keeps,
                "half_mm_less_db": found.shorter_db,
                "half_mm_more_db": found.longer_db,
                "estimate_curve": _curve(found.estimate_curve),
                "curve": _curve(found.curve),
                "sentences": self.sentences,
            }
        )


def _curve(curve: MatchCurve) -> dict[str, Any]:
    return {
        "height_mm": curve.first.tolist(),
        "centre_db": curve.centre_db.tolist(),
        "worst_db": curve.worst_db.tolist(),
    }


def tune_plan(record: Record, quality: str, also: Sequence[str], max_runs: int, store: Store) -> TunePlan:
    """What a tuning would cost; InputError for what cannot be tuned."""
    from simharness.runs.planning import record_plan
    from simharness.tuning.variables import tuning_variables

    tuning_variables(record, also)  # what is impossible is refused before anything else
    own = record_plan(record, quality)
    return TunePlan(own, max_runs, store.find(own.key) is not None)


def tune(
    record: Record,
    quality: str = "normal",
    *,
    over: str = "band",
    also: Sequence[str] = (),
    step_mm: float = 0.1,
    max_runs: int = 3,
    name: str = "",
    runs: Path | str = "runs",
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> TuneResult:
    """Find how long the probe must be for the best match, by at most a few full-wave runs.

    A model that every run corrects says which to make next. Every run is stored, and a stored one is not made
    again: after an interruption the same call goes on where it stopped.

    Parameters
    ----------
    record : Record
        Fed by a probe.
    quality : str
        How fine the mesh of the runs is: "draft", "normal" or "fine".
    over : str
        What is minimized: the worst S11 in the "band", or S11 at its "centre".
    also : sequence of str
        Also tuned, beside the height: "position", "back-short", "run", "hole-height", "slots" (all lengths
        alike).
    step_mm : float
        What can be marked: tuned dimensions are multiples of it.
    max_runs : int
        Full-wave runs at most; a stored run of the record as it is counts as one.
    name : str
        Of the tuned record; that of the record with "-tuned" without it.
    runs : Path or str
        Folder of the stored runs.
    progress : Progress, optional
    cancel : threading.Event or callable, optional
        Asked whenever there is progress to tell: an event that is set, or a function that returns true, ends
        the tuning.

    Returns
    -------
    TuneResult

    Raises
    ------
    InputError
        There is no probe, or an option is not of those allowed.
    SolverError, NotConvergedError, CancelledError, BusyError, StoreError, MachineError
        As `solve`; the runs made before stay stored.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> found = simharness.tune(record, "draft", max_runs=2)  # doctest: +SKIP
    >>> found.save("four-slot-9g6-tuned.toml", source="docs/four-slot-9g6.toml")  # doctest: +SKIP
    """
    from simharness.runs.store import Store
    from simharness.tuning.search import tune as tuned

    store = Store(runs)
    found = tuned(
        record,
        store,
        quality,
        over,
        also,
        name=name,
        step_mm=step_mm,
        most_runs=max_runs,
        progress=Cancellable(progress, cancel),
    )
    store.remember(store.opened(found.best.name).key, found.record)
    return TuneResult(found)
