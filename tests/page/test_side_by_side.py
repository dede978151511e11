"""Things side by side, in the browser: chosen from the list, dropped on the page, compared; hostile files."""

from __future__ import annotations

import re
import shutil
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
RUN = "four-slot-9g6-8ac674ebc42b45b2"
BENCH = DOCS / "bench-9g6.s1p"

DROP_BESIDE = """async ([text, name]) => {
  const data = new DataTransfer();
  data.items.add(new File([text], name));
  const event = new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true });
  document.querySelector('h1').dispatchEvent(event);
  return event.defaultPrevented;
}"""
DROP = """async ([text, name]) => {
  const data = new DataTransfer();
  data.items.add(new File([text], name));
  const zone = document.querySelector('.drop');
  zone.dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true }));
}"""
"""A file dropped from elsewhere, with whatever name it has there."""


def listing(folder: Path) -> set[tuple[str, int]]:
    return {(str(path), path.stat().st_size) for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def view(serve, tab, tmp_path, monkeypatch):
    """The view of things side by side, over the documented run; temporary files have their own folder."""
    folder = tmp_path / "workshop"
    folder.mkdir()
    private = tmp_path / "private"
    private.mkdir()
    monkeypatch.setenv("TMPDIR", str(private))
    shutil.copytree(DOCS / "runs", folder / "runs")
    shutil.copy(DOCS / "four-slot-9g6.toml", folder)
    served = serve(words=("four-slot-9g6.toml",), folder=folder)
    tab.goto(served.address)
    open_view(tab)
    tab.private = private
    tab.workshop = folder
    return tab


def open_view(tab) -> None:
    tab.get_by_role("button", name="Side by side", exact=True).click()
    tab.get_by_text("1 finished run; 1 shown").wait_for()


def said(tab, words: str) -> None:
    tab.locator(".said").get_by_text(words).wait_for()


def test_a_run_and_the_record_stand_side_by_side_and_stay(view):
    """Nothing is written by it, and a reload finds it again."""
    before = listing(view.workshop)
    assert view.locator("svg.spark polyline").count() == 1
    view.get_by_role("button", name=f"Set side by side: {RUN}").click()
    said(view, f"Set side by side: {RUN}")
    view.get_by_role("button", name="Add the record as it is now").click()
    for words in ("No match is certainly the better one", "The records say the same in all 60 fields"):
        view.get_by_text(words).wait_for()
    assert view.locator(".chart svg path").count() > 3
    rows = view.get_by_role("region", name="Figures").locator("tbody tr")
    assert rows.count() > 10 and "12.7 ± 0.2 dBi" in rows.filter(has_text="realized gain").inner_text()
    view.reload()
    open_view(view)
    view.get_by_text("No match is certainly the better one").wait_for()
    view.get_by_role("button", name=f"Take away {RUN}").click()
    view.get_by_text("Choose two or three").wait_for()
    assert listing(view.workshop) == before


def test_a_record_of_the_folder_stands_beside_by_its_estimate(view):
    """As it is stored, whatever the page shows; nothing is written."""
    before = listing(view.workshop)
    files = view.get_by_label("Record of the folder").locator("option").all_inner_texts()
    assert files == sorted(path.name for path in view.workshop.glob("*.toml"))
    view.get_by_role("button", name="Add its estimate").click()
    said(view, f"Set side by side: {files[0]}, estimate")
    view.get_by_role("button", name="Add its estimate").click()
    said(view, "is there already; choose another")
    view.get_by_role("button", name="Add the record as it is now").click()
    view.get_by_role("region", name="Figures").wait_for()
    assert listing(view.workshop) == before


def test_a_run_becomes_the_ghost(view):
    view.get_by_role("button", name=f"Show behind the curves: {RUN}").click()
    said(view, f"Behind the curves of the antenna now: {RUN}")


def test_a_dropped_file_is_compared_with_cause_and_remedy(view):
    """In memory and a private folder alone; while it goes on the page answers."""
    before = listing(view.workshop)
    view.get_by_role("button", name=f"Hold a file against it: {RUN}").click()
    view.evaluate(DROP, [BENCH.read_text(), "../../<img src=x onerror=alert(1)>.s1p"])
    view.get_by_role("heading", name="<img src=x onerror=alert(1)>.s1p", exact=True).wait_for()
    assert view.locator("img[src=x]").count() == 0
    view.get_by_label("Length of the connector").fill("many")
    view.get_by_role("button", name="Compare", exact=True).click()
    said(view, "connector, mm = many: must be a number from 0 to 500")
    view.get_by_label("Length of the connector").fill("")
    view.get_by_role("button", name="Compare", exact=True).click()
    view.get_by_text(re.compile(r"% done, about")).wait_for(timeout=60_000)
    begun = time.monotonic()
    view.get_by_role("button", name="List anew").click()
    view.get_by_role("button", name="Cancel").wait_for()
    assert time.monotonic() - begun < 2
    view.get_by_text("Likeliest single cause").wait_for(timeout=120_000)
    assert "probe is 0.5" in view.get_by_text("Likeliest single cause").inner_text()
    assert view.locator("img.picture").evaluate("img => img.naturalWidth") > 1000
    assert listing(view.workshop) == before
    assert not list(view.private.glob("simharness-*/dropped*"))


def test_levels_are_compared_and_a_comparison_is_cancelled(view):
    view.get_by_role("button", name=f"Hold a file against it: {RUN}").click()
    view.locator("input[type=file]").set_input_files(DOCS / "turned-across.csv")
    view.get_by_label("How the antenna was turned").select_option("across")
    view.get_by_role("button", name="Compare", exact=True).click()
    view.get_by_text("The readings lie 0.4 dB from the prediction").wait_for(timeout=60_000)
    view.locator("input[type=file]").set_input_files(BENCH)
    view.get_by_role("heading", name=BENCH.name, exact=True).wait_for()
    view.get_by_role("button", name="Compare", exact=True).click()
    view.get_by_role("button", name="Cancel").click()
    view.get_by_text("cancelled", exact=True).wait_for()


def test_what_is_too_large_is_refused_before_it_is_read(view, tmp_path):
    """By the browser's look at its size, by the count of what comes in, and by the guard."""
    large = tmp_path / "large.s1p"
    with large.open("wb") as file:
        file.truncate(50_000_000)
    sent = []
    view.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    begun = time.monotonic()
    view.locator("input[type=file]").set_input_files(large)
    said(view, "measured file = large.s1p: must be at most 2 MB")
    assert time.monotonic() - begun < 3 and not [url for url in sent if "dropped" in url]
    post = """async (size) => {
      const url = document.querySelector('.drop').closest('[id]') && window.dropUrl;
      const answer = await fetch(url + '?name=<b>.s1p', { method: 'POST', body: new Uint8Array(size) });
      return [answer.status, await answer.text()];
    }"""
    with view.expect_request(lambda request: "dropped" in request.url) as first:
        view.evaluate(DROP, ["x", "small.txt"])
    view.evaluate("url => { window.dropUrl = url }", first.value.url.split("?")[0])
    assert view.evaluate(post, 2_500_000) == [200, '{"taken":false}']
    said(view, "measured file = <b>.s1p: must be at most 2 MB")
    assert view.evaluate(post, 4_000_000)[0] == 413


@pytest.mark.parametrize(
    ("text", "name", "words"),
    [
        ("x", "a.exe", "measured file = a.exe: must be a Touchstone one-port (.s1p) or a table of levels"),
        ("x", "..", "must be a Touchstone one-port"),
    ],
)
def test_what_is_no_measured_file_is_told(view, text, name, words):
    view.evaluate(DROP, [text, name])
    said(view, words)


def test_a_broken_file_is_told_by_its_name(view):
    view.evaluate(DROP, ["# GHz S RI R 50\nx y z\n", "<b>mine</b>.s1p"])
    # the last part of what reads as a path
    view.get_by_role("heading", name="b>.s1p").wait_for()
    view.get_by_role("button", name="Set side by side", exact=True).click()
    said(view, "cannot be read as a Touchstone one-port")
    view.get_by_role("button", name=f"Hold a file against it: {RUN}").click()
    view.get_by_role("button", name="Compare", exact=True).click()
    told = view.get_by_role("alert").filter(has_text="cannot be read as a Touchstone one-port")
    told.wait_for(timeout=60_000)
    assert told.inner_text().startswith("measured file = b>.s1p: ")


def test_a_file_that_misses_its_field_is_taken_and_forgotten(view):
    view.get_by_role("button", name="Antenna", exact=True).click()
    assert view.evaluate(DROP_BESIDE, [BENCH.read_text(), "missed.s1p"]) is True
    view.get_by_role("heading", name="missed.s1p").wait_for()
    view.get_by_role("button", name="Forget this file").click()
    view.get_by_role("heading", name="missed.s1p").wait_for(state="detached")


def test_all_is_reached_by_keyboard(view):
    """From the search field on, by the tabulator and the space bar alone."""
    view.get_by_label("Search by name").focus()
    view.keyboard.type("none of them")
    view.get_by_text("0 finished runs of 'none of them'").wait_for()
    for _ in range(12):
        view.keyboard.press("Backspace")
    view.get_by_text("1 finished run; 1 shown").wait_for()
    view.keyboard.press("Tab")  # list anew
    view.keyboard.press("Tab")
    focused = "document.activeElement.getAttribute('aria-label')"
    assert view.evaluate(focused) == f"Set side by side: {RUN}"
    view.keyboard.press("Space")
    said(view, f"Set side by side: {RUN}")


def test_thousands_of_runs_are_listed_at_once(serve, tab, tmp_path):
    """5,000 names, of which twelve have a picture; the search finds one of them."""
    folder = tmp_path / "workshop"
    for n in range(5000):
        run = folder / "runs" / f"row-{n:04d}-{n:016x}"
        run.mkdir(parents=True)
        (run / "manifest.json").write_text("{}")
    tab.goto(serve(folder=folder).address)
    tab.get_by_role("button", name="Side by side", exact=True).click()
    tab.get_by_text("5000 finished runs; 12 shown").wait_for()
    begun = time.monotonic()
    tab.get_by_label("Search by name").fill("row-4321")
    tab.get_by_text("1 finished run of 'row-4321'").wait_for()
    assert time.monotonic() - begun < 3  # s; 0.1 where nothing else is at work
    assert tab.locator(".shelf > li").count() == 1
    tab.evaluate(DROP, [BENCH.read_text(), "bench.s1p"])
    tab.get_by_role("button", name="Compare", exact=True).click()
    said(tab, "There is no run to hold the file against")


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_axe_has_nothing_serious_to_say(view, colours):
    """With everything on the view: two sides, a file, its comparison."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is missing")
    view.emulate_media(color_scheme=colours)
    view.get_by_role("button", name=f"Set side by side: {RUN}").click()
    view.get_by_role("button", name="Add the record as it is now").click()
    view.get_by_text("No match is certainly the better one").wait_for()
    view.get_by_role("button", name=f"Hold a file against it: {RUN}").click()
    view.locator("input[type=file]").set_input_files(DOCS / "turned-across.csv")
    view.get_by_role("button", name="Compare", exact=True).click()
    view.locator("img.picture").wait_for(timeout=60_000)
    found = axe.Axe().run(view).response["violations"]
    assert [(one["id"], one["help"]) for one in found if one["impact"] in ("serious", "critical")] == []
