"""Runs that are stored: one of them opened, the list, and what is taken away."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from simharness.errors import BusyError, StoreError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simharness.library.solved_run import SolvedRun
    from simharness.progress import Progress
    from simharness.records import Record
    from simharness.runs.listing import RunSummary
    from simharness.runs.store import Store


def open_run(
    run: str | Path,
    *,
    runs: Path | str = "runs",
    quality: str | None = None,
    progress: Progress | None = None,
) -> SolvedRun:
    """Open a stored run.

    Parameters
    ----------
    run : str or Path
        The file of a record, the name of a record, or the name of a run or its beginning. Of several runs of
        one antenna the finest is taken, and `SolvedRun.remarks` says so.
    runs : Path or str
        Folder of the stored runs.
    quality : str, optional
        Take the run of this quality instead: "draft", "normal" or "fine".
    progress : Progress, optional
        Told what takes some seconds when advice is asked for.

    Returns
    -------
    SolvedRun

    Raises
    ------
    StoreError
        There is none, it failed, it is damaged, or it was made for no record.
    InputError
        The record does not hold, or the run is of another quality.

    Examples
    --------
    >>> import simharness
    >>> simharness.open_run("docs/four-slot-9g6.toml", runs="docs/runs")
    <SolvedRun four-slot-9g6-8ac674ebc42b45b2: draft mesh of four-slot-9g6>
    """
    from simharness.library.solved_run import SolvedRun
    from simharness.runs.lookup import asked_run
    from simharness.runs.store import Store

    found = asked_run(Store(runs), str(run), quality)
    if found.run.manifest.status == "failed":
        raise StoreError(f"run {found.run.path.name} failed: {found.run.manifest.reason}")
    if found.record is None:
        raise StoreError(
            f"run {found.run.path.name} holds no design record, so there is nothing to judge it by"
        )
    return SolvedRun(found.run, found.record, remarks=found.remarks, progress=progress)


def stored_record(run: str, *, runs: Path | str = "runs", quality: str | None = None) -> tuple[str, Record]:
    """Name of a stored run, a failed one too, and its record.

    Raises
    ------
    StoreError
        There is none, or it was made for no record.
    InputError
        The record does not hold, or the run is of another quality.
    """
    from simharness.runs.lookup import asked_run
    from simharness.runs.store import Store

    found = asked_run(Store(runs), run, quality)
    if found.record is None:
        raise StoreError(f"run {found.run.path.name} holds no design record, so there is none to give")
    return found.run.path.name, found.record


def runs(folder: Path | str = "runs", *, check: bool = False) -> list[RunSummary]:
    """List the stored runs, the oldest first; failed, damaged and unfinished ones too.

    Parameters
    ----------
    folder : Path or str
        Of the stored runs; an empty list where there is none.
    check : bool
        Hold every file against its checksum, not its size alone.

    Returns
    -------
    list of RunSummary
        `name`, `status`, `quality`, `worst_s11_db` (dB), `size` (bytes), `age` (s), `names` and more of each.

    Examples
    --------
    >>> import simharness
    >>> [(run.label, run.status, run.quality) for run in simharness.runs("docs/runs")]
    [('four-slot-9g6', 'finished', 'draft')]
    """
    import math

    from simharness.runs.store import Store

    return Store(folder).runs(math.inf if check else 0.0, unfinished=True)


def meant_runs(store: Store, names: Sequence[str]) -> list[RunSummary]:
    """The runs that some words mean, each once, in whatever state they are; for removal.

    Raises
    ------
    StoreError
        A name is unknown, or may mean several runs.
    BusyError
        One of them is being worked on.
    """
    from simharness.runs.listing import WORKING
    from simharness.runs.lookup import named_folder

    listed = store.runs(unfinished=True)
    busy = {run.key: run for run in listed if run.status == WORKING}
    meant = {}
    for words in names:
        under_way = [
            run for run in listed if run.folder.name.startswith(".work-") and words in (run.name, run.key)
        ]
        name = under_way[0].folder.name if under_way else named_folder(store, words)
        run = next((run for run in listed if run.folder.name == name), None)
        if run is None:
            raise StoreError(f"{name} is not a run folder of this program: it is left alone")
        if run.key in busy:
            raise BusyError(f"run {run.name} is being worked on {busy[run.key].reason}: nothing was removed")
        meant[name] = run
    return list(meant.values())
