"""Where a record may be saved, and what of a browser's draft can be taken."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from simharness.errors import InputError
from simharness.files import UnreadableError, content

_ENDING = ".toml"
_SHA = re.compile(r"[0-9a-f]{64}")


def file_name(name: str) -> str:
    """The name, where a record of this name can be saved under it.

    Raises
    ------
    InputError

    Examples
    --------
    >>> file_name("my-antenna.toml")
    'my-antenna.toml'
    """
    from simharness.records.record import NAME_PATTERN

    # \Z, since $ lets a line break pass.
    pattern = re.compile(NAME_PATTERN.removesuffix("$") + r"\Z")
    if not name.endswith(_ENDING) or not pattern.match(name.removesuffix(_ENDING)):
        raise InputError(
            "file",
            name,
            "must be a plain name of a-z, 0-9 and hyphens, at most 48 of them, no hyphen first, and end in "
            f"{_ENDING}",
        )
    return name


def require_absent(path: Path) -> None:
    """Refuse a place where something is, or where no file can go."""
    if not path.parent.is_dir():
        raise InputError("file", path, f"there is no folder {path.parent}")
    if path.exists() or path.is_symlink():
        raise InputError("file", path.name, "is there already; save under another name")


def require_unchanged(path: Path, sha256: str | None) -> None:
    """Refuse to write over a file that is not as it was when it was opened; one that is gone may return."""
    from simharness.records.reading import MAX_BYTES

    if not path.exists() and not path.is_symlink():
        return
    try:
        found = hashlib.sha256(content(path, MAX_BYTES)).hexdigest()
    except UnreadableError:
        found = ""
    if found != sha256:
        raise InputError(
            "file",
            path.name,
            "was changed by another program or page since it was opened here; save under another name, or "
            "open it again to see its new state",
        )


def checked_draft(draft: object, version: int) -> dict[str, Any]:
    """The parts of a draft, copied, each of the type that it must have.

    Raises
    ------
    InputError
    """
    from simharness.records.reading import MAX_BYTES

    try:
        copied = json.loads(json.dumps(draft, allow_nan=False))
        size = len(json.dumps(copied))
    except (TypeError, ValueError, RecursionError):
        raise InputError("draft", "(unreadable)", "must be what this page kept") from None
    if not isinstance(copied, Mapping) or copied.get("version") != version or size > 5 * MAX_BYTES:
        raise InputError("draft", "(unknown)", "must be what this version of the page kept")
    file, sha = copied.get("file"), copied.get("sha256")
    fits = (
        isinstance(copied.get("text"), str)
        and isinstance(copied.get("data"), dict)
        and isinstance(copied.get("valid"), (dict, type(None)))
        and isinstance(copied.get("saved"), (dict, type(None)))
        and (file is None) == (sha is None)
        and (file is None or (isinstance(file, str) and _is_plain(file)))
        and (sha is None or (isinstance(sha, str) and _SHA.fullmatch(sha) is not None))
    )
    if not fits:
        raise InputError("draft", "(damaged)", "must be what this page kept")
    return {name: copied.get(name) for name in ("text", "data", "valid", "saved", "file", "sha256")}


def _is_plain(name: str) -> bool:
    """Whether a name is that of a file of the folder: one that was opened may have any."""
    return bool(name) and name.endswith(_ENDING) and Path(name).name == name and "\0" not in name
