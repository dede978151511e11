"""One job as whoever looks sees it."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

WAITING, RUNNING, FINISHED, FAILED = "waiting", "running", "finished", "failed"
CANCELLED, LOST, DAMAGED = "cancelled", "lost", "damaged"

STATES = (WAITING, RUNNING, FINISHED, FAILED, CANCELLED, LOST, DAMAGED)
ENDED = (FINISHED, FAILED, CANCELLED, LOST, DAMAGED)

CUT_SHORT = "its worker ended while it was at work; nothing half done counts: start it again"


@dataclass(frozen=True)
class Job:
    """A job of a queue at one moment.

    Attributes
    ----------
    number : int
        By which it is asked for; never given twice in one folder of runs.
    kind : str
        A key of `simharness.jobs.options.OPTIONS`; empty where the folder is damaged.
    record : str
        Name of the record.
    source : str
        What the record was called by whoever asked: mostly the name of its file.
    options : dict
        All of them, as `full_options` gives them.
    state : str
        One of `STATES`.
    share : float
        Done, 0 to 1.
    seconds_left : float or None
        As believed when it was last told, s.
    text : str
        What is being done, or how it ended.
    notes : tuple of str
        The last things worth keeping.
    added, started, ended : str
        ISO 8601 in UTC; empty where it has not come to that.
    exit_code : int or None
        That of the command of the same name; None while it has not ended.
    cancelling : bool
        Whether it was asked to stop and has not stopped yet.
    looks : int
        How many times S11 of a run under way was looked at; see `simharness.jobs.queue.Queue.interim`.
    folder : Path
        Where all of it lies.
    """

    number: int
    kind: str = ""
    record: str = ""
    source: str = ""
    options: dict[str, Any] = field(default_factory=dict)
    state: str = WAITING
    share: float = 0.0
    seconds_left: float | None = None
    text: str = ""
    notes: tuple[str, ...] = ()
    added: str = ""
    started: str = ""
    ended: str = ""
    exit_code: int | None = None
    cancelling: bool = False
    looks: int = 0
    folder: Path = field(default=Path(), repr=False)

    @property
    def over(self) -> bool:
        """Whether nothing more will come of it."""
        return self.state in ENDED
