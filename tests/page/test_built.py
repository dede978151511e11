"""The finished antenna, in the browser: readings typed and dropped, worked out, what can be done opened."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import pytest
from page_steps import PATIENCE_MS, field, press, said, state, typed

import simharness

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
BENCH = DOCS / "bench-9g6.s1p"
MINUTES_MS = 300_000

DROP = """async ([text, name, missed]) => {
  const data = new DataTransfer();
  data.items.add(new File([text], name));
  const at = missed ? document.querySelector('h1')
    : [...document.querySelectorAll('.drop')].find((field) => field.offsetParent);
  at.dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true }));
}"""


@pytest.fixture
def view(serve, tab, tmp_path):
    """The view over the documented run."""
    folder = tmp_path / "workshop"
    folder.mkdir()
    shutil.copytree(DOCS / "runs", folder / "runs")
    shutil.copy(DOCS / "four-slot-9g6.toml", folder)
    tab.goto(serve(words=("four-slot-9g6.toml",), folder=folder).address)
    field(tab, "inner width").wait_for(timeout=PATIENCE_MS)
    tab.workshop = folder
    open_view(tab)
    return tab


def holds(tab, label: str, value: str) -> None:
    """Wait until a field holds a value, which may be drawn anew meanwhile."""
    from playwright.sync_api import expect

    expect(field(tab, label)).to_have_value(value, timeout=PATIENCE_MS)


def open_view(tab) -> None:
    press(tab, "As built")
    field(tab, "slot 4 length, read, mm").wait_for(timeout=PATIENCE_MS)


def read_long_slots(tab) -> None:
    for number in range(1, 5):
        typed(tab, f"slot {number} length, read, mm", "16,1")
    typed(tab, "probe height, read, mm", "6.0")


def test_the_whole_way_from_readings_to_a_record_to_be_solved(view):
    """Nothing is written by it but what is saved; the file that is there is never written over."""
    before = {path: path.read_bytes() for path in view.workshop.rglob("*") if path.is_file()}
    (view.workshop / "four-slot-9g6-mended.toml").write_bytes((DOCS / "four-slot-9g6.toml").read_bytes())
    read_long_slots(view)
    press(view, "Work it out")
    begun = time.monotonic()
    view.get_by_text("% done").wait_for(timeout=PATIENCE_MS)
    typed(view, "guide width, right within, mm", "0.3")  # the page goes on meanwhile
    told = view.get_by_text("guide width: right within 0.3 mm, but what was read is blank; type it")
    told.wait_for(timeout=PATIENCE_MS)
    assert time.monotonic() - begun < 5
    typed(view, "guide width, right within, mm", "")
    told.wait_for(state="detached", timeout=PATIENCE_MS)
    view.get_by_text("As built, S11 from 9.552 to 9.648 GHz is at most").wait_for(timeout=MINUTES_MS)
    view.get_by_role("heading", name="What can still be done").wait_for(timeout=MINUTES_MS)
    assert view.get_by_role("heading", name="1. Close both ends of every slot with copper tape").count() == 1
    rows = view.get_by_role("region", name="Figures as drawn and as built").locator("tbody tr")
    assert "-23.2 dB" in rows.filter(has_text="S11 in the band").inner_text()
    assert view.locator(".finished .chart svg path").count() > 20
    view.get_by_role("button", name="Open the antenna with this done: Close both ends").click()
    field(view, "inner width").wait_for(timeout=PATIENCE_MS)
    state(view).get_by_text("not saved yet").wait_for(timeout=PATIENCE_MS)
    press(view, "Save")
    said(view, "Saved: four-slot-9g6-mended-2.toml")
    mended = simharness.read_record(view.workshop / "four-slot-9g6-mended-2.toml")
    assert len(mended.tape) == 8 and mended.slots[0].length_mm == pytest.approx(16.1)
    assert mended.feed.height_mm == pytest.approx(6.0)
    assert all(path.read_bytes() == data for path, data in before.items())
    press(view, "Full wave")
    view.get_by_text("What shall be computed").wait_for(timeout=PATIENCE_MS)


def test_what_is_typed_outlives_a_reload_and_another_record(view):
    typed(view, "probe height, read, mm", "abc")
    view.get_by_role("alert").filter(has_text="probe height, read in mm = abc: must be a number").wait_for()
    assert field(view, "probe height, read, mm").get_attribute("aria-invalid") == "true"
    press(view, "Work it out")
    said(view, "probe height, read in mm = abc: must be a number of mm, or left blank")
    view.reload()
    field(view, "inner width").wait_for(timeout=PATIENCE_MS)
    open_view(view)
    holds(view, "probe height, read, mm", "abc")
    press(view, "Begin")
    press(view, "Empty box")
    field(view, "inner width").wait_for(timeout=PATIENCE_MS)
    press(view, "As built")
    field(view, "probe height, read, mm").wait_for(timeout=PATIENCE_MS)
    holds(view, "probe height, read, mm", "")
    press(view, "Begin")
    press(view, "four-slot-9g6.toml")
    field(view, "inner width").wait_for(timeout=PATIENCE_MS)
    open_view(view)
    holds(view, "probe height, read, mm", "abc")


def test_the_table_goes_out_and_comes_back(view, tmp_path):
    typed(view, "slot 2 length, read, mm", "15,8")
    typed(view, "slot 2 length, right within, mm", "0.05")
    with view.expect_download() as coming:
        press(view, "Download the table")
    assert coming.value.suggested_filename == "readings-four-slot-9g6.csv"
    coming.value.save_as(kept := tmp_path / "kept.csv")
    assert ",slot 2 length,15.5,15.8,0.05\n" in kept.read_text()
    press(view, "Empty the table")
    holds(view, "slot 2 length, read, mm", "")
    press(view, "Take back what stood there before")
    holds(view, "slot 2 length, read, mm", "15,8")
    press(view, "Empty the table")
    view.locator(".finished input[type=file]").set_input_files(kept)
    holds(view, "slot 2 length, read, mm", "15.8")
    holds(view, "slot 2 length, right within, mm", "0.05")
    said(view, "Filled in from kept.csv: 1 reading.")


def test_wrong_files_are_told_where_they_were_dropped_and_change_nothing(view):
    typed(view, "probe height, read, mm", "6.1")
    for text, name, words in (
        ("a,b\n1,2\n", "<img src=x onerror=alert(1)>.csv", "must be headed by number, dimension, drawn_mm"),
        (
            "dimension,read_mm\n<b>,1\n",
            "mine.csv",
            "mine.csv, line 2, dimension = <b>: must be a dimension of four-slot-9g6",
        ),
        ("x", "a.exe", "must be a Touchstone one-port (.s1p) or a table of readings"),
    ):
        view.evaluate(DROP, [text, name, False])
        view.get_by_role("alert").filter(has_text=words).wait_for(timeout=PATIENCE_MS)
    assert view.locator("img[src=x]").count() == 0
    holds(view, "probe height, read, mm", "6.1")
    view.evaluate(DROP, ["# GHz S RI R 50\nx y z\n", "<b>.s1p", True])  # missed the field: this view has it
    view.get_by_text("S11 of the finished antenna: <b>.s1p").wait_for(timeout=PATIENCE_MS)
    press(view, "Work it out")
    told = view.get_by_role("alert").filter(has_text="<b>.s1p: cannot be read as a Touchstone one-port")
    told.wait_for(timeout=PATIENCE_MS)
    press(view, "Forget this file")
    view.get_by_text("S11 of the finished antenna: <b>.s1p").wait_for(state="detached")


def test_a_measured_curve_is_weighed_together_and_work_is_cancelled(view):
    press(view, "Work it out")
    said(view, "readings = (none): type at least one of them")
    view.evaluate(DROP, [BENCH.read_text(), "bench.s1p", False])
    view.get_by_text("S11 of the finished antenna: bench.s1p").wait_for(timeout=PATIENCE_MS)
    press(view, "Work it out")
    press(view, "Cancel")
    view.get_by_text("cancelled", exact=True).wait_for(timeout=PATIENCE_MS)
    press(view, "Work it out")
    view.get_by_text("The measured curve lies").wait_for(timeout=MINUTES_MS)
    view.get_by_role("heading", name="What can still be done").wait_for(timeout=MINUTES_MS)
    typed(view, "probe height, read, mm", "6.1")
    view.get_by_text("Something has changed since").wait_for(timeout=PATIENCE_MS)


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_axe_has_nothing_serious_to_say_of_results(view, colours):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is missing")
    view.emulate_media(color_scheme=colours)
    read_long_slots(view)
    press(view, "Work it out")
    view.get_by_role("heading", name="What can still be done").wait_for(timeout=MINUTES_MS)
    for width in (390, 1440):
        view.set_viewport_size({"width": width, "height": 844})
        view.wait_for_timeout(300)
        found = axe.Axe().run(view).response["violations"]
        assert [(one["id"], one["help"]) for one in found if one["impact"] in ("serious", "critical")] == []
        assert view.evaluate("document.documentElement.scrollWidth") <= width
