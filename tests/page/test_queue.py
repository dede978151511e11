"""Works asked for from the page, in a real browser. A stand-in does them; once the real solver."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import sys
import time
from pathlib import Path

import pytest

from simharness.jobs import entry
from simharness.jobs.folder import WORKER_LOCK, jobs_root
from simharness.jobs.queue import Queue

ROOT = Path(__file__).parents[2]
PATIENCE_MS = 60_000


def until(true, seconds: float = 60.0):
    patience = time.monotonic() + seconds
    while not (found := true()):
        assert time.monotonic() < patience, "waited in vain"
        time.sleep(0.1)
    return found


@pytest.fixture
def workshop(tmp_path):
    """A folder with one record."""
    folder = tmp_path / "workshop"
    folder.mkdir()
    shutil.copy(ROOT / "docs" / "four-slot-9g6.toml", folder)
    return folder


@pytest.fixture
def held(workshop, monkeypatch):
    """The queue of that folder with a stand-in at work on a first job; it ends when that may end."""
    sys.path.insert(0, str(ROOT / "tests" / "process"))
    try:
        import jobs_stand_in
    finally:
        sys.path.pop(0)
    monkeypatch.setattr(entry, "PROGRAM", jobs_stand_in.program())
    queue = Queue(workshop / "runs")
    (workshop / "hold-held").touch()
    queue.add("solve", jobs_stand_in.record_text("held"), "held.toml", {"quality": "draft"})
    until(lambda: queue.job(1).share == 0.5)
    yield queue
    (workshop / "hold-held").unlink(missing_ok=True)
    until(lambda: not queue.alive)


def full_wave(tab):
    tab.get_by_role("button", name="Full wave").click()
    tab.get_by_role("heading", name="What shall be computed").wait_for(timeout=PATIENCE_MS)


def card(tab, number: int):
    """A job in the list."""
    found = tab.locator("section.job").filter(has=tab.get_by_role("heading", name=re.compile(f"^{number}: ")))
    found.wait_for(timeout=PATIENCE_MS)
    return found


def add(tab, words: str = "Full-wave run") -> None:
    tab.get_by_role("combobox", name="Work").select_option(label=words)
    tab.get_by_role("button", name="Start", exact=True).click()


def test_works_are_added_cancelled_repeated_and_forgotten(serve, workshop, held, tab):
    served = serve(folder=workshop, words=("four-slot-9g6.toml",))
    tab.goto(served.address)
    full_wave(tab)
    first = card(tab, 1)
    first.get_by_text("Under way: 50 % done, about 12 s left, holding").wait_for(timeout=PATIENCE_MS)
    assert first.get_by_role("progressbar").get_attribute("value") == "0.500"
    first.get_by_role("img", name="S11 still moves by about 0.2").wait_for(timeout=PATIENCE_MS)
    add(tab)
    tab.get_by_text("Added as number 2. It goes on when this page is closed.").wait_for(timeout=PATIENCE_MS)
    second = card(tab, 2)
    second.get_by_text("Waiting").wait_for(timeout=PATIENCE_MS)
    second.get_by_role("button", name="Cancel: number 2").click()
    second.get_by_text("Cancelled: cancelled before it had begun").wait_for(timeout=PATIENCE_MS)
    assert held.job(2).state == "cancelled"
    second.get_by_role("button", name="Start again: number 2").click()
    card(tab, 3)
    second.get_by_role("button", name="Forget: number 2").click()
    second.wait_for(state="detached", timeout=PATIENCE_MS)
    assert [(job.number, job.state) for job in held.jobs()] == [(1, "running"), (3, "waiting")]
    # The last added stands first.
    assert [re.match(r"\d", words)[0] for words in tab.locator("section.job h3").all_inner_texts()] == [
        "3",
        "1",
    ]
    card(tab, 3).get_by_role("button", name="Cancel: number 3").click()
    card(tab, 3).get_by_text("Cancelled").wait_for(timeout=PATIENCE_MS)


def test_reload_second_tab_and_killed_server_find_the_work_again(serve, workshop, held, tab):
    served = serve(folder=workshop, words=("four-slot-9g6.toml",))
    tab.goto(served.address)
    full_wave(tab)
    card(tab, 1)
    tab.reload()
    full_wave(tab)
    card(tab, 1).get_by_text("Under way").wait_for(timeout=PATIENCE_MS)
    other = tab.context.new_page()
    other.goto(served.address.split("?")[0])
    full_wave(other)
    card(other, 1).get_by_text("Under way").wait_for(timeout=PATIENCE_MS)
    served.stop(signal.SIGKILL)
    assert held.alive and held.job(1).state == "running"
    served = serve(folder=workshop, words=("four-slot-9g6.toml",))
    tab.goto(served.address)
    full_wave(tab)
    card(tab, 1).get_by_text("Under way").wait_for(timeout=PATIENCE_MS)
    # Its end is told in whatever view.
    tab.reload()
    tab.get_by_role("button", name="Antenna").click()
    tab.locator("section.job").wait_for(state="attached", timeout=PATIENCE_MS)
    (workshop / "hold-held").unlink()
    tab.locator(".said").get_by_text("Finished: held is done").wait_for(timeout=PATIENCE_MS)
    full_wave(tab)
    card(tab, 1).get_by_text("Finished: held is done").wait_for(timeout=PATIENCE_MS)
    # Its result holds no figures: said, not thrown.
    tab.get_by_role("button", name="Show what came out: number 1").click()
    tab.get_by_text("job 1 is damaged").wait_for(timeout=PATIENCE_MS)


def test_a_killed_worker_is_told_and_what_waits_can_go_on(serve, workshop, held, tab):
    served = serve(folder=workshop, words=("four-slot-9g6.toml",))
    tab.goto(served.address)
    full_wave(tab)
    card(tab, 1).get_by_text("Under way").wait_for(timeout=PATIENCE_MS)
    add(tab, "How exact each dimension must be")
    card(tab, 2).get_by_text("Waiting").wait_for(timeout=PATIENCE_MS)
    os.kill(json.loads((jobs_root(held.runs) / WORKER_LOCK).read_text())["pid"], signal.SIGKILL)
    card(tab, 1).get_by_text("Cut short: its worker ended while it was at work").wait_for(timeout=PATIENCE_MS)
    card(tab, 2).get_by_text("nobody is at work on the queue").wait_for(timeout=PATIENCE_MS)
    tab.get_by_role("button", name="Go on with them").click()
    until(lambda: held.job(2).state == "running")
    tab.get_by_role("button", name="Cancel: number 2").click()
    card(tab, 2).get_by_text("Cancelled").wait_for(timeout=PATIENCE_MS)
    assert [job.state for job in held.jobs()] == ["lost", "cancelled"]


def test_refusals_are_said_and_nothing_is_added(serve, workshop, held, tab):
    served = serve(folder=workshop, words=("four-slot-9g6.toml",))
    tab.goto(served.address)
    full_wave(tab)
    tab.get_by_role("combobox", name="Work").select_option(label="Fields over ranges of values")
    tab.get_by_label("Field and values").fill("feed.height_mm=<script>")
    tab.get_by_role("button", name="Start", exact=True).click()
    tab.locator(".said.refused").get_by_text("<script>").wait_for(timeout=PATIENCE_MS)
    tab.get_by_role("combobox", name="Work").select_option(label="Probe length, by a few runs")
    tab.get_by_label("Runs at most").fill("2.5")
    tab.get_by_role("button", name="Start", exact=True).click()
    tab.get_by_text("must be a whole number from 1 to 9").wait_for(timeout=PATIENCE_MS)
    assert len(held.jobs()) == 1


def test_a_damaged_and_hostile_job_is_text(serve, workshop, held, tab):
    folder = held.job(1).folder.with_name("0007")
    folder.mkdir()
    (folder / "request.json").write_text('{"format": "<img src=x onerror=alert(1)>"}')
    lost = held.job(1).folder.with_name("0008")
    shutil.copytree(held.job(1).folder, lost)
    (lost / "status.json").write_text('{"state": "failed", "text": "<b onclick=alert(1)>bold</b>"}')
    served = serve(folder=workshop, words=("four-slot-9g6.toml",))
    tab.on("dialog", lambda dialog: pytest.fail("a script ran"))
    tab.goto(served.address)
    full_wave(tab)
    tab.get_by_text("Job 7 is damaged: request.json is not of this program").wait_for(timeout=PATIENCE_MS)
    tab.get_by_text("Failed: <b onclick=alert(1)>bold</b>").wait_for(timeout=PATIENCE_MS)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_view_has_no_serious_finding_and_fits_a_phone(serve, workshop, held, tab, scheme):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    served = serve(folder=workshop, words=("four-slot-9g6.toml",))
    tab.emulate_media(color_scheme=scheme)
    tab.set_viewport_size({"width": 390, "height": 844})
    tab.goto(served.address)
    full_wave(tab)
    card(tab, 1).get_by_role("img").wait_for(timeout=PATIENCE_MS)
    found = axe.run(tab).response["violations"]
    assert [item["id"] for item in found if item["impact"] in ("serious", "critical")] == []
    assert tab.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.solver
@pytest.mark.long
def test_a_full_wave_run_from_the_page_to_its_figures(serve, workshop, tab):
    """Four slots in WR-90, draft mesh: some fifteen seconds of the real solver."""
    served = serve(folder=workshop, words=("four-slot-9g6.toml",))
    tab.goto(served.address)
    full_wave(tab)
    tab.get_by_role("button", name="What will it take?").click()
    tab.get_by_text(re.compile("one run of 0.22 million cells with .* MB of memory: about")).wait_for(
        timeout=PATIENCE_MS
    )
    assert not (workshop / "runs").exists()  # nothing is written before the click
    add(tab)
    run = card(tab, 1)
    run.get_by_role("img", name=re.compile("S11 still moves|far end")).wait_for(timeout=5 * PATIENCE_MS)
    run.get_by_text("Finished: Target met").wait_for(timeout=5 * PATIENCE_MS)
    run.get_by_role("button", name="Show what came out").click()
    run.get_by_role("row", name=re.compile("realized gain .* dBi")).wait_for(timeout=PATIENCE_MS)
    until(lambda: not Queue(workshop / "runs").alive)
