"""The report of a run: what stands in the page and in the PDF, and that the page needs nothing beside it.

The run is invented: reflection and pattern of the plain stand-ins in `toy_antenna`. Expected words and
numbers come from the record, the scene and the verdict of that run, worked out here once more.
"""

from __future__ import annotations

import base64
import ctypes
import itertools
import json
import re
import shutil
import subprocess
import tomllib
from dataclasses import replace
from html.parser import HTMLParser
from importlib import import_module
from pathlib import Path

import numpy as np
import pypdfium2
import pypdfium2.raw
import pytest
from toy_antenna import FREQUENCY, reflection, row_factor

from simharness.em.pattern.far_field import FarField, directivity, radiated_power
from simharness.errors import InputError
from simharness.estimate.antenna import estimate
from simharness.figures import number
from simharness.files import atomic_write_text
from simharness.geometry import antenna_scene
from simharness.improvement import stored as stored_advice
from simharness.improvement.stored import Advice
from simharness.plot.gain_body import RANGE_DB
from simharness.records import parse_record
from simharness.report import pictures as pictures_module
from simharness.report import write_report
from simharness.report.content import report_content, with_minus_signs
from simharness.report.model import model_data
from simharness.report.page import page_text
from simharness.report.pictures import TITLES, Picture, added_picture, strongest_direction
from simharness.results.outputs import Results, write_results
from simharness.runs.store import Store
from simharness.sheets.flat.fabrication import Fabrication
from simharness.verdict.assessment import full_wave_figures, stored_figures, verdict
from simharness.verdict.error_bars import SOLVER_ERROR
from simharness.verdict.match_state import MatchState

ROOT = Path(__file__).parents[2]
REPORT = import_module("simharness.report")  # as an attribute that name is the function
KEY = "0123456789abcdef"
ABOUT = {
    "solver": "invented solver 1.0",
    "simharness": "0.1.0",
    "quality": "draft",
    "cells": 123456,
    "steps": 7890,
    "solver_seconds": 12.3,
    "feed": "CoaxPort",
    "settling": "tail",
}
DATA = {
    "schema": 1,
    "name": "invented",
    "title": "An invented antenna",
    "note": "Invented for a test.",
    "band": {"low_ghz": 2.42, "centre_ghz": 2.45, "high_ghz": 2.48},
    "mounting": {"axis": "vertical"},
    "guide": {
        "a_mm": 90.0,
        "b_mm": 45.0,
        "length_mm": 334.0,
        "front_wall_mm": 0.5,
        "other_walls_mm": 0.5,
        "material": "brass",
    },
    "slot_rule": {
        "count": 3,
        "first_mm": 125.0,
        "spacing_mm": 83.5,
        "offset_mm": 13.7,
        "length_mm": 60.0,
        "width_mm": 6.0,
    },
    "feed": {
        "kind": "probe",
        "position_mm": 40.0,
        "height_mm": 24.0,
        "wire_diameter_mm": 1.5,
        "coax_inner_mm": 1.27,
        "coax_outer_mm": 4.1,
    },
}
LARGEST = 4_000_000
"""Bytes of a page that may still be sent by mail; seven pictures of a run take up to 3 MB."""


def arrays(record) -> dict[str, np.ndarray]:
    """Match and row of the stand-ins, a cardioid across, and powers that follow from them: no loss but
    mismatch.
    """
    frequency = np.linspace(2.3e9, 2.6e9, 61)
    s11 = reflection(record, frequency)
    accepted = 1 - abs(np.interp(FREQUENCY, frequency, np.abs(s11))) ** 2
    theta, phi = np.radians(np.arange(0, 181, 2.0)), np.radians(np.arange(0, 361, 5.0))
    field = (row_factor(np.cos(theta))[:, None] * (1.2 + np.sin(phi)))[None]
    far = FarField(np.array([FREQUENCY]), theta, phi, 0.02 * field, field)
    scale = np.sqrt(accepted / radiated_power(far))
    far = replace(far, e_theta=far.e_theta * scale[:, None, None], e_phi=far.e_phi * scale[:, None, None])
    return {
        "frequency": frequency,
        "s11": s11,
        "input_impedance": 50 * (1 + s11) / (1 - s11),
        "far_frequency": far.frequency,
        "theta": theta,
        "phi": phi,
        "e_theta": far.e_theta,
        "e_phi": far.e_phi,
        "directivity": directivity(far),
        "radiated_power": radiated_power(far),
        "accepted_power": np.array([accepted]),
        "slot_voltage": np.array([[10.0, 12j, 14.0]]),
        "slot_z": np.array([0.125, 0.2085, 0.292]),
    }


