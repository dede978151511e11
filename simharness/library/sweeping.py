"""A record with fields varied: every point a stored run, and one table of all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.library.values import Cancellable, plain

if TYPE_CHECKING:
    from simharness.progress import Progress
    from simharness.records import Record
    from simharness.runs.store import Store
    from simharness.solver.process import Cancel
    from simharness.sweep.execution import SweepPlan as Points
    from simharness.sweep.table import Sweep, SweepRow


@dataclass(frozen=True)
class SweepPlan:
    """The points of a sweep, all checked, and who will solve them.

    Attributes
    ----------
    points : simharness.sweep.execution.SweepPlan
    store : simharness.runs.store.Store
    workers, threads : int or None
        As asked for.
    cluster : str or None
        Address of a Dask scheduler.
    """

    points: Points
    store: Store
    workers: int | None = None
    threads: int | None = None
    cluster: str | None = None

    @cached_property
    def backend(self):
        """Who makes the runs: processes of this machine, or the workers of a cluster."""
        from simharness.sweep.backend import backend_for

        return backend_for(self.points, self.missing, self.workers, self.threads, self.cluster)

    @property
    def missing(self) -> dict[str, int]:
        """Keys of the runs that are not stored, with the first point of each."""
        return self.points.missing(self.store)

    @property
    def seconds(self) -> float | None:
        """Time of the runs yet to be made, s; None on a cluster."""
        made_by = self.backend
        if made_by.workers is None:
            return None
        return self.points.seconds(self.missing, made_by.workers, made_by.threads)

    def as_dict(self) -> dict[str, Any]:
        """In types that JSON knows."""
        return plain(
            {
                "points": len(self.points.points),
                "runs": len(self.points.runs),
                "stored": len(self.points.runs) - len(self.missing),
                "workers": self.backend.workers,
                "threads": self.backend.threads,
                "seconds": self.seconds,
                "folder": self.points.name,
            }
        )


@dataclass(frozen=True)
class SweepResult:
    """The table of a sweep.

    Attributes
    ----------
    table : simharness.sweep.table.Sweep
        A row for each point: values, status, run, figures with error bars, frequency (f,) in Hz and S11 (f,).
    """

    table: Sweep

    @property
    def rows(self) -> tuple[SweepRow, ...]:
        """The points in order, the last field changing fastest."""
        return self.table.rows

    def write(self, folder: Path | str, picture: bool = True) -> list[Path]:
        """Write the table as CSV and HDF5, and the picture as PNG; MachineError where the folder cannot be
        written.
        """
        from simharness.files import atomic_write_bytes, atomic_write_text, machine_errors
        from simharness.sweep.table import csv_text, hdf5_bytes

        folder = Path(folder)
        with machine_errors(f"make the folder {folder}"):
            folder.mkdir(parents=True, exist_ok=True)
        written = [folder / "sweep.csv", folder / "sweep.h5"]
        atomic_write_text(written[0], csv_text(self.table))
        atomic_write_bytes(written[1], hdf5_bytes(self.table))
        if picture and any(row.run for row in self.rows):
            from simharness.plot import write_figure
            from simharness.sweep.picture import sweep_figure

            written.append(write_figure(folder / "sweep.png", sweep_figure, self.table))
        return written

    def as_dict(self) -> dict[str, Any]:
        """The rows with their figures in types that JSON knows."""
        fields = [variable.field for variable in self.table.variables]
        return plain(
            {
                "record": self.table.record.name,
                "quality": self.table.quality,
                "rows": [
                    dict(zip(fields, row.values))
                    | {"status": row.status, "reason": row.reason, "run": row.run, "figures": row.figures}
                    for row in self.rows
                ],
            }
        )


def sweep_plan(
    record: Record,
    vary: Mapping[str, Sequence[Any]] | Sequence[str],
    quality: str = "normal",
    *,
    workers: int | None = None,
    threads: int | None = None,
    cluster: str | None = None,
    runs: Path | str = "runs",
) -> SweepPlan:
    """The points of `sweep` and their cost; parameters and errors are those of `sweep`."""
    from simharness.runs.store import Store
    from simharness.sweep.execution import sweep_plan as points
    from simharness.sweep.points import Variable, variable

    variables = (
        [Variable(field, tuple(values)) for field, values in vary.items()]
        if isinstance(vary, Mapping)
        else [variable(text) for text in vary]
    )
    return SweepPlan(points(record, variables, quality), Store(runs), workers, threads, cluster)


def sweep(
    record: Record | SweepPlan,
    vary: Mapping[str, Sequence[Any]] | Sequence[str] = (),
    quality: str = "normal",
    *,
    workers: int | None = None,
    threads: int | None = None,
    cluster: str | None = None,
    runs: Path | str = "runs",
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> SweepResult:
    """Solve a record at many values of some fields: every point a stored run, and one table of all.

    All points are checked before the first is run. A stored run is not made again: after an interruption, or
    where a run failed, the same call goes on.

    Parameters
    ----------
    record : Record or SweepPlan
        With a plan from `simharness.library.sweep_plan` the other arguments but the last two are those of the
        plan.
    vary : mapping of str to sequence, or sequence of str
        Dotted names of fields and their values in the units of the record; or both as on the command line,
        ``"feed.height_mm=18:24:7"`` (start:stop:count). Several fields give all their combinations.
    quality : str
        How fine the mesh is: "draft", "normal" or "fine".
    workers, threads : int, optional
        Runs at once on this machine, and solver threads of each; as cores, runs and memory allow.
    cluster : str, optional
        Address of a Dask scheduler whose workers are to be used instead; they share the folder of the runs.
    runs : Path or str
        Folder of the stored runs.
    progress : Progress, optional
    cancel : threading.Event or callable, optional
        Asked whenever there is progress to tell: an event that is set, or a function that returns true, ends
        the sweep.

    Returns
    -------
    SweepResult
        Points that failed have the status "failed" or "lost", and a reason.

    Raises
    ------
    InputError
        A field or value is not allowed.
    CancelledError, MachineError, StoreError
        As `solve`; the runs made before stay stored.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> found = simharness.sweep(record, {"feed.height_mm": [6.0, 6.3, 6.6]}, "draft")  # doctest: +SKIP
    >>> [row.figures["s11_at_centre"].value for row in found.rows]  # doctest: +SKIP
    """
    from simharness.sweep.execution import sweep as solved

    if not isinstance(record, SweepPlan):
        record = sweep_plan(
            record, vary, quality, workers=workers, threads=threads, cluster=cluster, runs=runs
        )
    job, made_by = record, record.backend
    told = Cancellable(progress, cancel)
    return SweepResult(solved(job.points, job.store, made_by.events, made_by.threads, told))
