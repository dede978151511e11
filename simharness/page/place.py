"""Where the page reads and writes: one folder of records, one of runs, and nothing else."""

from __future__ import annotations

import socket
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from simharness.errors import InputError, MachineError

if TYPE_CHECKING:
    from simharness.library.solved_run import SolvedRun


@dataclass(frozen=True)
class Place:
    """The folders of the page.

    Attributes
    ----------
    records : Path
        Absolute; design records, sheets and reports.
    runs : Path
        Absolute; stored runs and the queue.
    first : Path or None
        The record to begin with.
    """

    records: Path
    runs: Path
    first: Path | None = None

    @classmethod
    def of(cls, record: Path | None, runs: Path) -> Place:
        """The place of a record, or of the present folder without one.

        Raises
        ------
        InputError
            There is no such record.
        """
        if record is not None and not record.is_file():
            raise InputError("RECORD", record, "there is no such file")
        records = (record.parent if record is not None else Path()).resolve()
        return cls(records, runs.resolve(), record.resolve() if record is not None else None)

    def record_files(self) -> list[Path]:
        """The record files of the folder, by name."""
        try:
            return sorted(path for path in self.records.glob("*.toml") if path.is_file())
        except OSError:
            return []

    def judged_run(self, name: str) -> SolvedRun:
        """A stored run, read and judged here and not where it is drawn."""
        from simharness import open_run

        run = open_run(name, runs=self.runs)
        _ = run.figures
        return run

    def usual_port(self) -> int:
        """A port that is the same whenever the page is served from these folders, so that a browser finds
        what it keeps for the page."""
        return 20_000 + zlib.crc32(f"{self.records}\n{self.runs}".encode()) % 20_000


def listening_socket(wanted: int | None, usual: int) -> socket.socket:
    """A socket of this machine only, at the port wanted, or at the usual one, or where there is room.

    Raises
    ------
    MachineError
        The port wanted is taken.
    """
    for port in (wanted,) if wanted else (usual, 0):
        found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind(("127.0.0.1", port))
            found.listen(64)
        except OSError as error:
            found.close()
            if wanted:
                raise MachineError(f"port {wanted} cannot be used: {error.strerror}") from error
            continue
        return found
    raise MachineError("no port of this machine is free")
