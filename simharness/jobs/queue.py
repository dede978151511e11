"""The queue of long works beside a folder of runs, as whoever asks sees it."""

from __future__ import annotations

import contextlib
import math
import os
import secrets
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from simharness.errors import InputError, StoreError
from simharness.files import input_text, machine_errors, unled
from simharness.jobs.entry import GONE, entered, start_worker
from simharness.jobs.folder import (
    CANCEL,
    FORMAT,
    INTERIM,
    MAX_RESULT_BYTES,
    RECORD,
    RESULT,
    job_numbers,
    jobs_root,
    json_text,
    lost,
    read_job,
    stored_mapping,
    worker_alive,
)
from simharness.jobs.job import DAMAGED, FAILED, FINISHED, RUNNING, WAITING, Job
from simharness.jobs.options import full_options
from simharness.printable import is_printable
from simharness.records import Record, parse_record
from simharness.records.reading import MAX_BYTES, data_of_text
from simharness.runs.look import InterimMatch
from simharness.runs.manifest import utc_now

LONGEST_SOURCE = 200
"""Characters of what a record is called."""


class Queue:
    """Works that are waiting, under way or over, beside the stored runs.

    They are files: any number of processes may look and ask at once, and may end as they like. One process
    of its own does the works, one after the other; see `simharness.jobs.worker`.

    Parameters
    ----------
    runs : Path or str
        Folder of the stored runs; nothing is made there before a job is added.
    """

    def __init__(self, runs: Path | str = "runs"):
        self.runs = Path(runs).absolute()

    @property
    def alive(self) -> bool:
        """Whether the process is there that does the works."""
        return worker_alive(self.runs)

    def add(
        self, kind: str, record_text: str, source: str = "", options: Mapping[str, Any] | None = None
    ) -> Job:
        """Put a work at the end of the queue, and see to it that somebody does it.

        Parameters
        ----------
        kind : str
            "solve", "tune", "tolerance", "converge" or "sweep".
        record_text : str
            The record as TOML.
        source : str
            What it is called, mostly the name of its file; the name of the record without it.
        options : mapping, optional
            As of the function of the library; see `simharness.jobs.options.OPTIONS`.

        Raises
        ------
        InputError
            Kind, option or record is not allowed.
        MachineError
            The folder cannot be written, and nothing was added; or it was, and nobody could be started.
        """
        asked = full_options(kind, options or {})
        if not isinstance(source, str) or len(source) > LONGEST_SOURCE or not is_printable(source):
            raise InputError(
                "source", source, f"must be a text of at most {LONGEST_SOURCE} characters that can be shown"
            )
        record = read_text(record_text, source)
        _check_work(kind, record, asked)
        request = {
            "format": FORMAT,
            "kind": kind,
            "record": record.name,
            "source": source or record.name,
            "options": asked,
            "added": utc_now(),
        }
        number = entered(self.runs, json_text(request), record_text)
        self.resume()
        return self.job(number)

    def jobs(self, known: Sequence[Job] = ()) -> list[Job]:
        """All jobs, the first added first; those that are `known` to have ended are not read again."""
        ended = {job.number: job for job in known if job.state in (FINISHED, FAILED)}
        numbers = job_numbers(self.runs)
        found = [job for number in numbers if (job := ended.get(number) or read_job(self.runs, number))]
        return self._as_they_are(found)

    def job(self, number: int) -> Job:
        """One job; InputError where there is none of this number."""
        found = read_job(self.runs, number) if _is_number(number) else None
        if found is None:
            raise InputError("job", number, "there is no such job")
        return self._as_they_are([found])[0]

    def cancel(self, number: int) -> Job:
        """Have a job not begun, or ended as soon as it can; InputError where it has ended."""
        job = self.job(number)
        if job.over:
            raise InputError("job", number, f"is {job.state}, so there is nothing to cancel")
        with machine_errors(f"write {job.folder}"):
            os.close(unled(str(job.folder / CANCEL), os.O_WRONLY | os.O_CREAT))
        return self.job(number)

    def forget(self, number: int) -> None:
        """Remove a job that is over, for good; what it stored among the runs stays."""
        job = self.job(number)
        if not job.over:
            raise InputError("job", number, f"is {job.state}: cancel it first")
        gone = jobs_root(self.runs) / f"{GONE}{number}-{secrets.token_hex(4)}"
        with machine_errors(f"remove {job.folder}"), contextlib.suppress(FileNotFoundError):
            if job.folder.is_symlink() or not job.folder.is_dir():
                job.folder.unlink()
                return
            os.rename(job.folder, gone)
            shutil.rmtree(gone)

    def again(self, number: int) -> Job:
        """Add a job like one that is over; what is stored already is not made again."""
        job = self.job(number)
        if not job.over:
            raise InputError("job", number, f"is {job.state}: it need not be started again")
        if job.state == DAMAGED:
            raise StoreError(job.text)
        return self.add(job.kind, self.record_text(number), job.source, job.options)

    def record_text(self, number: int) -> str:
        """The record of a job as TOML."""
        return input_text("record", self.job(number).folder / RECORD, MAX_BYTES, "TOML file")

    def result(self, number: int) -> dict[str, Any] | None:
        """What came out, see `simharness.jobs.works.Outcome.as_dict`; None where nothing has yet."""
        return stored_mapping(self.job(number).folder / RESULT, MAX_RESULT_BYTES)

    def interim(self, number: int) -> InterimMatch | None:
        """S11 of the run under way, or of the last one; None where none was looked at."""
        import numpy as np

        found = stored_mapping(self.job(number).folder / INTERIM)
        if found is None:
            return None
        try:
            f, re, im = (np.array(found[name], float) for name in ("frequency_hz", "s11_re", "s11_im"))
            moving = math.inf if found["moving"] is None else float(found["moving"])
        except (KeyError, TypeError, ValueError, OverflowError):
            f, re, im, moving = np.zeros(0), np.zeros(0), np.zeros(0), math.inf
        fits = f.ndim == 1 and f.size and f.shape == re.shape == im.shape
        if not fits or not np.isfinite([f, re, im]).all():
            raise StoreError(f"job {number} is damaged: {INTERIM} holds no curve")
        return InterimMatch(f, re + 1j * im, moving)

    def resume(self) -> bool:
        """Start the process that does the works where some are waiting and it is not there; whether it was
        started."""
        if self.alive or all(job.state != WAITING for job in self.jobs()):
            return False
        start_worker(self.runs)
        return True

    def _as_they_are(self, jobs: list[Job]) -> list[Job]:
        """The jobs, those found out whose worker is gone; to be asked after they were read."""
        if all(job.state not in (RUNNING, WAITING) for job in jobs) or self.alive:
            return jobs
        found = []
        for job in jobs:
            # It may have ended between the look at it and that at the worker.
            now = (read_job(self.runs, job.number) or job) if job.state == RUNNING else job
            if now.state == WAITING:
                now = replace(now, text="waiting, and nobody is at work on the queue")
            found.append(lost(now) if now.state == RUNNING else now)
        return found


def read_text(text: str, source: str) -> Record:
    """The record in a text from outside; InputError where there is none."""
    if not isinstance(text, str) or len(text.encode("utf-8", "replace")) > MAX_BYTES:
        raise InputError("record", source or "record", f"must be a text of at most {MAX_BYTES} bytes")
    return parse_record(data_of_text(text, source or "record"), source or "record")


def _check_work(kind: str, record: Record, options: Mapping[str, Any]) -> None:
    """Refuse at once what can be seen at once, not when its turn has come."""
    if kind == "tune":
        from simharness.tuning.variables import tuning_variables

        tuning_variables(record, options["also"])
    elif kind == "sweep":
        from simharness.sweep.points import sweep_points, variable

        sweep_points(record, [variable(text) for text in options["vary"]])
    elif kind == "tolerance" and not record.slots:
        raise InputError("record", record.name, "has no slots, so there are no tolerances to find")


def _is_number(number: Any) -> bool:
    return isinstance(number, int) and not isinstance(number, bool) and 0 < number < 10**9
