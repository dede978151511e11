"""The page in a real browser: Debian's Chromium without a window, driven by playwright."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

import simharness

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
MODELS = Path(simharness.__file__).parent.parent / "models"


collect_ignore = ["conftest.py"]
"""Without doctests; beside that of another folder it would be taken for it."""

SHORT = ("test_let_in", "test_whole_way")
"""What the short round has of these tests: who is let in, and the whole way once."""


def pytest_collection_modifyitems(items):
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker("browser")
            if item.path.stem not in SHORT:
                item.add_marker("long")


@pytest.fixture(scope="session")
def chromium():
    """The browser; what playwright and its driver leave open at the end is theirs."""
    if CHROMIUM is None:
        pytest.skip("no Chromium is installed: 'apt-get install chromium'")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        # Inside a container the browser's own sandbox cannot be made.
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


class Served:
    """`simharness page` as a child.

    Attributes
    ----------
    folder : Path
        Where it was called.
    address : str
        As printed, with the token.
    seconds : float
        From the command to the printed address, s.
    """

    def __init__(self, folder: Path, *words: str):
        self.folder, begun = folder, time.monotonic()
        self._log = (folder.parent / f"{folder.name}-server.txt").open("a+")
        self.child = subprocess.Popen(
            [sys.executable, "-m", "simharness.cli.main", "page", "--no-browser", *words],
            cwd=folder,
            stdout=subprocess.PIPE,
            stderr=self._log,
            text=True,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
            start_new_session=True,
        )
        self.begun = begun
        printed = ""
        while (found := re.search(r"http://\S+", printed)) is None:
            line = self.child.stdout.readline()
            assert line, f"the server ended: {self.complaints()}"
            printed += line
        self.address = found[0]

    def complaints(self) -> str:
        """What the server wrote to its error channel."""
        self._log.seek(0)
        return self._log.read()

    def stop(self, how: signal.Signals = signal.SIGINT) -> int:
        """End the server; its exit code."""
        with suppress(ProcessLookupError):
            self.child.send_signal(how)
        try:
            return self.child.wait(15)
        finally:
            with suppress(ProcessLookupError):
                os.killpg(self.child.pid, signal.SIGKILL)
            self.child.stdout.close()


@pytest.fixture
def serve(tmp_path):
    """Start the page of a new folder that holds some shipped records: `serve("eight-slot-5g8", ...)`.

    The first is the record that the page begins with; without any, the folder is empty.
    """
    started = []

    def start(*names: str, words: tuple[str, ...] = (), folder: Path | None = None) -> Served:
        folder = folder or tmp_path / "workshop"
        folder.mkdir(exist_ok=True)
        for name in names:
            shutil.copy(MODELS / f"{name}.toml", folder)
        first = (f"{names[0]}.toml",) if names else ()
        started.append(Served(folder, *first, *words))
        return started[-1]

    yield start
    for served in started:
        served.stop(signal.SIGKILL)
        served._log.close()


@pytest.fixture
def tab(chromium):
    """A tab of a fresh browser; the test fails for what the page's programs threw."""
    context = chromium.new_context(viewport={"width": 1440, "height": 900})
    page = context.new_page()
    thrown = []
    page.on("pageerror", lambda error: thrown.append(str(error)))
    yield page
    context.close()
    assert not thrown, thrown
