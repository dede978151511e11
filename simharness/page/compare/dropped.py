"""A measured file that was dropped on the page: what it is, and what a comparison finds.

Its name is only ever shown.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath, PureWindowsPath

from simharness.errors import HarnessError, InputError, MachineError
from simharness.files import atomic_write_bytes
from simharness.printable import quoted

LARGEST = 2_000_000
"""Bytes of a file that is taken."""

ONE_PORT, LEVELS = "one-port", "levels"
_TABLES = (".csv", ".txt", ".tsv", ".dat")


def too_large(name: str) -> str:
    """The sentence about a file that is too large."""
    return f"measured file = {quoted(name)}: must be at most {LARGEST // 1_000_000} MB"


@dataclass(frozen=True)
class Dropped:
    """A file in memory.

    Attributes
    ----------
    name : str
        Its last part, safe to show and never a path.
    kind : str
        `ONE_PORT` or `LEVELS`.
    data : bytes
    """

    name: str
    kind: str
    data: bytes = field(repr=False)


@contextlib.contextmanager
def called(kept: Path, file: Dropped) -> Iterator[None]:
    """The file stands at a path within; what is said of it calls it as its owner does."""
    try:
        atomic_write_bytes(kept, file.data)
        yield
    except MachineError:
        raise
    except HarnessError as error:
        raise DroppedFileError(str(error).replace(str(kept), file.name)) from None


class DroppedFileError(HarnessError):
    """What is wrong with a dropped file, or with what it is held against."""


def dropped(name: str, data: bytes, table: str = "a table of levels") -> Dropped:
    """What was dropped, by its name; `table` is what else but a one-port is wanted.

    Raises
    ------
    InputError
        It is too large, or of no known kind.

    Examples
    --------
    >>> dropped("../../etc/<b>.S1P", b"")
    Dropped(name='<b>.S1P', kind='one-port')
    """
    last = PureWindowsPath(PurePosixPath(name).name).name
    shown = quoted(last)
    if len(data) > LARGEST:
        raise InputError("measured file", shown, f"must be at most {LARGEST // 1_000_000} MB")
    ending = PurePosixPath(last).suffix.lower()
    if ending == ".s1p":
        return Dropped(shown, ONE_PORT, data)
    if ending in _TABLES:
        return Dropped(shown, LEVELS, data)
    raise InputError(
        "measured file",
        shown,
        f"must be a Touchstone one-port (.s1p) or {table} ({', '.join(_TABLES)})",
    )


@dataclass(frozen=True)
class Answer:
    """What a comparison found, as plain texts.

    Attributes
    ----------
    title : str
    head : tuple of str
    rows : tuple of tuple of str
    sentences : tuple of str
    picture : bytes
        PNG.
    """

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    sentences: tuple[str, ...]
    picture: bytes = field(repr=False)
