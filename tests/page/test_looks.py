"""How every view stands on a phone, a tablet and a desk, light and dark: for eyes, fingers and readers."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from page_steps import PATIENCE_MS, field, press

ROOT = Path(__file__).parents[2]
VIEWS = {
    "Begin": "Begin with an empty box",
    "Antenna": "What it does",
    "Full wave": "What shall be computed",
    "Side by side": "Stored runs",
    "Sheets and report": "Cut sheets and build list",
    "As built": "What was read",
}
LEAST_TARGET_PX = 24

pytestmark = [pytest.mark.browser, pytest.mark.long]

TARGETS = "button, a[href], input, select, textarea, summary, .d-reach"
SMALL_TARGETS = """([targets, least]) => [...document.querySelectorAll(targets)]
  .filter(at => at.offsetParent !== null || at.ownerSVGElement)
  .map(at => [at, (at.closest("label") || at).getBoundingClientRect()])
  .filter(([at, box]) => box.width > 0 && Math.min(box.width, box.height) < least - 0.1)
  .map(([at, box]) => `${at.tagName} ${at.textContent.trim()} ${at.className} ${box.width}x${box.height}`)"""


@pytest.fixture
def workshop(serve, tab, tmp_path):
    """A folder with a stored run, and the page at its record."""
    folder = tmp_path / "workshop"
    folder.mkdir()
    shutil.copytree(ROOT / "docs" / "runs", folder / "runs")
    shutil.copy(ROOT / "docs" / "four-slot-9g6.toml", folder)
    served = serve(folder=folder, words=("four-slot-9g6.toml",))
    tab.goto(served.address)
    field(tab, "inner width").wait_for(timeout=PATIENCE_MS)
    tab.get_by_text("Curves and figures are those of the estimate.").wait_for(timeout=PATIENCE_MS)
    tab.get_by_text("Dashed: the full-wave run four-slot-9g6").wait_for(timeout=PATIENCE_MS)
    return served


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_view_is_for_everybody(workshop, tab, scheme):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    tab.emulate_media(color_scheme=scheme)
    found = []
    for width in (390, 768, 1440):
        tab.set_viewport_size({"width": width, "height": 844})
        for view, words in VIEWS.items():
            press(tab, view)
            tab.get_by_role("heading", name=words).wait_for(timeout=PATIENCE_MS)
            if view == "Begin" and tab.get_by_role("button", name="Show the questions").count():
                press(tab, "Show the questions")
                tab.get_by_role("button", name="Design it").wait_for(timeout=PATIENCE_MS)
            tab.wait_for_timeout(300)
            here = f"{view}, {width} px: "
            found += [
                f"{here}{item['id']}: {node['html'][:120]}"
                for item in axe.run(tab).response["violations"]
                if item["impact"] in ("serious", "critical")
                for node in item["nodes"]
            ]
            wide = tab.evaluate("document.documentElement.scrollWidth")
            found += [f"{here}{wide} px wide"] if wide > width else []
            found += [here + small for small in tab.evaluate(SMALL_TARGETS, [TARGETS, LEAST_TARGET_PX])]
    assert not found, "\n".join(found)


def test_the_match_stays_in_sight_on_a_phone(workshop, tab):
    tab.set_viewport_size({"width": 390, "height": 844})
    height = field(tab, "height of the tip")
    height.focus()
    tab.wait_for_timeout(300)
    curve = tab.locator(".strip .chart").bounding_box()
    entry = height.bounding_box()
    assert curve["y"] >= 0 and curve["y"] + curve["height"] <= entry["y"] < 844
    drawn = "document.querySelector('.strip svg').innerHTML"
    before = tab.evaluate(drawn)
    height.press("ArrowUp")
    tab.wait_for_function(f"before => {drawn} !== before", arg=before, timeout=PATIENCE_MS)
    # What is refused is said there too, as long as it is, wherever its field stands.
    length = field(tab, "inner length")
    length.fill("60")
    headline = tab.locator(".strip .headline")
    headline.get_by_text(
        "Refused: slot 3 position_mm = 69.6: the slot runs past an end of the guide"
    ).wait_for(timeout=PATIENCE_MS)
    length.fill("101.7")
    headline.get_by_text("by the estimate: S11 in the band at most").wait_for(timeout=PATIENCE_MS)
