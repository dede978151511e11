"""The server of the page: NiceGUI behind the guard, on this machine only, until it is interrupted."""

from __future__ import annotations

import os
import tempfile
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from simharness.errors import MachineError
from simharness.page.place import Place, listening_socket

if TYPE_CHECKING:
    from simharness.page.guard import Guard

MISSING = (
    "the packages of the page are missing: call scripts/setup again, or 'pip install \"simharness[page]\"'; "
    "all other commands work without them"
)

RECONNECT_SECONDS = 60.0
"""How long what a tab shows is kept while it is away; its unsaved work is kept for longer, see `desks`."""


def serve(place: Place, port: int | None, browser: bool, say: Callable[[str], None]) -> None:
    """Serve the page until Ctrl-C.

    Parameters
    ----------
    place : Place
    port : int or None
        A free one without it.
    browser : bool
        Whether to open the page in the user's browser.
    say : callable
        Takes each line for the terminal.

    Raises
    ------
    MachineError
        The page's packages are missing, or the port cannot be used.
    """
    # What the library would store of its own goes nowhere: the page writes nothing without a click.
    os.environ["NICEGUI_STORAGE_PATH"] = str(Path(tempfile.gettempdir()) / "simharness-page-stores-nothing")
    try:
        import nicegui
        import uvicorn
    except ImportError as error:
        raise MachineError(MISSING) from error
    del nicegui
    sock = listening_socket(port, place.usual_port())
    guard = guarded_page(place, sock.getsockname()[1])
    say(f"The page of {place.records} is at")
    say(f"  {guard.address}")
    say("for a browser on this machine, once. Ctrl-C ends the page; runs that it has begun go on.")
    config = uvicorn.Config(
        guard,
        log_level="error",
        access_log=False,
        timeout_graceful_shutdown=2,
        ws_max_size=3_000_000,
        ws_per_message_deflate=False,
    )
    server = uvicorn.Server(config)
    if browser:
        threading.Timer(0.0, _opened, (guard.address, say)).start()
    with sock:
        server.run(sockets=[sock])


def guarded_page(place: Place, port: int) -> Guard:
    """The whole page as an ASGI application."""
    from fastapi import FastAPI
    from nicegui import ui

    from simharness.page.frame.layout import declare
    from simharness.page.guard import Guard

    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    declare(place, app)
    ui.run_with(
        app,
        title="simharness",
        favicon="data:,",
        dark=None,
        language="en-US",
        reconnect_timeout=RECONNECT_SECONDS,
        gzip_middleware_factory=None,
        tailwind=False,
        show_welcome_message=False,
    )
    return Guard(app, port)


def _opened(address: str, say: Callable[[str], None]) -> None:
    """Open the page; the socket listens already, so that the browser waits for the first answer."""
    try:
        found = webbrowser.open(address)
    except webbrowser.Error:
        found = False
    if not found:
        say("No browser was found: open that address in one.")