class Case:
    """An invented run with its report on the disk."""

    def __init__(self, folder: Path):
        self.record = parse_record(DATA)
        self.run = sealed(folder / "runs", arrays(self.record), DATA)
        self.results = self.run.results()
        self.page, self.document = folder / "new" / "report.html", folder / "new" / "report.pdf"
        self.written = write_report(
            self.run, self.results, self.record, Fabrication(), self.page, self.document
        )
        self.text = self.page.read_text(encoding="utf-8")
        self.seen = Page(self.text)
        found = full_wave_figures(self.results, self.record, "draft")
        self.verdict = verdict(self.record, estimate(self.record), found, self.results, "draft")


def sealed(root: Path, found: dict, data: dict):
    with Store(root).writer(KEY, "invented") as writer:
        write_results(writer.path / "results.h5", found, ABOUT)
        atomic_write_text(writer.path / "record.json", json.dumps(data))
        return writer.finalize("finished")


class Page(HTMLParser):
    """What a reader of the page meets: elements with attributes in order, headings, tables, all words."""

    def __init__(self, text: str):
        super().__init__()
        self.elements: list[tuple[str, dict]] = []
        self.headings: list[tuple[int, str]] = []
        self.tables: list[list[list[str]]] = []
        self.words: list[str] = []
        self.model = ""
        self._open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in ("meta", "link", "img", "input"):
            self._open.append(tag)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append((int(tag[1]), ""))
        if tag == "table":
            self.tables.append([])
        if tag == "tr":
            self.tables[-1].append([])
        if tag in ("th", "td"):
            self.tables[-1][-1].append("")

    def handle_endtag(self, tag):
        assert self._open.pop() == tag, f"</{tag}> closes another element"

    def handle_data(self, data):
        inner = self._open[-1] if self._open else ""
        if inner == "script" and self.elements[-1][1].get("type") == "application/json":
            self.model = data
        if inner in ("script", "style"):
            return
        self.words.append(data)
        if self.headings and re.fullmatch("h[1-6]", inner):
            self.headings[-1] = (self.headings[-1][0], self.headings[-1][1] + data)
        if inner in ("th", "td"):
            self.tables[-1][-1][-1] += data

    def all(self, tag: str) -> list[dict]:
        """Attributes of every element of a kind."""
        return [attributes for name, attributes in self.elements if name == tag]

    @property
    def reading(self) -> str:
        """All words of the page with single spaces."""
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    """Written once for all tests here."""
    return Case(tmp_path_factory.mktemp("report"))


@pytest.fixture
def quick_pictures(monkeypatch):
    """A dot in the place of every picture."""
    dot = base64.b64decode(
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
    )

    def write(results, record, guess, folder):
        names = ["match", "smith"] + (["cuts", "sphere"] if "e_theta" in results and record.slots else [])
        for name in names:
            (folder / f"{name}.png").write_bytes(dot)
        return [folder / f"{name}.png" for name in names]

    monkeypatch.setattr(pictures_module, "write_figures", write)


# --- the page -----------------------------------------------------------------------------------


def test_headings_come_in_order(case):
    levels = [level for level, _ in case.seen.headings]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    assert [words for level, words in case.seen.headings if level == 2] == [
        "Verdict",
        "Estimate and full wave",
        "Antenna and pattern in space",
        "Pictures",
        "Dimensions",
        "Building it",
        "Where this comes from",
    ]


