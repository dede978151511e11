"""What the page's view of things side by side stands on, without a browser: the list of runs, the choice,
dropped files, curves."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import simharness
from simharness.errors import InputError
from simharness.files import atomic_write_text
from simharness.page.compare import shelf as shelf_module
from simharness.page.compare.charts import cut_options, reflection_options
from simharness.page.compare.dropped import LARGEST, LEVELS, ONE_PORT, dropped
from simharness.page.compare.shelf import LOWEST_DB, Shelf
from simharness.page.compare.sides import Chosen, Sides, measured, sides_of

ROOT = Path(__file__).parents[2]
RUNS = ROOT / "docs" / "runs"
RUN = "four-slot-9g6-8ac674ebc42b45b2"
BENCH = (ROOT / "docs" / "bench-9g6.s1p").read_bytes()
MANY = 5000


def run_folder(root: Path, name: str, when: float) -> Path:
    """As much of a run as the list of names looks at."""
    folder = root / name
    folder.mkdir(parents=True)
    atomic_write_text(folder / "manifest.json", "{}")
    os.utime(folder / "manifest.json", (when, when))
    return folder


def test_names_are_found_by_all_words_the_newest_first(tmp_path):
    for when, name in enumerate(("box-5g8-01", "box-2g4-02", "tube-2g4-03", "failed-box-04", ".work-05"), 1):
        run_folder(tmp_path, name, 1e9 + when)
    (tmp_path / "tuning-box").mkdir()
    shelf = Shelf(tmp_path)
    assert shelf.names() == ["tube-2g4-03", "box-2g4-02", "box-5g8-01"]
    assert shelf.names("BOX 2g4") == ["box-2g4-02"]
    assert shelf.names("../") == [] and shelf.names("*") == []
    assert Shelf(tmp_path / "none").names() == []


def test_five_thousand_runs_are_listed_without_opening_a_file(tmp_path, monkeypatch):
    """A second is far more than the 0.1 s that it takes, and less than opening so many files would take."""
    for n in range(MANY):
        run_folder(tmp_path, f"run-{n:04d}-{n:016x}", 1e9 + n)
    monkeypatch.setattr("builtins.open", None)
    monkeypatch.setattr(os, "open", None)
    begun = time.perf_counter()
    names = Shelf(tmp_path).names()
    assert time.perf_counter() - begun < 1.0
    assert len(names) == MANY and names[0].startswith("run-4999-")


def test_the_small_picture_is_the_curve_of_the_run(monkeypatch):
    run = simharness.open_run(RUN, runs=RUNS)
    shelf = Shelf(RUNS)
    (spark,) = shelf.sparks([RUN])
    level = 20 * np.log10(np.abs(run.results["s11"]))
    assert spark.quality == "draft" and spark.worst_s11_db == pytest.approx(run.verdict.worst_s11.value)
    assert spark.levels[0] == pytest.approx(level[0], abs=0.01)
    assert min(spark.levels) == pytest.approx(max(level.min(), LOWEST_DB), abs=0.5)
    frequency = run.results["frequency"]
    low = (run.record.band.low - frequency[0]) / (frequency[-1] - frequency[0])
    assert spark.band[0] == pytest.approx(low)
    monkeypatch.setattr(shelf_module, "_spark", None)
    assert shelf.sparks([RUN]) == [spark]  # kept, not read again


@pytest.mark.parametrize(
    "text", ["", "[]", '{"quality": ["x"], "worst_s11_db": "low"}', '{"worst_s11_db": NaN}']
)
def test_a_run_that_cannot_be_read_has_no_picture(tmp_path, text):
    folder = run_folder(tmp_path, "broken-01", 1e9)
    (folder / "provenance.json").write_text(text)
    (folder / "results.h5").write_bytes(b"no results")
    (spark,) = Shelf(tmp_path).sparks(["broken-01"])
    assert spark.levels == () and spark.worst_s11_db is None


@pytest.mark.parametrize(
    ("name", "shown", "kind"),
    [
        ("bench.s1p", "bench.s1p", ONE_PORT),
        ("../../etc/bench.S1P", "bench.S1P", ONE_PORT),
        ("..\\mine\\bench.s1p", "bench.s1p", ONE_PORT),
        ("<script>alert(1)<script>.csv", "<script>alert(1)<script>.csv", LEVELS),
        ("turned.TXT", "turned.TXT", LEVELS),
    ],
)
def test_a_name_is_shown_and_is_no_path(name, shown, kind):
    found = dropped(name, b"1")
    assert (found.name, found.kind) == (shown, kind)


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("bench.s2p", b"", "must be a Touchstone one-port"),
        ("..", b"", "must be a Touchstone one-port"),
        ("", b"", "must be a Touchstone one-port"),
        ("bench.s1p", b" " * (LARGEST + 1), "must be at most 2 MB"),
        ("\x1b[2J.exe", b"", "must be a Touchstone one-port"),
    ],
)
def test_what_is_not_taken(name, data, said):
    with pytest.raises(InputError) as error:
        dropped(name, data)
    assert said in str(error.value) and "\x1b" not in str(error.value)


def test_a_choice_holds_three_things_each_once(tmp_path):
    sides = Sides(tmp_path)
    record = simharness.read_record(ROOT / "docs" / "four-slot-9g6.toml")
    first = Chosen("one", record)
    sides.add(first)
    assert sides.compute() is None
    with pytest.raises(InputError, match="is there already"):
        sides.add(Chosen("one", record))
    sides.add(measured(dropped("a<b>.s1p", BENCH)))
    found = sides.compute()
    assert [side.label for side in found.sides] == ["four-slot-9g6", "a<b>.s1p"]
    sides.add(Chosen("three", simharness.open_run(RUN, runs=RUNS)))
    with pytest.raises(InputError, match="take one away first"):
        sides.add(Chosen("four", record))
    sides.take_away(first)
    assert [one.words for one in sides.chosen] == ["a<b>.s1p, measured", "three"]


def test_a_file_that_is_no_touchstone_file_is_refused_by_its_own_name():
    with pytest.raises(InputError) as error:
        measured(dropped("mine.s1p", b"# GHz S RI R 50\n1 2\n"))
    assert str(error.value).startswith("measured file = mine.s1p: ")


def test_a_tab_keeps_its_choice(tmp_path):
    class Tab(SimpleNamespace):
        __hash__ = object.__hash__

    one, two = (Tab(place=SimpleNamespace(runs=tmp_path)) for _ in range(2))
    assert sides_of(one) is sides_of(one) and sides_of(one) is not sides_of(two)


def test_curves_of_the_charts_are_those_of_the_sides():
    run = simharness.open_run(RUN, runs=RUNS)
    found = simharness.side_by_side([run, run.record, ROOT / "docs" / "bench-9g6.s1p"])
    options = reflection_options(found.sides)
    json.dumps(options, allow_nan=False)
    assert [curve["name"] for curve in options["series"][:3]] == [side.label for side in found.sides]
    least, above = (np.array(part["data"])[:, 1] for part in options["series"][3:5])
    size = np.abs(run.results["s11"])
    assert np.allclose(least + above, 20 * np.log10(size + 0.07), rtol=0, atol=0.02)  # a draft's bar
    assert len(options["series"]) == 3 + 2 * 2  # what was measured has no bar
    data = np.array(options["series"][0]["data"])
    assert np.allclose(
        data[:, 0], run.results["frequency"] / 1e9, rtol=0, atol=1e-5
    )  # five decimals are kept
    level = np.maximum(20 * np.log10(np.abs(run.results["s11"])), -40)
    assert np.allclose(data[:, 1], level, rtol=0, atol=0.006)  # two decimals are kept
    assert options["series"][0]["markArea"]["data"] == [[{"xAxis": 9.552}, {"xAxis": 9.648}]]
    along = cut_options(found.sides, "along")
    json.dumps(along, allow_nan=False)
    assert len(along["series"]) == 2
    peak = max(level for _, level in along["series"][0]["data"])
    assert peak == pytest.approx(run.figures["realized_gain"].value, abs=0.05)
    assert cut_options(found.sides[2:], "across") is None
