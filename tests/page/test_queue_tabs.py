"""Works begun on the page, by a stand-in, seen from two tabs; tabs and servers that go away meanwhile."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pytest
from page_steps import PATIENCE_MS, field, press, said

from simharness.jobs.queue import Queue

ROOT = Path(__file__).parents[2]
RECORD = "four-slot-9g6"
_STAND_IN = f"""
import sys
sys.path.insert(0, {str(ROOT / "tests" / "process")!r})
import jobs_stand_in
from simharness.jobs import entry
entry.PROGRAM = jobs_stand_in.program()
"""

pytestmark = [pytest.mark.browser, pytest.mark.long]


@pytest.fixture
def workshop(tmp_path, monkeypatch):
    """A folder with a record; works that a server begins there are the stand-in's, and held."""
    site, folder = tmp_path / "site", tmp_path / "workshop"
    site.mkdir()
    folder.mkdir()
    (site / "sitecustomize.py").write_text(_STAND_IN)
    monkeypatch.setenv("PYTHONPATH", str(site), prepend=os.pathsep)
    (folder / f"{RECORD}.toml").write_text((ROOT / "docs" / f"{RECORD}.toml").read_text())
    (folder / f"hold-{RECORD}").touch()
    yield folder
    (folder / f"hold-{RECORD}").unlink(missing_ok=True)
    until(lambda: not Queue(folder / "runs").alive)


def until(true, seconds: float = 60.0) -> None:
    """Wait for something to be so."""
    patience = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < patience, "waited in vain"
        time.sleep(0.1)


def full_wave(page, address: str):
    """The page at its view of the works."""
    page.goto(address)
    press(page, "Full wave")
    page.get_by_role("heading", name="What shall be computed").wait_for(timeout=PATIENCE_MS)
    return page


def job(page, number: int):
    """The card of a job."""
    return page.get_by_role("region", name=f"{number}: Full-wave run of {RECORD}")


def seen(page, number: int, words: str) -> None:
    job(page, number).get_by_text(words).wait_for(timeout=PATIENCE_MS)


def test_a_run_is_seen_and_cancelled_from_another_tab(serve, workshop, tab):
    served = serve(folder=workshop, words=(f"{RECORD}.toml",))
    full_wave(tab, served.address)
    other = full_wave(tab.context.new_page(), tab.url)
    other.get_by_text("Nothing yet.").wait_for(timeout=PATIENCE_MS)
    press(tab, "Start")
    seen(tab, 1, "Under way: 50 % done")
    seen(other, 1, "Under way: 50 % done")
    press(other, "Cancel: number 1")
    for page in (tab, other):
        seen(page, 1, "Cancelled")
    assert Queue(workshop / "runs").job(1).state == "cancelled"


def test_a_run_outlives_reload_tab_and_server(serve, workshop, tab):
    served = serve(folder=workshop, words=(f"{RECORD}.toml",))
    full_wave(tab, served.address)
    press(tab, "Start")
    seen(tab, 1, "Under way: 50 % done")
    tab.reload()
    press(tab, "Full wave")
    seen(tab, 1, "Under way: 50 % done")
    kept = tab.context.new_page()
    tab.close()
    time.sleep(1)
    assert Queue(workshop / "runs").job(1).state == "running"
    # All of the server's session dies at once, as with its terminal.
    os.killpg(served.child.pid, signal.SIGKILL)
    served.child.wait()
    time.sleep(1)
    assert Queue(workshop / "runs").alive and Queue(workshop / "runs").job(1).state == "running"
    served = serve(folder=workshop, words=(f"{RECORD}.toml",))
    kept.goto(served.address)
    field(kept, "inner width").wait_for(timeout=PATIENCE_MS)
    press(kept, "Full wave")
    seen(kept, 1, "Under way: 50 % done")
    press(kept, "Antenna")
    settling = kept.locator(".strip svg text").filter(has_text="S11 still moves by about 0.2")
    settling.wait_for(timeout=PATIENCE_MS)
    (workshop / f"hold-{RECORD}").unlink()
    said(kept, f"Finished: {RECORD} is done")
    settling.wait_for(state="detached", timeout=PATIENCE_MS)
    assert Queue(workshop / "runs").job(1).state == "finished"


def test_a_sweep_without_values_is_refused_in_words(serve, workshop, tab):
    served = serve(folder=workshop, words=(f"{RECORD}.toml",))
    full_wave(tab, served.address)
    tab.get_by_role("combobox", name="Work").select_option("sweep")
    press(tab, "Start")
    said(tab, "Field and values = (empty): must be as in feed.height_mm=18:24:7")
    assert not (workshop / "runs").exists()