def test_the_page_asks_nobody_for_anything(case):
    """Neither by address nor, should one slip in, by permission."""
    for tag, attributes in case.seen.elements:
        for name in ("src", "href", "srcset", "data", "poster", "action"):
            assert re.match(r"#|data:", attributes.get(name, "#")), (tag, attributes)
    style = case.text[case.text.index("<style>") : case.text.index("</style>")]
    assert "url(" not in style and "@import" not in style
    policy = next(
        a["content"] for a in case.seen.all("meta") if a.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy.split("; ") == [
        "default-src 'none'",
        "img-src data:",
        "style-src 'unsafe-inline'",
        "script-src 'unsafe-inline'",
    ]
    assert "http:" not in case.text and "https:" not in case.text


def test_every_link_has_its_target(case):
    names = {attributes["id"] for _, attributes in case.seen.elements if "id" in attributes}
    links = [attributes["href"] for attributes in case.seen.all("a")]
    assert links[0] == "#verdict" and len(links) > 6
    assert {link.removeprefix("#") for link in links} <= names
    for _, attributes in case.seen.elements:
        for name in ("aria-labelledby", "aria-describedby"):
            assert set(attributes.get(name, "").split()) <= names


def test_every_picture_is_inside_and_described(case):
    shown = case.seen.all("img")
    assert len(shown) == len(TITLES) - 1  # the stand-in has no field in the guide
    for image in shown:
        png = base64.b64decode(image["src"].removeprefix("data:image/png;base64,"), validate=True)
        assert png.startswith(b"\x89PNG\r\n\x1a\n") and png.endswith(b"IEND\xaeB`\x82")
        assert len(image["alt"]) > 60
        # From 7 to 15 inches at 150 dots per inch, as `simharness.plot` draws them.
        assert 1000 < int(image["width"]) < 2300 and 700 < int(image["height"]) < 2300
    assert len({image["alt"] for image in shown}) == len(shown)


def test_tables_are_told_as_tables(case):
    assert len(case.seen.tables) >= 8
    assert len(case.seen.all("thead")) == len(case.seen.all("tbody")) == len(case.seen.tables)
    assert {cell.get("scope") for cell in case.seen.all("th")} == {"col", "row"}
    for table in case.seen.tables:
        assert len(table) > 1 and {len(row) for row in table} == {len(table[0])} and all(table[0])


def test_a_reader_by_ear_finds_the_way(case):
    assert case.seen.all("html") == [{"lang": "en"}]
    for landmark in ("header", "main", "footer"):
        assert len(case.seen.all(landmark)) == 1
    assert case.seen.all("nav") == [{"aria-label": "Contents"}]
    assert {"name": "viewport", "content": "width=device-width, initial-scale=1"} in case.seen.all("meta")
    [canvas] = case.seen.all("canvas")
    assert canvas["role"] == "img" and canvas["tabindex"] == "0" and canvas["aria-label"]
    assert len(case.seen.all("label")) == len(case.seen.all("input")) == 2
    assert (
        "A standing box, 90 mm wide, 45 mm deep and 334 mm long inside, with 3 slots in its front wall"
        in case.seen.reading
    )


def test_colours_of_words_are_far_enough_from_white():
    """Contrast of at least 4.5 by the relative luminance of WCAG 2.1 (W3C 2018, success criterion 1.4.3;
    memory).
    """
    style = (Path(REPORT.__file__).parent / "page.css").read_text(encoding="utf-8")
    for name in ("ink", "faint", "link", "good", "bad"):
        code = re.search(rf"--{name}: #([0-9a-f]{{6}});", style)[1]
        share = np.array([int(code[i : i + 2], 16) for i in (0, 2, 4)]) / 255
        linear = np.where(share <= 0.03928, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
        assert 1.05 / (linear @ [0.2126, 0.7152, 0.0722] + 0.05) >= 4.5, name


def test_the_page_is_small_enough_to_send(case):
    assert 100_000 < case.page.stat().st_size < LARGEST


# --- what is said -------------------------------------------------------------------------------


def test_verdict_in_words(case):
    said = case.seen.reading
    assert [state for state in MatchState if state.headline in said] == [case.verdict.state]
    for sentence in case.verdict.sentences:
        assert with_minus_signs(sentence) in said


def test_every_figure_with_unit_and_bar(case):
    table = next(table for table in case.seen.tables if table[0][0] == "figure")
    assert table[0] == ["figure", "estimate", "full wave", "do they agree?"]
    agreement = {True: "agree", False: "differ", None: "not compared"}
    assert table[1:] == [
        [
            *map(with_minus_signs, (row.label, number(row.estimate), number(row.full_wave))),
            agreement[row.agrees],
        ]
        for row in case.verdict.rows
    ]
    full = {row[0]: row[2] for row in table[1:]}
    assert re.fullmatch(r"2\.\d{3} ± 0\.\d{3} GHz", full["best match at"])
    assert re.fullmatch(r"\d+\.\d ± 0\.2 dBi", full["realized gain"])
    assert re.fullmatch(r"\d+\.\d ± \d\.\d deg", full["beamwidth along the guide"])
    assert re.search(r"±|at most", full["S11 at design frequency"])


def test_error_bars_are_those_of_the_mesh(case):
    table = next(table for table in case.seen.tables if table[0][0] == "kind")
    found = {row[0]: row[2] for row in table[1:]}
    error = SOLVER_ERROR["draft"]
    assert len(found) == len(error) - 2  # ripple and nulls are those of slots in both walls
    assert found["frequency of the best match"] == f"{100 * error['resonance']:g} %"
    assert found["S11, as a distance in the complex plane"] == f"{error['s11']:g}"
    assert (
        "Half a millimetre on the length of every slot moves the match by about 0.8 %." in case.seen.reading
    )  # 0.5 mm of 60 mm


def test_dimensions_are_those_of_the_record(case):
    rows = {tuple(row) for table in case.seen.tables for row in table}
    assert {
        ("inner broad dimension", "90 mm"),
        ("thickness of the front wall", "0.5 mm"),
        ("wall material", "brass"),
        ("design frequency", "2.45 GHz"),
        ("largest |S11| wanted in the band", "\u221210 dB"),
        ("axis of the probe, from the near end", "40 mm"),
        ("wall that the probe comes through", "back"),
        ("tip of the probe above the inner face of its wall", "24 mm"),
        ("1", "125", "13.7", "60", "6", "round"),
        ("2", "208.5", "\u221213.7", "60", "6", "round"),
        ("3", "292", "13.7", "60", "6", "round"),
    } <= rows


def test_order_of_work_and_cautions(case):
    said = case.seen.reading
    titles = [words for level, words in case.seen.headings if level == 3]
    assert titles.index("Order of work") < titles.index("Cautions")
    assert len(case.seen.all("ol")) == 1 and len(case.seen.all("li")) > 10
    assert "Drill both ends of every straight slot" in said and "do not overheat brass with a torch" in said


def test_provenance_is_that_of_the_run(case):
    rows = {tuple(row) for table in case.seen.tables for row in table}
    assert {
        ("run", f"invented-{KEY}"),
        ("solver", "invented solver 1.0"),
        ("cells of the mesh", "123,456"),
        ("time steps", "7,890"),
        ("time in the solver", "12 s"),
        ("quality of the mesh", "draft"),
        ("model of the feed", "a true coax line"),
    } <= rows


def test_words_of_the_record_cannot_become_marks(case, quick_pictures):
    content = report_content(case.run, case.results, case.record, Fabrication())
    evil = '</title></script><script>alert(1)</script> & "b"'
    text = page_text(replace(content, title=evil, note=evil))
    assert "<script>alert" not in text
    page = Page(text)
    assert len(page.all("script")) == 2 and evil in page.reading


def test_what_compare_left_is_taken_in(case, quick_pictures, tmp_path):
    figures = tmp_path / "figures"
    figures.mkdir()
    (figures / "compare-bench.png").write_bytes(
        base64.b64decode(case.seen.all("img")[0]["src"].partition(",")[2])
    )
    content = report_content(replace(case.run, path=tmp_path), case.results, case.record, Fabrication())
    [chapter] = [chapter for chapter in content.chapters if chapter.key == "measured"]
    assert [picture.title for picture in chapter.pictures] == ["Measured: bench"]
    assert "bench" in chapter.pictures[0].alt


def test_a_lying_antenna_with_a_gap_feed(case, quick_pictures):
    lying = parse_record(DATA | {"mounting": {"axis": "horizontal"}})
    results = Results({name: case.results[name] for name in case.results}, ABOUT | {"feed": "GapPort"})
    content = report_content(case.run, results, lying, Fabrication())
    assert content.model["up"] == "x"
    assert "coax sleeve" not in {solid["part"] for solid in content.model["solids"]}
    said = Page(page_text(content)).reading
    assert (
        "A lying box" in said
        and "less accurate than the coax line" in said
        and "Polarization: vertical" in said
    )


def test_a_guide_without_slots_has_no_pattern_and_no_build_list(case, quick_pictures):
    guide = DATA["guide"] | {"near_end": "port", "far_end": "port", "length_mm": 200.0}
    two_port = parse_record(
        {k: v for k, v in DATA.items() if k != "slot_rule"} | {"guide": guide, "feed": {"kind": "guide-port"}}
    )
    results = Results(
        {"frequency": case.results["frequency"], "s11": case.results["s11"]}, {"quality": "fine"}
    )
    content = report_content(case.run, results, two_port, Fabrication())
    page = Page(page_text(content))
    assert content.model["pattern"] is None and len(page.all("img")) == 2
    assert not {solid["part"] for solid in content.model["solids"]} & {"near absorber", "far absorber"}
    titles = [words for _, words in page.headings]
    assert "Cautions" in titles and "Order of work" not in titles and "Slots" not in titles
    assert "without slots" in page.reading and "The TE10 mode at the near end." in page.reading


def test_a_tube_of_two_thicknesses_is_refused(case, quick_pictures):
    uneven = parse_record(DATA | {"guide": DATA["guide"] | {"front_wall_mm": 1.0}})
    with pytest.raises(InputError):
        report_content(case.run, case.results, uneven, Fabrication(make="tube"))


# --- the view that turns ------------------------------------------------------------------------


def test_solids_are_the_prisms_of_the_scene(case):
    """To half of the last digit written, 0.1 micrometre."""
    solids = json.loads(case.seen.model)["solids"]
    prisms = antenna_scene(case.record).prisms
    assert [solid["part"] for solid in solids] == [prism.part for prism in prisms]
    for solid, prism in zip(solids, prisms, strict=True):
        assert solid["axis"] == prism.axis
        rings = (prism.outline.exterior, *prism.outline.holes)
        assert len(solid["rings"]) == len(rings)
        for ring, expected in zip(solid["rings"], rings, strict=True):
            np.testing.assert_allclose(ring, 1e3 * np.array(expected), rtol=0, atol=0.5001e-4)
        np.testing.assert_allclose(
            [solid["low"], solid["high"]], [1e3 * prism.low, 1e3 * prism.high], rtol=0, atol=0.5001e-4
        )


def test_slots_are_open_in_the_front_wall(case):
    [front] = [solid for solid in json.loads(case.seen.model)["solids"] if solid["part"] == "front wall"]
    assert (front["axis"], front["low"], front["high"], front["kind"]) == (1, 0.0, 0.5, "wall")
    found = sorted((*np.min(ring, axis=0), *np.max(ring, axis=0)) for ring in front["rings"][1:])
    expected = sorted(
        (
            s.offset_mm - s.width_mm / 2,
            s.position_mm - s.length_mm / 2,
            s.offset_mm + s.width_mm / 2,
            s.position_mm + s.length_mm / 2,
        )
        for s in case.record.slots
    )
    np.testing.assert_allclose(found, expected, rtol=0, atol=1.001e-4)  # the last digit written


def test_the_body_has_the_gain_for_its_radius(case):
    """Straight ahead 4 pi U at 1 W; what lies `RANGE_DB` below the top of the scale has no radius."""
    pattern = json.loads(case.seen.model)["pattern"]
    points = np.array(pattern["points"])
    row, column = (
        np.argmin(np.abs(case.results["theta"] - np.pi / 2)),
        np.argmin(np.abs(case.results["phi"] - np.pi / 2)),
    )
    field = case.results["e_theta"][0], case.results["e_phi"][0]
    intensity = sum(np.abs(component[row, column]) ** 2 for component in field) / (2 * 376.730)
    gain = 10 * np.log10(4 * np.pi * intensity)
    # The scale ends at the peak; both ends are written to 0.01 dB.
    assert pattern["top_dbi"] == pytest.approx(gain, abs=0.0051, rel=0) and pattern["top_dbi"] - pattern[
        "floor_dbi"
    ] == pytest.approx(RANGE_DB, abs=0.01)
    radius = np.linalg.norm(points, axis=-1)
    strongest = points.reshape(-1, 3)[np.argmax(radius)]
    # Points are rounded to 0.1 mm.
    np.testing.assert_allclose(
        strongest, [0, pattern["radius"] * (gain - pattern["floor_dbi"]) / RANGE_DB, 0], rtol=0, atol=0.2
    )
    assert points.shape[0] <= 92 and points.shape[1] <= 74 and radius.max() <= pattern["radius"] + 0.2


def test_views_look_at_the_slots_from_the_front(case):
    """Azimuth from x to y where z is up, from y to z where x is up: the front is +y either way."""
    for axis, up, azimuth in (("vertical", "z", 90), ("horizontal", "x", 0)):
        record = parse_record(DATA | {"mounting": {"axis": axis}})
        found = model_data(antenna_scene(record), case.results, record)
        assert found["up"] == up
        assert {"name": "front", "azimuth": azimuth, "elevation": 0} in found["views"]


def test_strongest_direction_in_words(case):
    assert (
        strongest_direction(case.results, case.record, stored_figures(case.results, case.record))
        == "broadside, straight out of the slotted wall"
    )
    tilted = arrays(case.record)
    tilted["e_phi"] = np.zeros_like(tilted["e_phi"])
    tilted["e_phi"][0, 50, 16] = (
        1e3  # theta 100 deg, phi 80 deg: 10 deg to the near end, and from +y 10 deg towards +x
    )
    assert (
        strongest_direction(Results(tilted, ABOUT), case.record, {})
        == "10 degrees towards the near end and 10 degrees towards the side +x from broadside"
    )


CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
PROBE = """
<script>
window.troubles = [];
window.addEventListener("error", (event) => troubles.push(event.message));
document.addEventListener("securitypolicyviolation",
  (event) => troubles.push("asked for " + event.blockedURI));
console.error = console.warn = (...words) => troubles.push(words.join(" "));
</script>
"""
TURN = """
<script>
window.addEventListener("load", () => {
  const canvas = document.querySelector("canvas");
  const before = canvas.toDataURL();
  canvas.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowRight" }));
  // The picture follows with the browser's next frame, which is late on a busy machine: 4 s are allowed.
  const look = (left) => {
    if (left > 0 && canvas.toDataURL() === before) { setTimeout(look, 100, left - 1); return; }
    const asked = performance.getEntriesByType("resource").map((entry) => entry.name)
      .filter((name) => !name.startsWith("data:"));
    document.title = JSON.stringify({
      troubles: troubles,
      asked: asked,
      turned: canvas.toDataURL() !== before,
      shown: !document.getElementById("model").hidden,
      state: document.getElementById("model-state").textContent,
      fits: document.documentElement.scrollWidth <= window.innerWidth,
    });
  };
  setTimeout(look, 300, 40);
});
</script>
"""


@pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed, so nothing here can open the page")
@pytest.mark.parametrize("width", [500, 1280])
def test_the_view_turns_in_a_browser(case, tmp_path, width):
    """500 dots: the narrowest window that the browser opens without a screen."""
    page = tmp_path / "page.html"
    page.write_text(
        case.text.replace("<title>", PROBE + "<title>").replace("</body>", TURN + "</body>"), encoding="utf-8"
    )
    done = subprocess.run(
        [
            CHROMIUM,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--no-first-run",
            f"--user-data-dir={tmp_path / 'profile'}",
            f"--window-size={width},900",
            "--virtual-time-budget=5000",
            "--dump-dom",
            page.as_uri(),
        ],
        capture_output=True,
        text=True,
        timeout=120,
    )
    found = json.loads(re.search(r"<title>(\{.*?\})</title>", done.stdout)[1])
    assert found == {
        "troubles": [],
        "asked": [],
        "turned": True,
        "shown": True,
        "fits": True,
        "state": "Seen from 30 degrees to the left of the front, 18 degrees above.",
    }


# --- the PDF ------------------------------------------------------------------------------------


def pdf_words(document: pypdfium2.PdfDocument) -> str:
    return " ".join(" ".join(page.get_textpage().get_text_bounded() for page in document).split())


def test_pdf_has_the_same_content(case):
    with pypdfium2.PdfDocument(case.document) as document:
        said = pdf_words(document)
        pictures = sum(len(list(page.get_objects([pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]))) for page in document)
        # A4: 210 by 297 mm in points of 1/72 inch, to a hundredth.
        assert document[0].get_size() == pytest.approx((595.276, 841.890), abs=0.01, rel=0)
    assert pictures == len(case.seen.all("img"))
    for _, words in case.seen.headings:
        assert words in said
    for table in case.seen.tables:
        for row in table:
            for cell in row:
                assert cell in said
    for sentence in case.verdict.sentences:
        assert with_minus_signs(sentence) in said


def test_pdf_pages_are_full_and_no_heading_stands_alone(case):
    """The lowest words above the foot of a page are never a heading, and only the last page may be less than
    half full.
    """
    with pypdfium2.PdfDocument(case.document) as document:
        for number, page in enumerate(document, 1):
            height = page.get_height()
            things = [
                (thing.get_bounds(), size_of(thing))
                for thing in page.get_objects(
                    [pypdfium2.raw.FPDF_PAGEOBJ_TEXT, pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]
                )
            ]
            shown = [(bounds[1], size) for bounds, size in things if bounds[1] > 0.045 * height]
            lowest, size = min(shown)
            # Sentences and tables are set in 9 to 10 points, headings in 12 and more, at scales of 0.91 to
            # 1.09.
            assert size < 10.6
            assert number == len(document) or lowest < 0.5 * height


def size_of(thing) -> float:
    """Of the letters of a text object, points; 0 of a picture."""
    if thing.type != pypdfium2.raw.FPDF_PAGEOBJ_TEXT:
        return 0.0
    size = ctypes.c_float()
    pypdfium2.raw.FPDFTextObj_GetFontSize(thing, size)
    return size.value


def test_letter_paper(case, quick_pictures):
    from simharness.report.paper import pdf_bytes

    content = report_content(case.run, case.results, case.record, Fabrication())
    made = pdf_bytes(content, "letter")
    assert made == pdf_bytes(content, "letter")  # no clock, no chance
    with pypdfium2.PdfDocument(made) as document:
        assert document[0].get_size() == pytest.approx((612, 792), abs=0.01, rel=0)


# --- files and command --------------------------------------------------------------------------


def test_what_is_no_python_is_declared_as_part_of_the_package():
    folder = Path(REPORT.__file__).parent
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"][
        "package-data"
    ]["simharness.report"]
    assert sorted(declared) == sorted(
        p.name for p in folder.iterdir() if p.is_file() and p.suffix not in (".py", ".pyc")
    )


def test_files_are_written_whole(case):
    assert case.written == [case.page, case.document]
    assert sorted(path.name for path in case.page.parent.iterdir()) == ["report.html", "report.pdf"]
    assert case.text.startswith("<!DOCTYPE html>\n") and case.text.rstrip().endswith("</html>")
    assert case.document.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("words", "names"),
    [
        ((), ["report-invented.html", "report-invented.pdf"]),
        (("--no-pdf",), ["report-invented.html"]),
        (("--out", "some/page.html", "--paper", "letter"), ["some/page.html", "some/page.pdf"]),
    ],
    ids=["all", "no pdf", "elsewhere"],
)
def test_the_command(call, tmp_path, monkeypatch, words, names):
    asked = []

    def write(run, results, record, fabrication, page, document, paper, added, advice):
        asked.append(
            (record.name, fabrication.make, paper, *((picture.title, picture.alt) for picture in added))
        )
        files = [page] + ([document] if document else [])
        for path in files:
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(b"invented" * 100_000)
        return files

    sealed(tmp_path / "runs", {"frequency": np.linspace(2.4e9, 2.5e9, 11)}, DATA)
    monkeypatch.setattr(REPORT, "write_report", write)
    monkeypatch.setattr(stored_advice, "run_advice", lambda *given: Advice(()))
    code, out, err = call("report", KEY, *words)
    assert (code, err) == (0, "") and asked == [
        ("invented", "folded", "letter" if "letter" in words else "a4")
    ]
    assert out == "".join(f"  written: {name} (0.8 MB)\n" for name in names)


