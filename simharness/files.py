"""Reading files that others made, and writing files so that a reader never sees half of one.

What is read must be a regular file of reasonable size: a device or a named pipe may have no
end, or wait for ever. A file is replaced, never edited in place: its new content goes to a
temporary neighbour, is forced to the disk and takes the old name in one step.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path

from simharness.errors import InputError, MachineError

_REASONS: dict[int | None, str] = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EFBIG: "the file-size limit of this account is reached",
    errno.EROFS: "the file system is read-only",
    errno.EACCES: "permission is denied",
    errno.EPERM: "permission is denied",
    errno.EIO: "the disk reports an input/output error",
    errno.ENOTDIR: "a part of the path is a file, not a folder",
    errno.EISDIR: "it is a folder",
    errno.EEXIST: "a file stands where a folder is needed",
    errno.ENOLCK: "the file system does not support locks",
    errno.ELOOP: "it is a link",
    errno.ENXIO: "it is a device or a pipe",
    errno.ENAMETOOLONG: "the name is too long for the file system",
    errno.EMFILE: "too many files are open",
    errno.ENFILE: "too many files are open on this machine",
}


@contextlib.contextmanager
def machine_errors(doing: str) -> Iterator[None]:
    """Turn operating-system refusals inside the block into one sentence.

    Parameters
    ----------
    doing : str
        What the block does, in the infinitive, e.g. ``"write /runs/a.json"``.

    Raises
    ------
    MachineError
        For a full or read-only disk, missing permission and the like. Other
        ``OSError`` s (a vanished file, for one) pass unchanged.

    Examples
    --------
    >>> with machine_errors("write a.json"):
    ...     raise OSError(errno.ENOSPC, "No space left on device")
    Traceback (most recent call last):
    ...
    simharness.errors.MachineError: cannot write a.json: the disk is full
    """
    try:
        yield
    except OSError as exc:
        reason = _REASONS.get(exc.errno)
        if reason is None:
            raise
        raise MachineError(f"cannot {doing}: {reason}") from exc


UNLED = os.O_NOFOLLOW | os.O_NONBLOCK | os.O_NOCTTY | os.O_CLOEXEC
"""How a file is opened whose name is known beforehand, in a folder that may come from elsewhere: a link that
stands in its place does not lead to a file of the user's, and a pipe does not wait."""


class UnreadableError(Exception):
    """A file is not read; the message says why in a few words."""


def content(path: Path | str, most: int) -> bytes:
    """The whole content of a regular file.

    Parameters
    ----------
    path : Path or str
    most : int
        Bytes that it may have.

    Raises
    ------
    UnreadableError
        There is no such file, it may not be read, is a folder, a pipe or a device, or has more bytes.
    """
    try:
        with open(path, "rb", opener=_unwaiting) as stream:
            _check(os.fstat(stream.fileno()), most)
            # The size may be a lie (as in /proc), and the file may grow.
            data = stream.read(most + 1)
    except OSError as error:
        raise UnreadableError(_REASONS.get(error.errno) or error.strerror or str(error)) from None
    except ValueError as error:  # a NUL in the name
        raise UnreadableError(str(error)) from None
    if len(data) > most:
        raise UnreadableError(f"it has more than the {_size(most)} that are read")
    return data


def check_regular(path: Path | str, most: int) -> None:
    """Raise UnreadableError for what is no regular file of at most `most` bytes, OSError where nothing is."""
    _check(os.stat(path), most)


def _unwaiting(name: str, flags: int) -> int:
    """Opens a file without waiting for the other end of a pipe and without taking over a terminal."""
    return os.open(name, flags | os.O_NONBLOCK | os.O_NOCTTY)


def unled(name: str, flags: int) -> int:
    """An opener for `open`; see `UNLED`."""
    return os.open(name, flags | UNLED, 0o666)


def _check(found: os.stat_result, most: int) -> None:
    if not stat.S_ISREG(found.st_mode):
        raise UnreadableError("it is a folder" if stat.S_ISDIR(found.st_mode) else "it is a device or a pipe")
    if found.st_size > most:
        raise UnreadableError(f"it has {_size(found.st_size)}, at most {_size(most)} are read")


def input_bytes(what: str, path: Path | str, most: int, kind: str = "file") -> bytes:
    """Content of a file that the user names.

    Parameters
    ----------
    what : str
        What it is to the user, as in an `InputError`.
    path : Path or str
    most : int
        Bytes that it may have.
    kind : str
        What it must be.

    Raises
    ------
    InputError
        See `content`.
    """
    try:
        return content(path, most)
    except UnreadableError as error:
        raise InputError(what, path, f"must be a readable {kind} ({error})") from None


def input_text(what: str, path: Path | str, most: int, kind: str = "text file") -> str:
    """Text (UTF-8, with or without a mark in front) of a file that the user names; see `input_bytes`."""
    return decoded(what, path, input_bytes(what, path, most, kind), kind)


def decoded(what: str, path: Path | str, data: bytes, kind: str = "text file") -> str:
    """Text of the content of a file that the user names; InputError where it is none."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(what, path, f"must be a readable {kind} (it is not UTF-8 text)") from None


def _size(count: int) -> str:
    """Bytes in words; what just exceeds a limit is not rounded down to it."""
    return f"{count} bytes" if count < 100_000 else f"{count / 1e6:.4g} MB"


def sync_folder(path: Path) -> None:
    """Force the names inside a folder to the disk."""
    handle = os.open(path, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_file(path: Path) -> None:
    """Force the content of one file to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def atomic_write_bytes(path: Path | str, content: bytes | memoryview) -> None:
    """Replace a file by new content in one step.

    Parameters
    ----------
    path : Path or str
        The file; its folder must exist.
    content : bytes or memoryview
        The whole new content.

    Raises
    ------
    MachineError
        When the machine refuses the writing; the old file is then untouched
        and no temporary file is left.
    """
    path = Path(path)
    temporary = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    with machine_errors(f"write {path}"):
        try:
            with open(temporary, "wb", opener=unled) as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            os.replace(temporary, path)
        except BaseException:
            with contextlib.suppress(OSError):
                temporary.unlink()
            raise
        sync_folder(path.parent)


def atomic_write_text(path: Path | str, text: str) -> None:
    """Replace a text file (UTF-8) in one step; see `atomic_write_bytes`."""
    atomic_write_bytes(path, text.encode("utf-8"))


def file_sha256(path: Path) -> str:
    """SHA-256 of a file's content, as 64 hexadecimal digits."""
    with open(path, "rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
