"""The drawing in a real browser: what is grabbed by mouse, finger or key is what the record gets."""

from __future__ import annotations

import json
import os
import queue
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from page_steps import wait_for_port

pytest.importorskip("nicegui", reason="the page's packages are missing")
pytest.importorskip("playwright", reason="playwright is missing")

HERE = Path(__file__).parent
MODELS = HERE.parents[1] / "models"


@dataclass
class Shown:
    """A page with a drawing, and what its server was told."""

    page: Any
    told: queue.Queue

    def handle(self, view: str, key: str) -> Any:
        """A handle of a view."""
        return self.page.locator(f'svg[data-view="{view}"] [data-handle="{key}"]')

    def middle(self, view: str, key: str) -> tuple[float, float]:
        """Where a handle stands, in pixels of the window."""
        box = self.handle(view, key).locator(".d-grip").bounding_box()
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def scale(self) -> float:
        """Pixels in a millimetre."""
        return self.page.eval_on_selector(
            'svg[data-view="front"]', "svg => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width"
        )

    def changes(self, until_final: bool = True) -> list[dict]:
        """What the server was told, up to the end of a gesture or until nothing more comes."""
        found = []
        while True:
            try:
                told = self.told.get(timeout=10 if until_final else 1)
            except queue.Empty:
                if until_final:
                    raise AssertionError(f"no gesture came to its end: {found}") from None
                return found
            if "fields" in told:
                found.append(told)
                if told["final"] and until_final:
                    self.page.wait_for_timeout(150)
                    return found

    def drag(self, view: str, key: str, by: tuple[float, float], steps: int = 5) -> list[dict]:
        """Drag a handle by whole pixels with the mouse."""
        x, y = map(round, self.middle(view, key))
        mouse = self.page.mouse
        mouse.move(x, y)
        mouse.down()
        mouse.move(x + by[0], y + by[1], steps=steps)
        mouse.up()
        return self.changes()


def _environment() -> dict[str, str]:
    """That of a server, which would take itself for one of its own library's tests otherwise."""
    return {name: value for name, value in os.environ.items() if name != "PYTEST_CURRENT_TEST"}


def _free_port() -> int:
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        return sock.getsockname()[1]


@pytest.fixture(scope="module")
def servers(tmp_path_factory) -> Iterator[Callable[[str], tuple[int, queue.Queue]]]:
    """Servers by their record, each started once: every tab has a desk of its own."""
    children, started = [], {}
    folder = tmp_path_factory.mktemp("servers")

    def server(record: str) -> tuple[int, queue.Queue]:
        if record not in started:
            port, told = _free_port(), queue.Queue()
            child = subprocess.Popen(
                [sys.executable, str(HERE / "drawing_page.py"), str(port), str(MODELS / f"{record}.toml")],
                stdout=subprocess.PIPE,
                text=True,
                cwd=folder,
                env=_environment() | {"NICEGUI_STORAGE_PATH": str(folder)},
            )
            children.append(child)
            threading.Thread(target=_read, args=(child, told), daemon=True).start()
            wait_for_port(port)
            started[record] = port, told
        return started[record]

    yield server
    for child in children:
        child.kill()
        child.wait()
        child.stdout.close()


@pytest.fixture
def shown(chromium, servers) -> Iterator[Callable[..., Shown]]:
    """Opens the page of a record."""
    contexts = []

    def opened(record: str, touch: bool = False, width: int = 1200, colours: str = "light") -> Shown:
        port, told = servers(record)
        while not told.empty():
            told.get()
        context = chromium.new_context(
            viewport={"width": width, "height": 900}, has_touch=touch, color_scheme=colours
        )
        contexts.append(context)
        page = context.new_page()
        page.goto(f"http://127.0.0.1:{port}/")
        page.wait_for_selector('svg[data-view="end"]')
        page.wait_for_timeout(300)
        return Shown(page, told)

    yield opened
    for context in contexts:
        context.close()


def _read(child: subprocess.Popen, told: queue.Queue) -> None:
    assert child.stdout is not None
    for line in child.stdout:
        if line.startswith("{"):
            told.put(json.loads(line))


