"""Where the runs of a sweep are made: processes on this machine, at most one per core, or a Dask cluster."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from simharness.errors import InputError
from simharness.solver.machine import memory_available, usable_cores
from simharness.sweep.cluster import cluster_events
from simharness.sweep.execution import SweepPlan, Workers
from simharness.sweep.local import local_events


@dataclass(frozen=True)
class Backend:
    """What makes the runs of a sweep.

    Attributes
    ----------
    workers : int or None
        Number of runs at once; None where the cluster decides.
    threads : int
        Solver threads in each run.
    events : function
        See `Workers`.
    description : str
        For the user.
    """

    workers: int | None
    threads: int
    events: Workers
    description: str


def backend_for(
    plan: SweepPlan, missing: Mapping[str, int], workers: int | None, threads: int | None, cluster: str | None
) -> Backend:
    """The backend for the runs yet to be made, as requested or as this machine allows.

    Parameters
    ----------
    workers, threads : int or None
        See `worker_threads`.
    cluster : str or None
        Address of a Dask scheduler; its workers use one solver thread per run unless `threads` is given.

    Raises
    ------
    InputError
        More is requested than there are cores.
    """
    if cluster:
        threads = threads or 1
        return Backend(
            None,
            threads,
            partial(cluster_events, address=cluster),
            f"the Dask workers of {cluster}, {counted(threads, 'solver thread')} a run",
        )
    count, each = worker_threads(workers, threads, max(len(missing), 1))
    fit = workers_in_memory([plan.plans[i].memory for i in missing.values()], count)
    if fit < count:
        count, each = worker_threads(fit, threads, fit)
    description = f"{counted(count, 'worker')} with {counted(each, 'solver thread')}{' each' * (count > 1)}"
    return Backend(count, each, partial(local_events, workers=count), description)


def worker_threads(
    workers: int | None, threads: int | None, runs: int, cores: int | None = None
) -> tuple[int, int]:
    """Number of workers and solver threads of each, never more together than there are cores.

    Parameters
    ----------
    workers, threads : int or None
        As requested; None: as many workers as cores and runs allow, and as many threads as remain for each.
    runs : int
        Runs to be made.
    cores : int, optional
        Cores that may be used; those of this process by default.

    Raises
    ------
    InputError
        More is requested than there are cores.

    Examples
    --------
    >>> worker_threads(None, None, 8, cores=4), worker_threads(None, None, 2, cores=4)
    ((4, 1), (2, 2))
    >>> worker_threads(3, None, 8, cores=4), worker_threads(None, 2, 8, cores=4)
    ((3, 1), (2, 2))
    """
    cores = cores or usable_cores()
    if workers is not None and workers > cores:
        raise InputError("--workers", workers, f"this machine has {counted(cores, 'usable core')}")
    if threads is not None and threads * (workers or 1) > cores:
        raise InputError(
            "--threads",
            threads,
            f"with {counted(workers or 1, 'worker')} the {cores} usable cores of this machine allow "
            f"{cores // (workers or 1)}",
        )
    workers = workers or max(1, min(cores // (threads or 1), runs))
    return workers, threads or cores // workers


def workers_in_memory(needs: list[int], workers: int) -> int:
    """Number of workers for which free memory suffices even when the largest runs coincide.

    Parameters
    ----------
    needs : list of int
        Memory of each run, bytes.
    workers : int
        As many as are wanted; the result is this or less, at least 1.
    """
    free = memory_available()
    largest = sorted(needs, reverse=True)
    return next((n for n in range(workers, 1, -1) if sum(largest[:n]) <= free), 1)


def counted(number: int, thing: str) -> str:
    """A number and what it counts.

    Examples
    --------
    >>> counted(1, "worker"), counted(2, "run")
    ('1 worker', '2 runs')
    """
    return f"{number} {thing}{'s' * (number != 1)}"
