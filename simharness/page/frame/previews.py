"""Files to be looked at before they are written: kept in memory, served to the page, gone with it."""

from __future__ import annotations

import secrets
import tempfile
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fastapi import FastAPI

KEPT = 8
"""Previews at a time; older ones are forgotten."""

_KINDS = {
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".pdf": "application/pdf",
    ".html": "text/html; charset=utf-8",
    ".txt": "text/plain; charset=utf-8",
    ".dxf": "text/plain; charset=utf-8",
    ".toml": "text/plain; charset=utf-8",
}
_ALONE = {"content-security-policy": "sandbox allow-scripts", "cache-control": "no-store"}
"""What is served is a document of its own: it cannot reach the page."""

_PREVIEWS: OrderedDict[str, dict[str, bytes]] = OrderedDict()


def made_preview(write: Callable[[Path], object]) -> tuple[str, dict[str, bytes]]:
    """Have files written into a private folder, which is removed, and keep them.

    Parameters
    ----------
    write : callable
        Given the folder.

    Returns
    -------
    str
        The key that `preview_address` takes.
    dict of str to bytes
        The files by name.
    """
    with tempfile.TemporaryDirectory(prefix="simharness-") as name:
        write(Path(name))
        files = {path.name: path.read_bytes() for path in sorted(Path(name).iterdir()) if path.is_file()}
    key = secrets.token_urlsafe(12)
    _PREVIEWS[key] = files
    while len(_PREVIEWS) > KEPT:
        _PREVIEWS.popitem(last=False)
    return key, files


def preview_address(key: str, name: str) -> str:
    """Where the page fetches a file of a preview."""
    from urllib.parse import quote

    return f"/preview/{key}/{quote(name, safe='')}"


def declare_previews(app: FastAPI) -> None:
    """Declare the one route from which previews are served, from memory alone."""
    from fastapi import Response

    @app.get("/preview/{key}/{name}")
    def preview(key: str, name: str) -> Response:
        found = _PREVIEWS.get(key, {}).get(name)
        if found is None:
            return Response("This preview is gone: make it again.", 404, media_type="text/plain")
        kind = _KINDS.get(Path(name).suffix.lower(), "application/octet-stream")
        # A browser's own viewer of PDF does not start in a sandbox.
        headers = {"cache-control": "no-store"} if kind == "application/pdf" else _ALONE
        return Response(found, media_type=kind, headers=headers)
