"""The kinds of work: each is a function of the library, and what of its answer is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from simharness.errors import MachineError
from simharness.progress import Progress
from simharness.records import Record
from simharness.solver.process import Cancel


@dataclass(frozen=True)
class Task:
    """What is to be done.

    Attributes
    ----------
    record : Record
    source : Path
        File of the record, whose comments and order a record made from it keeps.
    called : str
        What that file is called by whoever asked.
    options : dict
        See `simharness.jobs.options.full_options`.
    runs : Path
        Folder of the stored runs.
    progress : Progress
    cancel : threading.Event or callable
    """

    record: Record
    source: Path
    called: str
    options: dict[str, Any]
    runs: Path
    progress: Progress
    cancel: Cancel


@dataclass(frozen=True)
class Outcome:
    """What came out.

    Attributes
    ----------
    conclusion : str
        In one line.
    runs : tuple of str
        Names of the stored runs, the one that counts at the end.
    sentences : tuple of str
    data : dict
        The answer of the library in types that JSON knows.
    record_text : str
        The record that was made, as TOML; empty where none was.
    files : tuple of Path
        Files written beside the runs, as the command of the same name writes them.
    """

    conclusion: str
    runs: tuple[str, ...] = ()
    sentences: tuple[str, ...] = ()
    data: dict[str, Any] | None = None
    record_text: str = ""
    files: tuple[Path, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """In types that JSON knows."""
        return {
            "conclusion": self.conclusion,
            "runs": list(self.runs),
            "sentences": list(self.sentences),
            "data": self.data or {},
            "record_text": self.record_text,
            "files": [str(path) for path in self.files],
        }


def solve(task: Task) -> Outcome:
    """A full-wave run and its verdict."""
    import simharness

    asked = task.options
    run = simharness.solve(
        simharness.plan(task.record, asked["quality"], feed=asked["feed"]),
        runs=task.runs,
        again=asked["again"],
        limit_minutes=asked["limit_minutes"],
        progress=task.progress,
        cancel=task.cancel,
    )
    verdict = run.verdict
    return Outcome(verdict.conclusion, (run.name,), (*run.remarks, *verdict.sentences), run.as_dict())


def tune(task: Task) -> Outcome:
    """The probe tuned; the tuned record is kept as text, and no file of the user is written."""
    import simharness

    asked = task.options
    found = simharness.tune(
        task.record,
        asked["quality"],
        over=asked["over"],
        also=asked["also"],
        step_mm=asked["step_mm"],
        max_runs=asked["max_runs"],
        runs=task.runs,
        progress=task.progress,
        cancel=task.cancel,
    )
    runs = [run.name for run in found.model.runs if run is not found.model.best]
    return Outcome(
        found.conclusion,
        (*runs, found.model.best.name),
        found.sentences,
        found.as_dict(),
        found.text(task.source, task.called),
    )


def tolerance(task: Task) -> Outcome:
    """How exact each dimension must be."""
    import simharness

    asked = task.options
    found = simharness.tolerance(
        task.record,
        asked["tools"],
        samples=asked["samples"],
        seed=asked["seed"],
        run=None if asked["run"] is None else simharness.open_run(asked["run"], runs=task.runs),
        seam_mm=asked["seam_mm"],
        quality=asked["quality"],
        runs=task.runs,
        progress=task.progress,
        cancel=task.cancel,
    )
    sentences = found.sentences
    if found.seam is not None:
        from simharness.tolerance.defects import seam_sentence

        sentences = (*sentences, seam_sentence(found.seam))
    share = f"{100 * found.share:.0f} of 100 antennas so made keep to the target"
    return Outcome(share, (), sentences, found.as_dict())


def converge(task: Task) -> Outcome:
    """What the figures converge to on finer meshes."""
    import simharness

    found = simharness.converge(
        task.record,
        task.options["levels"],
        spreads=task.options["spreads"],
        runs=task.runs,
        progress=task.progress,
        cancel=task.cancel,
    )
    files = _written(task, lambda: found.write(task.runs / f"convergence-{task.record.name}"))
    meshes = ", ".join(f"1/{n}" for n in found.study.slot_cells)
    return Outcome(
        f"figures on {len(found.study.h)} meshes of {meshes} of a slot width, and their limits",
        tuple(found.study.runs),
        tuple(found.study.remarks),
        found.as_dict(),
        files=files,
    )


def sweep(task: Task) -> Outcome:
    """Fields varied: a run for each point, and the table."""
    import simharness
    from simharness.library import sweep_plan

    asked = task.options
    job = sweep_plan(
        task.record,
        asked["vary"],
        asked["quality"],
        workers=asked["workers"],
        threads=asked["threads"],
        runs=task.runs,
    )
    found = simharness.sweep(job, progress=task.progress, cancel=task.cancel)
    files = _written(task, lambda: found.write(task.runs / job.points.name))
    bad = [row for row in found.rows if not row.run]
    words = f"{len(found.rows) - len(bad)} of {len(found.rows)} points solved"
    return Outcome(
        f"{words}; the first that failed: {bad[0].reason}" if bad else words,
        tuple(row.run for row in found.rows if row.run),
        (),
        found.as_dict(),
        files=files,
    )


def _written(task: Task, write: Callable[[], list[Path]]) -> tuple[Path, ...]:
    """Files beside the runs; the answer counts without them too."""
    try:
        return tuple(write())
    except MachineError as error:
        task.progress.note(f"no table or picture was written: {error}")
        return ()


WORKS: dict[str, Callable[[Task], Outcome]] = {
    "solve": solve,
    "tune": tune,
    "tolerance": tolerance,
    "converge": converge,
    "sweep": sweep,
}
"""By the kind of work, as in `simharness.jobs.options.OPTIONS`."""
