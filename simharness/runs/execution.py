"""From a plan to a finished run or an error."""

from __future__ import annotations

import contextlib
import json
import platform
import shutil
import time
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

import numpy as np

import simharness
from simharness.errors import InputError, MachineError, NotConvergedError, SolverError
from simharness.files import atomic_write_text, machine_errors
from simharness.progress import Progress, Silent
from simharness.records import Record, parse_record
from simharness.results.settling import Settling, require_settled
from simharness.runs.manifest import PROVENANCE_NAME, RECORD_NAME, RESULTS_NAME, Run, plain_record
from simharness.runs.planning import Plan
from simharness.runs.store import Store
from simharness.runs.watch import End, run_child
from simharness.runs.writer import RunWriter, stored_names
from simharness.solver.files import clear_engine, read_raw
from simharness.solver.process import Cancel, nothing


def solve(
    what: Plan,
    store: Store,
    record: Record | None = None,
    *,
    label: str = "",
    again: bool = False,
    timeout_s: float | None = None,
    progress: Progress | None = None,
    meanwhile: Callable[[], float | None] = nothing,
    named: bool = False,
    cancel: Cancel | None = None,
) -> Run:
    """The finished run of a plan: the stored one at once, or a new one.

    Parameters
    ----------
    what : Plan
        From `planning.plan` or `planning.record_plan`.
    store : Store
        Where runs are kept.
    record : Record, optional
        Of the antenna, kept with a new run.
    label : str
        Beginning of the name of a new run; the name of the scene by default.
    again : bool
        Solve even if the run is there; the old one is replaced when the new one is finished.
    timeout_s : float, optional
        Wall-clock allowance; three times the longest expected time by default, at least ten minutes.
    progress : Progress, optional
        Told how far the run is; silent by default.
    meanwhile : callable
        Called once when the solver has begun: short work of the caller that need not wait for the result.
        What it returns, if anything, is a better forecast: periods after the pulse (`Plan.predicted`). Not
        called for a stored run.
    named : bool
        Whether the run shall be found by the name of the record from now on: it was asked for by a person,
        as it is.
    cancel : threading.Event or callable, optional
        Asked ten times a second while the solver runs whether to stop it: set, or true, it ends in
        CancelledError.

    Returns
    -------
    Run
        Its results are read when they are asked for.

    Raises
    ------
    SolverError, NotConvergedError, CancelledError, BusyError, StoreError, MachineError
        A failed or unconverged run is kept as such and never found as a result.
    """
    progress = progress or Silent()
    label = label or what.request.scene.name
    found = None if again else store.find(what.key)
    if found is None:
        store.clear_stale()
        # A process may have been killed just before its run got its name.
        found = None if again else store.find(what.key)
    if found is not None:
        _keep_name(store, what.key, record if named else None, progress)
        return found
    with store.writer(what.key, label, replace=again) as writer:
        started = time.time()
        try:
            _solve_in(writer, what, record, progress, timeout_s, started, meanwhile, cancel)
        except (SolverError, NotConvergedError) as error:
            clear_engine(writer.path)
            writer.fail(str(error))
            raise
        finally:
            progress.done()
        _keep_name(store, what.key, record if named else None, progress)
        return writer.finalize("finished")


def _keep_name(store: Store, key: str, record: Record | None, progress: Progress) -> None:
    """Let a run be found by the name of a record, where there is one; where that cannot be written, say
    so."""
    if record is not None:
        try:
            store.remember(key, record)
        except MachineError as error:
            progress.note(f"the run will not be found by the name {record.name}: {error}")