def test_a_slot_dragged_by_pixels_goes_as_many_millimetres(shown):
    drawing = shown("sixteen-slot-5g8-travelling")
    scale = drawing.scale()
    changes = drawing.drag("front", "slot.3.body", (10, 0))
    last = changes[-1]
    # 115.0 mm as in the record; what can be marked is a tenth of a millimetre.
    assert last["fields"] == {"slot.3.position_mm": round(115.0 + 10 / scale, 1)}
    assert all(round(c["fields"]["slot.3.position_mm"] * 10, 6).is_integer() for c in changes)
    assert len({c["gesture"] for c in changes}) == 1
    assert [c["final"] for c in changes] == [False] * (len(changes) - 1) + [True]
    x, _ = drawing.middle("front", "slot.3.body")
    shown_value = drawing.handle("front", "slot.3.body").get_attribute("aria-valuenow")
    assert float(shown_value) == last["fields"]["slot.3.position_mm"]
    tip, _ = drawing.middle("front", "slot.3.far-tip")
    assert (tip - x) / scale == pytest.approx(24.2 / 2, abs=0.3 / scale)  # half the slot's length, in pixels


def test_across_is_up(shown):
    drawing = shown("two-faced-5g8")
    scale = drawing.scale()
    last = drawing.drag("front", "front.1.body", (0, -12))[-1]
    assert last["fields"] == {"slot_rule.offset_mm": round(5.5 + 12 / scale, 1)}


def test_the_end_of_a_slot_makes_it_longer_on_both_sides(shown):
    drawing = shown("eight-slot-5g8")
    scale = drawing.scale()
    last = drawing.drag("front", "front.1.far-tip", (8, 0))[-1]
    assert last["fields"] == {"slot_rule.length_mm": round(25.2 + 2 * 8 / scale, 1)}


def test_another_slot_changes_the_spacing(shown):
    drawing = shown("eight-slot-5g8")
    scale = drawing.scale()
    last = drawing.drag("front", "front.3.body", (20, 0))[-1]
    assert last["fields"] == {"slot_rule.spacing_mm": round(33.9 + 20 / scale / 2, 1)}


def test_arrow_keys_step_and_shift_takes_ten(shown):
    drawing = shown("eight-slot-5g8")
    drawing.handle("side", "probe.tip").focus()
    keyboard = drawing.page.keyboard
    keyboard.press("ArrowUp")
    assert drawing.changes()[-1]["fields"] == {"feed.height_mm": 11.6}
    keyboard.press("Shift+ArrowUp")
    assert drawing.changes()[-1]["fields"] == {"feed.height_mm": 12.6}
    keyboard.press("ArrowDown")
    assert drawing.changes()[-1]["fields"] == {"feed.height_mm": 12.5}
    assert drawing.handle("side", "probe.tip").get_attribute("aria-valuetext") == "12.5 mm"


def test_a_held_key_is_one_gesture(shown):
    drawing = shown("eight-slot-5g8")
    drawing.handle("front", "front.1.body").focus()
    for _ in range(4):
        drawing.page.keyboard.down("ArrowLeft")
    drawing.page.keyboard.up("ArrowLeft")
    changes = drawing.changes()
    assert len({c["gesture"] for c in changes}) == 1
    assert changes[-1]["fields"] == {"slot_rule.first_mm": 45.6}


def test_by_keys_alone_from_the_top_of_the_page(shown):
    drawing = shown("bent-probe-5g8")
    keyboard, named = drawing.page.keyboard, []
    for _ in range(12):
        keyboard.press("Tab")
        named.append(
            drawing.page.evaluate(
                "document.activeElement.closest('svg[data-view]')?.dataset.view + '/' + "
                "document.activeElement.dataset.handle"
            )
        )
        if named[-1] == "side/hole":
            break
    assert {"front/front.1.body", "front/front.1.far-tip", "front/front.2.body", "front/riser"} <= set(named)
    keyboard.press("ArrowUp")
    assert drawing.changes()[-1]["fields"] == {"feed.hole_height_mm": 7.1}


def test_by_finger(shown):
    drawing = shown("four-slot-tube-2g44", touch=True, width=800)
    scale, (x, y) = drawing.scale(), drawing.middle("side", "probe.tip")
    touch = drawing.page.context.new_cdp_session(drawing.page)
    points = [{"x": x, "y": y}]
    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": points})
    for i in range(1, 6):
        points = [{"x": x, "y": y - 2 * i}]
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": points})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    last = drawing.changes()[-1]
    assert last["fields"] == {"feed.height_mm": round(26.9 + 10 / scale, 1)}


