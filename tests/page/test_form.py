"""The form and the view to begin with in a real browser: what is typed is what the record gets."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from page_steps import wait_for_port

pytest.importorskip("nicegui", reason="the page's packages are missing")
sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is missing")

HERE = Path(__file__).parent
MODELS = HERE.parents[1] / "models"
HOSTILE = "<img src=x onerror='document.title=1'>"


class Shown:
    """A page with a form or the view to begin with."""

    def __init__(self, page: Any):
        self.page, self.errors = page, []
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("console", lambda told: told.type == "error" and self.errors.append(told.text))

    def field(self, name: str) -> Any:
        """The element of a field, by its dotted name."""
        return self.page.locator(f"[data-field='{name}']")

    def state(self) -> dict[str, Any]:
        """What is on the desk."""
        return json.loads(self.page.locator("#state").inner_text())

    def until(self, fits: Callable[[dict[str, Any]], Any], seconds: float = 10) -> dict[str, Any]:
        """The state of the desk, once it fits."""
        end = time.monotonic() + seconds
        while True:
            state = self.state()
            if state and fits(state):
                return state
            assert time.monotonic() < end, state
            self.page.wait_for_timeout(20)


@pytest.fixture(scope="module")
def address(tmp_path_factory) -> Iterator[str]:
    """A server on a folder of three records, one with a hostile title."""
    folder = tmp_path_factory.mktemp("form") / "antennas"
    folder.mkdir()
    for name in ("eight-slot-5g8", "eight-slot-wr90-10g37", "sixteen-slot-5g8-travelling"):
        shutil.copy(MODELS / f"{name}.toml", folder)
    text = (MODELS / "eight-slot-5g8.toml").read_text()
    (folder / "x.toml").write_text(text.replace("Eight-slot antenna in aluminium tube", HOSTILE))
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        port = sock.getsockname()[1]
    # That of a server, which would take itself for one of its own library's tests otherwise.
    known = {name: value for name, value in os.environ.items() if name != "PYTEST_CURRENT_TEST"}
    child = subprocess.Popen(
        [sys.executable, str(HERE / "form_page.py"), str(port), str(folder)],
        stdout=subprocess.DEVNULL,
        cwd=folder.parent,
        env=known | {"NICEGUI_STORAGE_PATH": str(folder.parent)},
    )
    try:
        wait_for_port(port)
        yield f"http://127.0.0.1:{port}/"
    finally:
        child.kill()
        child.wait()


@pytest.fixture
def shown(chromium, address) -> Iterator[Callable[..., Shown]]:
    """Opens the page with a record, or the view to begin with; what it threw fails the test."""
    views, contexts = [], []

    def opened(record: str = "", width: int = 1200) -> Shown:
        context = chromium.new_context(viewport={"width": width, "height": 900})
        contexts.append(context)
        views.append(Shown(context.new_page()))
        page = views[-1].page
        page.goto(f"{address}?record={record}" if record else address)
        page.wait_for_selector(".record-form summary" if record else "h2")
        page.wait_for_timeout(300)
        return views[-1]

    yield opened
    for context in contexts:
        context.close()
    assert [view.errors for view in views] == [[] for _ in views]


def test_a_typed_number_is_the_records_and_one_step_back(shown):
    view = shown("eight-slot-5g8")
    height = view.field("feed.height_mm")
    height.fill("")
    height.press_sequentially("11.95")
    assert view.until(lambda s: s["data"]["feed"].get("height_mm") == 11.95)["steps"] == 1
    height.press("Tab")
    view.page.locator("#undo").click()
    assert view.until(lambda s: s["steps"] == 0)["data"]["feed"]["height_mm"] == 11.5
    sync_api.expect(height).to_have_value("11.5")


def test_arrow_keys_go_to_what_can_be_marked(shown):
    view = shown("eight-slot-wr90-10g37")
    width = view.field("guide.a_mm")
    sync_api.expect(width).to_have_value("22.86")
    width.press("ArrowUp")
    view.until(lambda s: s["data"]["guide"]["a_mm"] == 22.9)
    width.press("ArrowDown")
    width.press("ArrowDown")
    view.until(lambda s: s["data"]["guide"]["a_mm"] == 22.7)
    width.press("Shift+ArrowUp")
    view.until(lambda s: s["data"]["guide"]["a_mm"] == 23.7)
    sync_api.expect(width).to_have_value("23.7")


def test_what_is_refused_is_said_at_its_field(shown):
    view = shown("eight-slot-5g8")
    height = view.field("feed.height_mm")
    height.fill("99")
    problem = view.page.locator("#field-feed-height_mm-problem")
    sync_api.expect(problem).to_have_text(
        "feed.height_mm = 99.0: the probe would touch the far wall; must be less than b_mm 20"
    )
    sync_api.expect(height).to_have_attribute("aria-invalid", "true")
    sync_api.expect(height).to_have_attribute("aria-describedby", "field-feed-height_mm-problem")
    height.fill("12,5")
    sync_api.expect(problem).to_have_text("feed.height_mm = 12,5: is not a number: do you mean 12.5?")
    sync_api.expect(height).to_have_value("12,5")
    height.fill("12.5")
    sync_api.expect(problem).to_have_count(0)
    assert view.state()["problems"] == {} and view.state()["data"]["feed"]["height_mm"] == 12.5


def test_text_from_a_file_is_text(shown):
    view = shown()
    assert view.page.get_by_text("<img src=x").count() == 1
    view.page.get_by_role("button", name="x.toml").click()
    view.until(lambda s: HOSTILE in s["data"]["title"])
    assert view.page.title() != "1" and view.page.locator("img[src=x]").count() == 0
    form = shown("x")
    sync_api.expect(form.field("title")).to_have_value(f"{HOSTILE}, 5.8 GHz")
    assert form.page.locator("img[src=x]").count() == 0


def test_another_kind_has_other_fields(shown):
    view = shown("eight-slot-5g8")
    view.field("feed.kind").select_option("bent-probe")
    view.until(lambda s: s["data"]["feed"]["kind"] == "bent-probe" and not s["problems"])
    sync_api.expect(view.field("feed.run_mm")).to_be_visible()
    sync_api.expect(view.field("feed.height_mm")).to_have_count(0)
    view.field("guide.laminate").check()
    view.until(lambda s: "laminate" in s["data"]["guide"])
    sync_api.expect(view.field("guide.laminate.permittivity")).to_have_value("4.4")


def test_slots_one_by_one(shown):
    view = shown("eight-slot-5g8")
    view.page.get_by_role("button", name="Write the slots out one by one").click()
    view.until(lambda s: len(s["data"].get("slot", ())) == 8)
    view.page.get_by_role("button", name="Remove slot 3").click()
    view.until(lambda s: len(s["data"]["slot"]) == 7)
    view.page.get_by_role("button", name="Add a slot").click()
    view.until(lambda s: len(s["data"]["slot"]) == 8 and not s["problems"])
    view.page.get_by_label("slot 2: offset, mm").fill("-4.4")
    view.until(lambda s: s["data"]["slot"][1]["offset_mm"] == -4.4)


def test_tables_come_and_go(shown):
    view = shown("eight-slot-5g8")
    view.field("mast").check()
    view.until(lambda s: "mast" in s["data"] and not s["problems"])
    view.field("mast.shape").select_option("wall")
    view.until(lambda s: s["data"]["mast"].get("shape") == "wall" and not s["problems"])
    sync_api.expect(view.field("mast.diameter_mm")).to_have_count(0)
    view.field("pair").check()
    problem = view.page.locator("#field-pair-problem")
    sync_api.expect(problem).to_contain_text("two antennas and a wall at once are not modelled")
    view.field("mast").uncheck()
    sync_api.expect(problem).to_have_count(0)
    view.field("pair.place").select_option("back to back")
    view.until(lambda s: s["data"]["pair"]["place"] == "back to back" and not s["problems"])
    view.field("mounting.tilt_deg").fill("<b>3")
    sync_api.expect(view.page.locator("#field-mounting-tilt_deg-problem")).to_have_text(
        "mounting.tilt_deg = <b>3: is not a number"
    )
    view.field("mounting.tilt_deg").fill("3")
    view.until(lambda s: s["data"]["mounting"]["tilt_deg"] == 3 and not s["problems"])


def test_tape_row_by_row(shown):
    view = shown("eight-slot-5g8")
    more = view.page.get_by_role("button", name="Add a piece of tape")
    more.click()
    more.click()
    view.until(lambda s: [row["end"] for row in s["data"].get("tape", ())] == ["near", "far"])
    view.page.get_by_label("tape 2: number of the slot").fill("9")
    sync_api.expect(view.page.locator("#field-tape-2-slot-problem")).to_have_text(
        "tape 2 slot = 9: there is no such slot; must be 1 to 8"
    )
    view.page.get_by_label("tape 2: number of the slot").fill("3")
    view.page.get_by_label("tape 2: covers, mm").fill("1.4")
    state = view.until(lambda s: not s["problems"] and s["data"]["tape"][1]["covers_mm"] == 1.4)
    assert state["data"]["tape"][1]["slot"] == 3
    view.page.get_by_role("button", name="Remove tape 1").click()
    view.until(lambda s: [row["slot"] for row in s["data"]["tape"]] == [3])
    view.page.get_by_role("button", name="Remove tape 1").click()
    view.until(lambda s: "tape" not in s["data"] and not s["problems"])


def test_sixteen_slots_stay_quick(shown):
    """Keys as fast as a person holds one down; nothing typed is lost or put back."""
    view = shown("sixteen-slot-5g8-travelling")
    assert view.page.locator(".slots input").count() == 64
    offset = view.field("slot.3.offset_mm")
    offset.focus()
    start = time.monotonic()
    for _ in range(40):
        view.page.keyboard.press("ArrowUp")
    view.until(lambda s: s["data"]["slot"][2]["offset_mm"] == 7.5)
    assert time.monotonic() - start < 10  # s; seen: 1.2 on an idle machine
    sync_api.expect(offset).to_have_value("7.5")
    assert view.state()["steps"] == 1


@pytest.mark.parametrize("width", [390, 768, 1440])
def test_nothing_is_wider_than_the_window(shown, width):
    view = shown("sixteen-slot-5g8-travelling", width=width)
    assert view.page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_sketch_of_the_field_in_hand(shown):
    view = shown("eight-slot-5g8", width=390)
    view.field("guide.b_mm").focus()
    sketch = view.page.locator(".sketch.inline svg title")
    sync_api.expect(sketch).to_have_text("inner height")
    view.field("feed.position_mm").focus()
    sync_api.expect(sketch).to_have_text("from the near end")


def test_every_field_has_a_name(shown):
    view = shown("sixteen-slot-5g8-travelling")
    nameless = view.page.evaluate(
        "Array.from(document.querySelectorAll('[data-field]')).filter((e) => !e.labels?.length && "
        "!e.getAttribute('aria-label')).map((e) => e.dataset.field)"
    )
    assert nameless == []


def test_an_empty_box_and_another_record(shown):
    view = shown()
    view.page.get_by_role("button", name="Empty box").click()
    assert view.until(lambda s: s["data"]["name"] == "new-antenna")["problems"] == {}
    view.page.get_by_role("button", name="eight-slot-5g8.toml").first.click()
    assert view.until(lambda s: s["data"]["name"] == "eight-slot-5g8")["dirty"] is False


def test_unsaved_work_goes_only_when_it_is_let_go(shown):
    view = shown()
    view.page.get_by_role("button", name="eight-slot-5g8.toml").first.click()
    view.field("feed.height_mm").fill("11.9")
    view.until(lambda s: s["dirty"])
    other = view.page.get_by_role("button", name="eight-slot-wr90-10g37.toml").first
    other.click()
    sync_api.expect(view.page.get_by_role("alert")).to_contain_text("has changes that are not saved")
    view.page.get_by_role("button", name="Keep them").click()
    sync_api.expect(view.page.get_by_role("alert")).to_be_empty()
    assert view.state()["data"]["feed"]["height_mm"] == 11.9
    other.click()
    view.page.get_by_role("button", name="Let them go").click()
    view.until(lambda s: s["data"]["name"] == "eight-slot-wr90-10g37")
    sync_api.expect(view.field("feed.height_mm")).to_have_value("6.1")


def test_the_questions_and_a_design(shown):
    """An invented antenna of two slots, the quickest there is."""
    view = shown()
    page = view.page
    page.get_by_role("button", name="Show the questions").click()
    band, slots = page.get_by_label("Band in GHz"), page.get_by_label("Slots: how many")
    band.fill("9600")
    sync_api.expect(page.get_by_text("do you mean 9.6?")).to_be_visible(timeout=20_000)
    sync_api.expect(page.get_by_role("button", name="Design it")).to_be_disabled()
    band.fill("9.6")
    slots.fill("2")
    sync_api.expect(page.get_by_role("button", name="Design it")).to_be_enabled()
    page.get_by_role("button", name="Design it").click()
    state = view.until(lambda s: s["data"]["band"]["centre_ghz"] == 9.6, seconds=120)
    assert len(state["data"]["slot"]) == 2 and state["dirty"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("record", ["", "eight-slot-5g8", "sixteen-slot-5g8-travelling"])
def test_no_serious_findings_for_those_who_do_not_see_it(shown, record, scheme):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is missing")
    view = shown(record)
    view.page.emulate_media(color_scheme=scheme)
    if record:
        view.page.locator("[data-field='feed.height_mm']").fill("99")
        view.page.wait_for_selector("[aria-invalid=true]")
    else:
        view.page.get_by_role("button", name="Show the questions").click()
        view.page.get_by_label("Band in GHz").fill("5,8")
        view.page.wait_for_selector("[aria-invalid=true]")
    found = axe.Axe().run(view.page).response["violations"]
    serious = {
        one["id"]: one["nodes"][0]["html"] for one in found if one["impact"] in ("serious", "critical")
    }
    assert serious == {}
