"""The files of a queue: read as if somebody else had made them, written in one step.

Below the folder of the runs:

    .jobs/0007/request.json     what is wanted; with the record this is all that a waiting job has
    .jobs/0007/record.toml      the record as it was when the job was added
    .jobs/0007/status.json      how far it is, or how it ended
    .jobs/0007/interim.json     S11 of the run under way
    .jobs/0007/result.json      what came out
    .jobs/0007/cancel           is there when it shall stop
    .jobs/.worker               the lock of the process that does the jobs
    .jobs/worker.log            what that process had to say
"""

from __future__ import annotations

import json
import math
import os
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from simharness.errors import InputError, StoreError
from simharness.files import UnreadableError, content, machine_errors
from simharness.jobs.job import CANCELLED, CUT_SHORT, DAMAGED, LOST, RUNNING, STATES, WAITING, Job
from simharness.jobs.options import full_options
from simharness.printable import printable
from simharness.runs.lock import holder

JOBS_FOLDER = ".jobs"
REQUEST, RECORD, STATUS = "request.json", "record.toml", "status.json"
INTERIM, RESULT, CANCEL = "interim.json", "result.json", "cancel"
WORKER_LOCK, WORKER_LOG = ".worker", "worker.log"

FORMAT = "simharness-job"

MAX_BYTES = 1_000_000
"""Of a request, a status or an interim S11: ten times what it has."""

MAX_RESULT_BYTES = 30_000_000

LONGEST_TEXT = 2000
"""Characters of a text of a job that are shown."""

MOST_NOTES = 50

_NUMBER = re.compile(r"[0-9]{4,9}")


def jobs_root(runs: Path) -> Path:
    """Where the jobs beside some runs lie."""
    return runs / JOBS_FOLDER


def job_folder(runs: Path, number: int) -> Path:
    """The folder of a job."""
    return jobs_root(runs) / f"{number:04d}"


def job_numbers(runs: Path) -> list[int]:
    """Numbers of the jobs that are there, in order; none where there is no queue yet."""
    root = jobs_root(runs)
    with machine_errors(f"read {root}"):
        try:
            names = os.listdir(root)
        except FileNotFoundError:
            return []
    numbers = {int(name) for name in names if _NUMBER.fullmatch(name)}
    return sorted(number for number in numbers if job_folder(runs, number).name in names)


def worker_alive(runs: Path) -> bool:
    """Whether a process does the jobs beside some runs."""
    path = jobs_root(runs) / WORKER_LOCK
    with machine_errors(f"read {path}"):
        return holder(path) is not None


def read_job(runs: Path, number: int) -> Job | None:
    """A job as its files tell it, whoever works on it; None where there is none."""
    folder = job_folder(runs, number)
    if not os.path.lexists(folder):
        return None
    try:
        if folder.is_symlink() or not folder.is_dir():
            raise ValueError("it is no folder")
        return _read(folder, number)
    except (UnreadableError, InputError, ValueError, TypeError, KeyError, OverflowError) as error:
        reason = f"the request lacks {error}" if isinstance(error, KeyError) else str(error)
        if not os.path.lexists(folder):
            return None  # it was forgotten meanwhile
        text = printable(f"job {number} is damaged: {reason}"[:LONGEST_TEXT], keep="")
        return Job(number, state=DAMAGED, text=text, folder=folder)


def _read(folder: Path, number: int) -> Job:
    request = mapping(folder / REQUEST)
    if request["format"] != FORMAT:
        raise ValueError(f"{REQUEST} is not of this program")
    kind = _text(request["kind"])
    job = Job(
        number,
        kind,
        _text(request["record"]),
        _text(request["source"]),
        full_options(kind, _table(request["options"])),
        added=_moment(request["added"]),
        folder=folder,
    )
    asked_to_stop = (folder / CANCEL).exists()
    if not (folder / STATUS).exists():
        if not asked_to_stop:
            return replace(job, text="waiting")
        return replace(job, state=CANCELLED, text="cancelled before it had begun", exit_code=130)
    status = mapping(folder / STATUS)
    state = status["state"]
    if state not in STATES or state in (WAITING, DAMAGED):
        raise ValueError(f"{STATUS} tells of no known state")
    notes = status.get("notes", [])
    if not isinstance(notes, list):
        raise ValueError(f"the notes in {STATUS} are no list")
    code = status.get("exit_code")
    return replace(
        job,
        state=state,
        share=min(max(_number(status.get("share", 0.0)), 0.0), 1.0),
        seconds_left=None if status.get("seconds_left") is None else _number(status["seconds_left"]),
        text=_text(status.get("text", "")),
        notes=tuple(_text(note) for note in notes[-MOST_NOTES:]),
        started=_moment(status.get("started", "")),
        ended=_moment(status.get("ended", "")),
        exit_code=None if code is None else int(_number(code)),
        cancelling=asked_to_stop and state == RUNNING,
        looks=int(_number(status.get("looks", 0))),
    )


def lost(job: Job) -> Job:
    """A job that nobody works on any more though it had been begun."""
    return replace(job, state=LOST, text=CUT_SHORT, seconds_left=None, exit_code=1, cancelling=False)


def mapping(path: Path, most: int = MAX_BYTES) -> dict[str, Any]:
    """The JSON object in a file.

    Raises
    ------
    ValueError, UnreadableError
        There is none.
    """
    try:
        found = json.loads(content(path, most))
    except UnreadableError as error:
        raise ValueError(f"{path.name} cannot be read ({error})") from None
    except (ValueError, RecursionError):
        raise ValueError(f"{path.name} is no JSON") from None
    return _table(found)


def stored_mapping(path: Path, most: int = MAX_BYTES) -> dict[str, Any] | None:
    """As `mapping`, of a file that need not be there; StoreError where it is damaged."""
    if not path.exists():
        return None
    try:
        return mapping(path, most)
    except ValueError as error:
        raise StoreError(f"job {path.parent.name} is damaged: {error}") from None


def json_text(value: Mapping[str, Any]) -> str:
    """A table as JSON for a file."""
    return json.dumps(value, ensure_ascii=True, allow_nan=False) + "\n"


def _table(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise ValueError("there is no table where one is needed")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError("there is no text where one is needed")
    return printable(value[:LONGEST_TEXT])


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise ValueError("there is no number where one is needed")
    return float(value)


def _moment(value: Any) -> str:
    """A time that can be reckoned with, or nothing."""
    text = _text(value)
    if text and datetime.fromisoformat(text).tzinfo is None:
        raise ValueError("a time lacks its zone")
    return text


def moment_of(path: Path) -> str:
    """When a file was changed, ISO 8601 in UTC; empty where there is none."""
    try:
        return datetime.fromtimestamp(path.stat().st_mtime, UTC).isoformat(timespec="seconds")
    except OSError:
        return ""