def test_a_refused_value_leaves_the_shape_and_marks_the_handle(shown):
    drawing = shown("eight-slot-5g8")
    wire = drawing.page.locator('svg[data-view="side"] [data-shape="wire"]')
    before, at = wire.bounding_box(), drawing.middle("side", "probe.tip")
    last = drawing.drag("side", "probe.tip", (0, -100), steps=1)[-1]  # 20 mm high inside, so it would touch
    assert last["refused"] == ["feed.height_mm"]
    handle = drawing.handle("side", "probe.tip")
    assert handle.get_attribute("aria-invalid") == "true"
    assert wire.bounding_box() == before
    assert drawing.middle("side", "probe.tip") == pytest.approx(at, abs=0.5)
    drawing.drag("side", "probe.tip", (0, 5), steps=1)
    assert handle.get_attribute("aria-invalid") == "false"
    assert wire.bounding_box()["height"] < before["height"]


def test_a_handle_is_marked_whose_value_is_refused_for_another_field(shown):
    drawing = shown("eight-slot-5g8")
    last = drawing.drag("front", "front.1.body", (60, 0), steps=1)[-1]  # the last slot runs past the end
    assert "slot_rule.first_mm" not in last["refused"] and last["refused"]
    assert drawing.handle("front", "front.1.body").get_attribute("aria-invalid") == "true"
    drawing.page.click("#undo")
    drawing.page.wait_for_timeout(200)
    assert drawing.handle("front", "front.1.body").get_attribute("aria-invalid") == "false"


def test_undo_takes_a_whole_drag_back(shown):
    drawing = shown("eight-slot-5g8")
    before = drawing.middle("side", "probe.tip")
    drawing.drag("side", "probe.tip", (0, -12), steps=6)
    assert drawing.middle("side", "probe.tip")[1] < before[1] - 8
    drawing.page.click("#undo")
    drawing.page.wait_for_timeout(200)
    assert drawing.middle("side", "probe.tip") == pytest.approx(before, abs=0.5)


def test_escape_takes_a_movement_back(shown):
    drawing = shown("eight-slot-5g8")
    x, y = drawing.middle("side", "length")
    drawing.page.mouse.move(x, y)
    drawing.page.mouse.down()
    drawing.page.mouse.move(x + 15, y, steps=3)
    drawing.page.keyboard.press("Escape")
    assert drawing.changes()[-1]["fields"] == {"guide.length_mm": 300.5}
    drawing.page.mouse.up()
    assert drawing.changes(until_final=False) == []


def test_the_drawing_is_true_to_scale_when_asked(shown):
    drawing = shown("eight-slot-5g8", width=390)
    drawing.page.get_by_label("true size").check()
    drawing.page.wait_for_timeout(100)
    assert drawing.scale() == pytest.approx(96 / 25.4, rel=3e-5)  # laid out in 64ths of a pixel
    drawing.page.get_by_label("the bar measures").fill("47.5")
    drawing.page.wait_for_timeout(100)
    assert drawing.scale() == pytest.approx(96 / 25.4 * 50 / 47.5, rel=3e-5)


def test_each_handle_is_large_enough_and_named(shown):
    drawing = shown("bent-slot-5g8", width=390)
    sizes = drawing.page.eval_on_selector_all(
        ".d-reach", "all => all.map(each => each.getBoundingClientRect().width)"
    )
    assert min(sizes) >= 24  # pixels: WCAG 2.2, target size
    names = drawing.page.eval_on_selector_all(
        "[role=slider]", "all => all.map(each => each.getAttribute('aria-label'))"
    )
    assert all(len(name) > 10 for name in names)


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_axe_has_nothing_serious_to_say(shown, colours):
    from axe_playwright_python.sync_playwright import Axe

    drawing = shown("sixteen-slot-5g8-travelling", colours=colours)
    drawing.drag("side", "probe.tip", (0, -100), steps=1)  # refused, so that a mark is shown as well
    drawing.page.get_by_label("true size").check()
    found = Axe().run(drawing.page, "div.drawing").response["violations"]
    assert [each["id"] for each in found if each["impact"] in ("serious", "critical")] == []
