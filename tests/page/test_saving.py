"""Changing, taking back and saving a record in a real browser; two tabs at once; a server that is killed."""

from __future__ import annotations

import difflib
import re
import signal

import pytest
from page_steps import PATIENCE_MS, antenna, field, holds, press, said, state, typed

pytestmark = [pytest.mark.browser, pytest.mark.long]

RECORD = "eight-slot-5g8"


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    """The lines that went and those that came."""
    lines = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    return [line[2:] for line in lines if line[0] == "-"], [line[2:] for line in lines if line[0] == "+"]


def test_drag_undo_redo_and_save_with_comments_and_order(serve, tab):
    served = serve(RECORD)
    file = served.folder / f"{RECORD}.toml"
    before = file.read_text().replace("spacing_mm = 33.9", "spacing_mm = 33.9 # by the lathe")
    file.write_text(before)
    antenna(tab, served.address)
    tip = tab.locator('svg[data-view="side"] [data-handle="probe.tip"] .d-grip')
    box = tip.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.mouse.move(x, y + 8, steps=5)
    tab.mouse.up()
    height = field(tab, "height of the tip")
    state(tab).get_by_text("with changes that are not saved").wait_for(timeout=PATIENCE_MS)
    typed(tab, "inner length", "301")
    press(tab, "Undo")
    holds(tab, "inner length", "300.5")
    dragged = height.input_value()  # the end of the drag has been heard of by now
    assert 0 < float(dragged) < 11.5
    press(tab, "Undo")
    holds(tab, "height of the tip", "11.5")
    assert file.read_text() == before
    press(tab, "Redo")
    holds(tab, "height of the tip", dragged)
    press(tab, "Save")
    said(tab, f"Saved: {RECORD}.toml")
    went, came = changed_lines(before, file.read_text())
    assert went == ["height_mm = 11.5"]
    assert [line.split(" = ")[0] for line in came] == ["height_mm"] and float(
        came[0].split(" = ")[1]
    ) == float(dragged)
    assert sorted(path.name for path in served.folder.iterdir()) == [f"{RECORD}.toml"]


def test_keys_take_back_take_again_and_save(serve, tab):
    served = serve(RECORD)
    file = served.folder / f"{RECORD}.toml"
    antenna(tab, served.address)
    typed(tab, "inner length", "301")
    tab.keyboard.press("Control+z")
    holds(tab, "inner length", "300.5")
    tab.keyboard.press("Control+Shift+z")
    holds(tab, "inner length", "301")
    tab.keyboard.press("Control+s")
    said(tab, f"Saved: {RECORD}.toml")
    assert "length_mm = 301.0" in file.read_text()
    # Another field's own steps stay the browser's.
    tab.get_by_label("Save under another name").press_sequentially("other")
    tab.keyboard.press("Control+z")
    holds(tab, "inner length", "301")


def test_two_tabs_do_not_write_over_each_other(serve, tab):
    served = serve(RECORD)
    file = served.folder / f"{RECORD}.toml"
    antenna(tab, served.address)
    other = antenna(tab.context.new_page(), tab.url)
    typed(tab, "inner length", "301")
    typed(other, "inner length", "302")
    state(tab).get_by_text("not saved").wait_for(timeout=PATIENCE_MS)
    press(tab, "Save")
    said(tab, f"Saved: {RECORD}.toml")
    saved = file.read_text()
    assert "length_mm = 301.0" in saved
    state(other).get_by_text("not saved").wait_for(timeout=PATIENCE_MS)
    press(other, "Save")
    said(other, "was changed by another program or page since it was opened here")
    assert file.read_text() == saved
    other.get_by_label("Save under another name").fill("second")
    press(other, "Save as")
    said(other, "Saved: second.toml")
    second = (served.folder / "second.toml").read_text()
    assert "length_mm = 302.0" in second and 'name = "second"' in second
    assert file.read_text() == saved
    # A name that is taken is refused too.
    tab.get_by_label("Save under another name").fill("second.toml")
    press(tab, "Save as")
    said(tab, "is there already")
    assert (served.folder / "second.toml").read_text() == second


def test_unsaved_work_outlives_a_reload_and_a_killed_server(serve, tab):
    served = serve(RECORD)
    file = served.folder / f"{RECORD}.toml"
    before = file.read_text()
    antenna(tab, served.address)
    typed(tab, "inner length", "303.5")
    state(tab).get_by_text("not saved").wait_for(timeout=PATIENCE_MS)
    tab.wait_for_function("() => localStorage.length > 0", timeout=PATIENCE_MS)
    tab.reload()
    length = field(tab, "inner length")
    length.wait_for(timeout=PATIENCE_MS)
    assert length.input_value() == "303.5"
    served.stop(signal.SIGKILL)
    assert file.read_text() == before
    served = serve(folder=served.folder, words=(f"{RECORD}.toml",))
    assert re.match(r"http://[^/]+", served.address)[0] == re.match(r"http://[^/]+", tab.url)[0]
    antenna(tab, served.address)
    assert field(tab, "inner length").input_value() == "300.5"
    tab.get_by_text(f"This browser keeps unsaved work on {RECORD}.toml").wait_for(timeout=PATIENCE_MS)
    press(tab, "Go on with it")
    holds(tab, "inner length", "303.5")
    press(tab, "Save")
    said(tab, f"Saved: {RECORD}.toml")
    assert changed_lines(before, file.read_text()) == (["length_mm = 300.5"], ["length_mm = 303.5"])
    tab.wait_for_function("() => localStorage.length === 0", timeout=PATIENCE_MS)