def _solve_in(
    writer: RunWriter,
    what: Plan,
    record: Record | None,
    progress: Progress,
    timeout_s: float | None,
    started: float,
    meanwhile: Callable[[], float | None],
    cancel: Cancel | None,
) -> None:
    """Run the child in the folder of a writer and leave a complete result there."""
    from simharness.results.outputs import write_results

    request, folder = what.request, writer.path
    with machine_errors(f"write {folder}"):
        if record is not None:
            own = _replaced_record(writer) or record
            atomic_write_text(
                folder / RECORD_NAME, own.model_dump_json(by_alias=True, indent=2, exclude_none=True)
            )

    def beside() -> float | None:
        """Load what takes a while and is not needed before the solver has ended; then the caller's work."""
        import_module("simharness.results.post")
        return meanwhile()

    end, arrays, settling = _settled(
        folder, what, progress, timeout_s or max(600.0, 3 * what.most_seconds), beside, cancel
    )
    require_settled(settling, end.steps, request.settings.settled)
    time_step = end.time_step or request.grid.time_step
    provenance = {
        "simharness": simharness.__version__,
        "solver": what.solver,
        "python": platform.python_version(),
        "threads": what.threads,
        "cells": what.cells,
        "steps": end.steps,
        "pec_edges": end.pec_edges,
        "engine_seconds": round(end.engine_seconds, 2),
        "solver_seconds": round(end.seconds, 2),
        "total_seconds": round(time.time() - started, 2),
        "settling": settling.method,
        "change_s": settling.change,
        "field_missing": settling.missing,
        "field_uneven": settling.uneven,
        "mesh_moved_m": request.grid.moved,
        "mesh_ratio": request.grid.largest_ratio,
        "time_step_s": time_step,
        "periods_after_pulse": round(
            (end.steps * time_step - request.pulse_length) * request.scene.spectrum.centre, 1
        ),
        "feed": type(request.scene.ports[0]).__name__,
        **({"quality": what.quality} if what.quality else {}),
        **what.notes,
    }
    if record is not None:
        # Not before the solver has started: it loads what takes a while.
        from simharness.results.match import worst_in_band

        provenance["worst_s11_db"] = worst_in_band(record, arrays)[1]  # for the list of runs
    with machine_errors(f"write {folder}"):
        write_results(folder / RESULTS_NAME, arrays, provenance)
        atomic_write_text(folder / PROVENANCE_NAME, json.dumps(provenance, indent=2))
        _write_touchstone(folder, arrays, writer.label)
    clear_engine(folder)


def _replaced_record(writer: RunWriter) -> Record | None:
    """The record of the run that a writer is about to replace: the new run keeps it, whoever asked for it."""
    for name in stored_names(writer.root, writer.key):
        with contextlib.suppress(InputError):
            return parse_record(plain_record(writer.root / name))
    return None


def _settled(
    folder: Path,
    what: Plan,
    progress: Progress,
    timeout_s: float,
    meanwhile: Callable[[], float | None],
    cancel: Cancel | None = None,
) -> tuple[End, dict[str, np.ndarray], Settling]:
    """End, result arrays and settling of a child that ran long enough.

    A look at a part of the record may call settled what the whole record shows is not. Such a run is made
    again, and looked at no sooner than after twice as many steps.
    """
    not_before = 0
    while True:
        end = run_child(folder.resolve(), what, progress, timeout_s, meanwhile, not_before, cancel)
        from simharness.results.post import results  # loaded by now: `meanwhile` did it beside the solver

        series, fields = _raw(folder / "raw.h5", end.steps * (end.time_step or what.request.grid.time_step))
        arrays, settling = results(what.request, series, fields)
        if settling.method in ("record", "tail") or max(end.steps, not_before) >= what.request.steps:
            return end, arrays, settling
        progress.note(
            f"stopped too soon: after {end.steps} steps S11 still moves by {settling.change:.2g}; "
            "again, for longer"
        )
        not_before = 2 * max(end.steps, not_before)
        shutil.rmtree(folder / "engine", ignore_errors=True)
        (folder / "raw.h5").unlink()


def _raw(path: Path, duration: float) -> tuple[dict, dict]:
    """Series and fields of a raw record that is whole, finite and reaches to the end of the run (s)."""
    try:
        series, fields = read_raw(path)
    except (OSError, KeyError) as error:
        raise SolverError(f"the solver left a record that cannot be read ({error})") from error
    arrays = [*series.values(), *(field for _, field in fields.values())]
    if not all(np.isfinite(values).all() for values in arrays):
        raise SolverError("the fields blew up: the record holds values that are no numbers")
    reach = min((values[0, -1] if values.size else 0.0 for values in series.values()), default=0.0)
    # Samples lie a few dozen steps apart; a record that lacks a tenth was cut off, by a full disk for one.
    if reach < 0.9 * duration:
        raise SolverError(
            f"the solver's record ends at {reach * 1e9:.3g} ns of {duration * 1e9:.3g} ns: is the disk full?"
        )
    return series, fields


def _write_touchstone(folder: Path, arrays: dict, name: str) -> None:
    """S11 as a Touchstone one-port; of a two-port, its reflection with the other port matched."""
    from simharness.results.match import one_port

    comments = f"simulated, simharness {simharness.__version__}"
    network = one_port(arrays["frequency"], arrays["s11"], name, comments=comments)
    with machine_errors(f"write {folder}"):
        network.write_touchstone(name, dir=str(folder), form="ri")