def test_an_unknown_run(call, tmp_path):
    code, out, err = call("report", "nothing-like-it")
    assert (
        (code, out) == (7, "")
        and "there is no run 'nothing-like-it'" in err
        and list(tmp_path.iterdir()) == []
    )


def test_the_page_may_not_take_the_name_of_the_pdf(call, tmp_path):
    sealed(tmp_path / "runs", {"frequency": np.linspace(2.4e9, 2.5e9, 11)}, DATA)
    code, out, err = call("report", KEY, "--out", "page.pdf")
    assert (
        (code, out) == (3, "")
        and "--out = page.pdf: must end in .html" in err
        and not (tmp_path / "page.pdf").exists()
    )


def test_a_further_picture(call, case, tmp_path, monkeypatch):
    asked = []
    sealed(tmp_path / "runs", {"frequency": np.linspace(2.4e9, 2.5e9, 11)}, DATA)
    monkeypatch.setattr(REPORT, "write_report", lambda *given: asked.append(given[-2]) or [])
    monkeypatch.setattr(stored_advice, "run_advice", lambda *given: Advice(()))
    png = base64.b64decode(case.seen.all("img")[0]["src"].partition(",")[2])
    (tmp_path / "my-mast.png").write_bytes(png)
    assert call("report", KEY, "--add", "my-mast.png", "The antenna on its mast.")[0] == 0
    assert asked == [(Picture("My mast", png, "The antenna on its mast."),)]


@pytest.mark.parametrize(
    ("content", "words", "reason"), [(b"GIF89a", "A mast.", "must be a PNG"), (None, " ", "say in words")]
)
def test_a_further_picture_must_be_one_and_be_described(case, tmp_path, content, words, reason):
    path = tmp_path / "mast.png"
    path.write_bytes(content or base64.b64decode(case.seen.all("img")[0]["src"].partition(",")[2]))
    with pytest.raises(InputError, match=reason):
        added_picture(path, words)


def test_a_further_picture_is_shown(case, quick_pictures):
    more = Picture(
        "Mast", base64.b64decode(case.seen.all("img")[0]["src"].partition(",")[2]), "The antenna on its mast."
    )
    page = Page(page_text(report_content(case.run, case.results, case.record, Fabrication(), (more,))))
    assert (2, "Further pictures") in page.headings and page.all("img")[-1][
        "alt"
    ] == "The antenna on its mast."
