"""How quickly the page answers, in a browser: from a key to the new curve, from the command to the page."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from simharness.design.proposal import designed
from simharness.design.requirements import Requirements
from simharness.design.stock import standard_guide
from simharness.errors import MachineError
from simharness.progress import Progress
from simharness.records.text import record_text

COUNTS = 5, 8, 16
KEYS = 40
"""Presses of an arrow key in one field."""
REST_MS = 250
"""Between two presses: a person who watches the curve."""
FIELDS = "slot.2.length_mm", "slot.3.position_mm", "feed.height_mm"
LOOK_S = 1.0
"""From the focus of a field to the first key in it."""

_WATCH = """
() => {
  window.keyTimes = [];
  const chart = document.querySelector('[data-chart="Match"]');
  let pressed = null;
  document.addEventListener('keydown', (event) => {
    if (event.key.startsWith('Arrow')) pressed = performance.now();
  }, true);
  // The frame after the change is the one that is seen.
  new MutationObserver(() => {
    if (pressed === null) return;
    const begun = pressed;
    pressed = null;
    requestAnimationFrame(() => setTimeout(() => window.keyTimes.push(performance.now() - begun)));
  }).observe(chart, { subtree: true, childList: true, attributes: true });
}
"""


_WATCH_EXACT = """
() => {
  const results = document.querySelector('.results');
  window.exactTime = new Promise((done) => {
    let begun = null;
    document.addEventListener('keydown', () => { begun = performance.now(); }, { capture: true, once: true });
    const watch = new MutationObserver(() => {
      const changed = performance.now();
      // What comes with the same message, or a frame later, still belongs to it.
      setTimeout(() => {
        if (begun === null || !results.textContent.includes('are those of')) return;
        watch.disconnect();
        done(changed - begun);
      }, 40);
    });
    watch.observe(results, { subtree: true, childList: true, attributes: true, characterData: true });
  });
}
"""


@dataclass(frozen=True)
class PageTimes:
    """Times of a record on the page.

    Attributes
    ----------
    slots : int
    page : float
        From the command to the frame of the page in a browser that is open already, s.
    first : float
        From the command to the first curve, s.
    keys : (k,) array
        From a key to the frame with the new curve, s.
    exact : (m,) array
        From a key after a rest to the figures of the exact estimate, s.
    """

    slots: int
    page: float
    first: float
    keys: np.ndarray
    exact: np.ndarray


@contextmanager
def _served(folder: Path, name: str) -> Iterator[tuple[str, float]]:
    """The page of a record: its address, and when the command was given."""
    begun = time.monotonic()
    words = ["-m", "simharness.cli.main", "page", "--no-browser", name]
    child = subprocess.Popen([sys.executable, *words], cwd=folder, stdout=subprocess.PIPE, text=True)
    try:
        printed = ""
        while (found := re.search(r"http://\S+", printed)) is None:
            line = child.stdout.readline() if child.stdout else ""
            if not line:
                raise MachineError("the page did not start")
            printed += line
        yield found[0], begun
    finally:
        child.kill()
        child.wait()
        if child.stdout:
            child.stdout.close()


def _one_by_one(slots: int) -> str:
    """A designed record, each slot by itself, as TOML."""
    design = designed(Requirements(5.8e9, standard_guide("WR-159"), slots=slots)).record
    return record_text(design)


def page_times(slots: int, browser: Any, progress: Progress) -> PageTimes:
    """Times of a designed row of slots.

    Parameters
    ----------
    slots : int
    browser : playwright's Browser
    progress : Progress
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "row.toml").write_text(_one_by_one(slots), encoding="utf-8")
        progress.note(f"{slots} slots")
        with _served(folder, "row.toml") as (address, begun):
            tab = browser.new_page(viewport={"width": 1440, "height": 900})
            tab.goto(address)
            tab.wait_for_selector("h1")
            page = time.monotonic() - begun
            tab.wait_for_function("document.querySelector('.headline')?.textContent.length > 0")
            first = time.monotonic() - begun
            _wait_exact(tab)
            tab.evaluate(_WATCH)
            exact = [_keys_in(tab, field) for field in FIELDS]
            times = np.array(tab.evaluate("window.keyTimes")) / 1e3
            tab.close()
    progress.done()
    return PageTimes(slots, page, first, times, np.array(exact))


def _keys_in(tab: Any, field: str) -> float:
    """Press keys in a field; the time from the last of them to the exact estimate, s."""
    tab.focus(f'[data-field="{field}"]')
    tab.wait_for_timeout(1e3 * LOOK_S)
    for press in range(KEYS):
        tab.keyboard.press("ArrowUp" if press % 4 < 2 else "ArrowDown")
        tab.wait_for_timeout(REST_MS)
    _wait_exact(tab)
    tab.wait_for_timeout(500)
    tab.evaluate(_WATCH_EXACT)
    tab.keyboard.press("ArrowUp")
    return float(tab.evaluate("window.exactTime")) / 1e3


def _wait_exact(tab: Any) -> None:
    tab.wait_for_function("document.querySelector('.results').textContent.includes('are those of')")


def all_page_times(progress: Progress) -> list[PageTimes]:
    """Times for rows of 5, 8 and 16 slots.

    Raises
    ------
    MachineError
        There is no browser, or its driver is missing.
    """
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        raise MachineError("no Chromium is installed: 'apt-get install chromium'")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        try:
            return [page_times(slots, browser, progress) for slots in COUNTS]
        finally:
            browser.close()


def markdown_text(found: list[PageTimes]) -> str:
    """A table; ms from key to curve, s for all else."""
    lines = [
        "| slots | page after, s | first curve after, s | key to curve: median, ms | 95 of 100 within, ms "
        "| keys | exact after, s |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    lines += [
        f"| {one.slots} | {one.page:.1f} | {one.first:.1f} | {1e3 * np.median(one.keys):.0f} "
        f"| {1e3 * np.percentile(one.keys, 95):.0f} | {one.keys.size} | {np.median(one.exact):.2f} |"
        for one in found
    ]
    return "\n".join(lines)
