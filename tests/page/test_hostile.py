"""Hostile records, names and files in a real browser: they are shown as they are, and reach nothing."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import pytest
from page_steps import PATIENCE_MS, field, press, said, state, typed

from simharness.printable import quoted

ROOT = Path(__file__).parents[2]
RUN = "four-slot-9g6-8ac674ebc42b45b2"
TITLE = "<script>alert(1)</script><img src=x onerror=alert(1)>${x} {{7*7}}"
NOTE = "</textarea><script>alert(2)</script> {{constructor.constructor('alert(3)')()}}"
NAMES = ("<script>alert(4)<", 'a"b', "<img src=x onerror=alert(5)>", "it's {{7*7}}")

pytestmark = pytest.mark.browser


@pytest.fixture
def hostile(serve, tab, tmp_path):
    """A folder of hostile things, and a tab in which no script of theirs may run."""
    folder = tmp_path / "workshop"
    (folder / "runs").mkdir(parents=True)
    text = (ROOT / "models" / "eight-slot-5g8.toml").read_text()
    title = text.split('title = "')[1].split('"')[0]
    text = text.replace(title, TITLE).replace("name = ", "# <script>alert(6)</script>\nname = ")
    note = text.split('note = "')[1].split('"')[0]
    for name in NAMES:
        (folder / f"{name}.toml").write_text(text.replace(note, NOTE))
    shutil.copytree(ROOT / "docs" / "runs" / RUN, folder / "runs" / NAMES[2])
    (folder / "runs" / NAMES[1]).mkdir()
    tab.on("dialog", lambda dialog: pytest.fail(f"a script ran: {dialog.message}"))
    served = serve(folder=folder)
    tab.goto(served.address)
    tab.get_by_role("heading", name="Records in workshop").wait_for(timeout=PATIENCE_MS)
    return served


def everything(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def nothing_ran(tab) -> None:
    """No element of theirs stands in the page."""
    assert tab.locator("img[onerror], img[src=x], script:has-text('alert')").count() == 0
    assert "49" not in tab.locator("h1").inner_text()


@pytest.mark.long
def test_hostile_records_are_shown_as_they_are_in_every_view(hostile, tab):
    before = everything(hostile.folder.parent)
    for name in NAMES:
        press(tab, "Begin")
        press(tab, f"{name}.toml")
        field(tab, "title").wait_for(timeout=PATIENCE_MS)
        state(tab).get_by_text(f"{name}.toml", exact=True).wait_for(timeout=PATIENCE_MS)
        assert tab.locator("h1").inner_text() == TITLE
        assert field(tab, "title").input_value() == TITLE
        assert field(tab, "note").input_value() == NOTE
        nothing_ran(tab)
    tab.get_by_text("Curves and figures are those of the estimate.").wait_for(timeout=PATIENCE_MS)
    for view, words in (
        ("Full wave", "What shall be computed"),
        ("Side by side", "Stored runs"),
        ("Sheets and report", "Cut sheets and build list"),
    ):
        press(tab, view)
        tab.get_by_role("heading", name=words).wait_for(timeout=PATIENCE_MS)
        tab.wait_for_timeout(500)
        nothing_ran(tab)
    press(tab, "Look at the sheets")
    tab.locator(".parts img").first.wait_for(timeout=PATIENCE_MS)
    press(tab, "Side by side")
    press(tab, "Add the record as it is now")
    tab.get_by_role("button", name="Take away").first.wait_for(timeout=PATIENCE_MS)
    nothing_ran(tab)
    assert everything(hostile.folder.parent).keys() == before.keys()


@pytest.mark.long
def test_names_that_lead_out_of_the_folder_are_refused(hostile, tab):
    before = {path: data for path, data in everything(hostile.folder.parent).items() if path.endswith("toml")}
    press(tab, f"{NAMES[1]}.toml")
    field(tab, "title").wait_for(timeout=PATIENCE_MS)
    typed(tab, "inner length", "301")
    for name in ("../x", "a/b", "con\x00", "..", ".", "/etc/x", "a\\b", "x.toml/", "<b>", "x" * 60, ""):
        tab.get_by_label("Save under another name").fill(name)
        press(tab, "Save as")
        ending = "" if name.endswith(".toml") else ".toml"
        said(tab, f"file = {quoted(name + ending)}: must be a plain name of a-z, 0-9 and hyphens")
        assert "refused" in tab.locator(".said").get_attribute("class")
    nothing_ran(tab)
    after = {path: data for path, data in everything(hostile.folder.parent).items() if path.endswith("toml")}
    assert after == before
    assert not (hostile.folder.parent / "x.toml").exists()
    # Its own file may be saved, whatever its name.
    press(tab, "Save")
    said(tab, 'Saved: a"b.toml')
    assert "length_mm = 301.0" in (hostile.folder / 'a"b.toml').read_text()


def memory_mb(process: int) -> float:
    """The resident memory of a process."""
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return float(line.split()[1]) / 1024
    raise AssertionError("no such process")


_DROP = """async (size) => {
  const data = new DataTransfer();
  data.items.add(new File([new Uint8Array(size)], "<b>large</b>.s1p"));
  document.querySelector(".drop").dispatchEvent(
    new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
}"""
_POST = """async ([path, size]) => {
  try { return (await fetch(path, { method: "POST", body: new Uint8Array(size) })).status; }
  catch (error) { return 0; }  // the server hung up before it was read
}"""


def test_fifty_megabytes_are_refused_at_once_and_not_kept(serve, tab):
    served = serve("eight-slot-5g8")
    tab.goto(served.address)
    press(tab, "Side by side")
    tab.locator(".drop").wait_for(timeout=PATIENCE_MS)
    before, begun = memory_mb(served.child.pid), time.monotonic()
    tab.evaluate(_DROP, 50_000_000)
    said(tab, "must be at most 2 MB")
    assert time.monotonic() - begun < 5  # s; half a second where little else is at work
    # A browser that does not look at the size is refused too, and takes its time to send it.
    assert tab.evaluate(_POST, ["/_simharness/x/dropped/1", 50_000_000]) in (0, 413)
    assert memory_mb(served.child.pid) - before < 100
    tab.get_by_role("button", name="Begin", exact=True).click()
    tab.get_by_role("heading", name="Begin with an empty box").wait_for(timeout=PATIENCE_MS)
