"""The whole way of a user in a real browser: from an empty folder to a report; once by keyboard alone."""

from __future__ import annotations

import re

import pytest
from page_steps import PATIENCE_MS, field, holds, press, said, state, typed

from simharness.jobs.queue import Queue
from simharness.records import read_record

pytestmark = pytest.mark.browser


@pytest.mark.solver
def test_from_an_empty_folder_to_a_report(serve, tab):
    """One slot in a small box, draft mesh: some seconds of the real solver."""
    served = serve()
    folder = served.folder
    tab.goto(served.address)
    press(tab, "Empty box")
    field(tab, "inner width").wait_for(timeout=PATIENCE_MS)
    typed(tab, "name", "first-box")
    typed(tab, "height of the tip", "9.8")
    typed(tab, "largest S11 wanted", "-5")
    tab.get_by_text("Curves and figures are those of the estimate.").wait_for(timeout=PATIENCE_MS)
    assert list(folder.iterdir()) == []  # nothing is written before the click
    press(tab, "Save")
    said(tab, "Saved: first-box.toml")
    record = read_record(folder / "first-box.toml")
    assert (record.name, record.feed.height_mm, record.band.target_s11_db) == ("first-box", 9.8, -5.0)

    press(tab, "Full wave")
    press(tab, "Start")
    said(tab, "Added as number 1. It goes on when this page is closed.")
    press(tab, "Antenna")
    settling = tab.locator(".strip svg text").filter(has_text=re.compile("^S11 "))
    finished = tab.get_by_text(
        re.compile(r"^Dashed: the full-wave run first-box\S* \(draft mesh\); nothing has")
    )
    settling.or_(finished).first.wait_for(
        timeout=PATIENCE_MS
    )  # a run of four seconds is over before the first look
    finished.wait_for(timeout=2 * PATIENCE_MS)
    said(tab, "Finished")
    gain = tab.get_by_role("row", name=re.compile("^realized gain")).get_by_role("cell").all_inner_texts()
    estimate, wave = (float(re.match(r"\S+(?= (± \S+ )?dBi)", words)[0]) for words in gain)
    assert wave == pytest.approx(estimate, abs=1.0)  # dB: two independent methods, on a draft mesh
    typed(tab, "height of the tip", "9.9")
    tab.get_by_text("changed since: feed.height_mm 9.8 to 9.9").wait_for(timeout=PATIENCE_MS)
    press(tab, "Undo")
    holds(tab, "height of the tip", "9.8")

    press(tab, "Sheets and report")
    press(tab, "Write the report")
    said(tab, "Written: report-first-box.html")
    written = sorted(path.name for path in folder.iterdir())
    assert written == ["first-box.toml", "report-first-box.html", "report-first-box.pdf", "runs"]
    assert (folder / "report-first-box.pdf").read_bytes().startswith(b"%PDF")
    tab.wait_for_timeout(100)
    assert state(tab).inner_text() == "first-box.toml"
    assert [job.state for job in Queue(folder / "runs").jobs()] == ["finished"]


@pytest.mark.long
def test_from_start_to_a_saved_record_by_keyboard_alone(serve, tab):
    served = serve()
    tab.goto(served.address)
    tab.get_by_role("button", name="Empty box", exact=True).wait_for(timeout=PATIENCE_MS)
    keys = tab.keyboard

    def reach(label: str, most: int = 120) -> None:
        """Press Tab until an element of this label or text has the focus, which can be seen."""
        for _ in range(most):
            keys.press("Tab")
            found, seen = tab.evaluate("""() => {
                const at = document.activeElement, label = at.labels && at.labels[0];
                const words = at.getAttribute("aria-label") || (label ? label.textContent : at.textContent);
                const box = at.getBoundingClientRect();
                const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
                return [words.trim(), getComputedStyle(at).outlineStyle !== "none" && at.contains(top)];
            }""")
            if found.startswith(label):
                assert seen, f"the focus on {label} cannot be seen"
                return
        raise AssertionError(f"Tab does not lead to {label}")

    reach("Empty box")
    keys.press("Enter")
    field(tab, "inner width").wait_for(timeout=PATIENCE_MS)
    reach("height of the tip")
    height = float(field(tab, "height of the tip").input_value())
    keys.press("ArrowUp")
    keys.press("ArrowUp")
    holds(tab, "height of the tip", f"{height + 0.2:g}")
    reach("name")
    keys.press("Control+a")
    keys.type("by-keys")
    keys.press("Tab")
    state(tab).get_by_text("not saved yet").wait_for(timeout=PATIENCE_MS)
    reach("Save")
    keys.press("Enter")
    said(tab, "Saved: by-keys.toml")
    record = read_record(served.folder / "by-keys.toml")
    assert record.feed.height_mm == pytest.approx(height + 0.2, abs=1e-9)


@pytest.mark.long
def test_a_design_asked_for_on_the_page_is_saved_and_drawn(serve, tab):
    served = serve()
    tab.goto(served.address)
    press(tab, "Show the questions")
    tab.get_by_role("button", name="Design it").wait_for(timeout=PATIENCE_MS)
    for label, words in (("Band in GHz", "9.6"), ("Metal", "guide WR-90"), ("Slots: how many", "4")):
        tab.get_by_label(re.compile(f"^{label}")).fill(words)
    press(tab, "Design it")
    field(tab, "inner width").wait_for(timeout=2 * PATIENCE_MS)
    tab.get_by_text(re.compile("^Target met by the estimate")).wait_for(timeout=PATIENCE_MS)
    press(tab, "Save")
    said(tab, "Saved: 4-slot-9g6.toml")
    record = read_record(served.folder / "4-slot-9g6.toml")
    assert (record.guide.a_mm, len(record.slots), record.band.centre_ghz) == (22.86, 4, 9.6)
    press(tab, "Sheets and report")
    press(tab, "Write the sheets")
    said(tab, "Written to sheets-4-slot-9g6")
    assert (served.folder / "sheets-4-slot-9g6" / "tube-front.dxf").is_file()
    press(tab, "Write the report")
    said(tab, "has no full-wave run yet; begin one under 'Full wave'")
    assert sorted(path.name for path in served.folder.iterdir()) == ["4-slot-9g6.toml", "sheets-4-slot-9g6"]
