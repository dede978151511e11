"""A run and the records that ask for it: what is meant by a name, and whose title, target and mounting are
shown.

Nothing outside the project says what a name should mean; the rules are those at the head of
`simharness.runs.lookup`, and each test plays what a person does. A reflection of -26 dB answers in the place
of the solver (20 log10 of 0.05: the definition).
"""

from __future__ import annotations

import json
import shutil
import tomllib
from importlib import import_module
from pathlib import Path

import pytest
from shaped_records import SHIPPED, varied
from stand_in_runs import ON, run_replaced

from simharness.errors import InputError, StoreError
from simharness.files import atomic_write_text
from simharness.fingerprint import request_key
from simharness.records import Record, parse_record
from simharness.records.text import record_text
from simharness.results.outputs import write_results
from simharness.runs.lookup import asked_run, named_folder, same_antenna
from simharness.runs.planning import record_plan
from simharness.runs.store import Store

REPORT = import_module("simharness.report")  # as an attribute that name is the function

FIRST = varied(SHIPPED["eight-slot-wr90-10g37"], name="x").model_copy(
    update={"name": "first", "title": "Invented, the first"}
)
SECOND = FIRST.model_copy(
    update={
        "name": "second",
        "title": "Invented, the second",
        "note": "lies flat",
        "mounting": FIRST.mounting.model_copy(update={"axis": "horizontal"}),
        "band": FIRST.band.model_copy(update={"target_s11_db": -12.0}),
    }
)
OTHER = FIRST.model_copy(
    update={"feed": FIRST.feed.model_copy(update={"height_mm": FIRST.feed.height_mm + 0.1})}
)


def stored(
    store: Store, record: Record, quality: str = "draft", label: str = "", named: bool = False, **about
):
    """A run of a record, invented, under a key that depends on what the solver would see and on `about`."""
    seen = record.model_copy(
        update={"name": "x", "title": "", "note": "", "mounting": FIRST.mounting, "band": FIRST.band}
    )
    key = request_key([seen.model_dump(mode="json", by_alias=True), quality, about])
    with store.writer(key, label or record.name) as writer:
        write_results(writer.path / "results.h5", {}, {"quality": quality, **about})
        atomic_write_text(
            writer.path / "record.json", record.model_dump_json(by_alias=True, exclude_none=True)
        )
        atomic_write_text(writer.path / "provenance.json", json.dumps({"quality": quality, **about}))
        if named:
            store.remember(key, record)
        return writer.finalize("finished")


@pytest.fixture
def store(tmp_path):
    return Store(tmp_path / "runs")


def written(folder: Path, record: Record) -> str:
    path = folder / f"{record.name}.toml"
    path.write_text(record_text(record), encoding="utf-8")
    return str(path)


# --- which antennas are one -------------------------------------------------------------------


def test_what_the_solver_does_not_see_makes_no_other_antenna():
    spelled = parse_record(
        json.loads(FIRST.model_dump_json(by_alias=True, exclude={"slot_rule"}, exclude_none=True))
        | {"slot": [slot.model_dump(exclude_none=True) for slot in FIRST.slots]}
    )
    tube = varied(FIRST, guide={"make": "tube"})
    for other in (SECOND, spelled, tube):
        assert same_antenna(FIRST, other) and same_antenna(other, FIRST)


def test_what_the_solver_sees_makes_another():
    wider = FIRST.model_copy(
        update={"band": FIRST.band.model_copy(update={"high_ghz": FIRST.band.high_ghz + 0.01})}
    )
    covered = varied(FIRST, cover={"material": "PVC", "thickness_mm": 2.0})
    copper, fives = varied(FIRST, guide={"material": "copper"}), SHIPPED["five-slot-2g45"]
    for other in (OTHER, wider, copper, fives, covered):
        assert not same_antenna(FIRST, other)


@pytest.mark.parametrize("record", [SECOND, OTHER], ids=["same", "other"])
def test_one_antenna_is_one_key(record):
    """By the mesh and the hash of a true plan."""
    keys = [record_plan(each, "draft", on=ON).key for each in (FIRST, record)]
    assert (keys[0] == keys[1]) == same_antenna(FIRST, record)


# --- what is meant ----------------------------------------------------------------------------


def test_any_record_finds_the_run_of_its_geometry(store, tmp_path):
    run = stored(store, FIRST)
    found = asked_run(store, written(tmp_path, SECOND))
    assert (found.run, found.record) == (run, SECOND)
    assert "first solved as first" in found.remarks[0] and run.path.name in found.remarks[0]
    with pytest.raises(
        StoreError,
        match=(
            "there is no run of first as it stands in .*; 1 of that name is of other dimensions: 'simharness"
            " solve'"
        ),
    ):
        asked_run(store, written(tmp_path, OTHER))


def test_a_name_means_the_record_that_last_asked_by_it(store):
    run = stored(store, FIRST, named=True)
    store.remember(run.key, SECOND)
    for words, record in (
        ("first", FIRST),
        ("second", SECOND),
        (f"second-{run.key}", SECOND),
        (f"second-{run.key[:4]}", SECOND),
        (run.path.name, FIRST),
        (run.key[:6], FIRST),
        (f"{store.root}/{run.path.name}", FIRST),
    ):
        found = asked_run(store, words)
        assert (found.run, found.record) == (run, record), words
    again = SECOND.model_copy(update={"title": "Invented, renamed"})
    store.remember(run.key, again)
    assert asked_run(store, "second").record == again
    other = stored(store, OTHER, named=True)  # first was changed and solved: that is what first means now
    assert asked_run(store, "first").run == other and asked_run(store, run.path.name).run == run


def test_runs_of_older_stores_go_by_the_name_they_were_made_under(store):
    run = stored(store, FIRST)
    assert asked_run(store, "first").run == run and asked_run(store, "first").record == FIRST
    stored(store, OTHER)
    with pytest.raises(StoreError, match="'first' may mean 2 runs.*first-"):
        asked_run(store, "first")


def test_exact_names_win_and_a_beginning_that_fits_several_lists_them(store):
    run, tuned = stored(store, FIRST), stored(store, OTHER.model_copy(update={"name": "first-tuned"}))
    assert asked_run(store, "first").run == run and asked_run(store, "first-tuned").run == tuned
    assert asked_run(store, "first-t").run == tuned
    with pytest.raises(StoreError) as error:
        asked_run(store, "fir")
    assert str(error.value) == f"'fir' may mean 2 runs: {', '.join(sorted([run.path.name, tuned.path.name]))}"
    for words in ("", "third", "..", ".names"):
        with pytest.raises(StoreError, match="there is no run"):
            asked_run(store, words)


def test_of_several_qualities_the_finest_is_taken_and_that_is_said(store):
    runs = {quality: stored(store, FIRST, quality, cells=1) for quality in ("normal", "draft")}
    gap = stored(store, FIRST, "fine", feed="GapPort")  # finer, but a less accurate model
    found = asked_run(store, "first")
    assert (
        found.run == runs["normal"]
        and "Of 3 runs of this antenna this is the best: normal." in found.remarks[0]
    )
    assert "draft (" in found.remarks[0] and "fine, lumped gap (" in found.remarks[0]
    assert (
        asked_run(store, "first", "draft").run == runs["draft"]
        and asked_run(store, "first", "fine").run == gap
    )
    assert asked_run(store, "first", "draft").remarks == ()
    full = runs["draft"].path.name
    assert asked_run(store, full, "draft").run == asked_run(store, full).run == runs["draft"]
    with pytest.raises(InputError, match="--quality = fine: the run first-.* is of the quality draft"):
        asked_run(store, full, "fine")
    store.remove(next(run for run in store.runs() if run.name == gap.path.name))
    with pytest.raises(StoreError, match="there is no fine run of first: there are draft .*, normal "):
        asked_run(store, "first", "fine")


def test_failed_and_damaged_runs_are_no_answer(store):
    with store.writer(request_key("failed"), "first") as writer:
        failed = writer.fail("invented")
    assert asked_run(store, "first").run == failed  # its reason is all there is to tell
    run = stored(store, FIRST)
    assert asked_run(store, "first").run == run
    (run.path / "results.h5").write_bytes(b"")
    with pytest.raises(StoreError, match="is damaged"):
        asked_run(store, "first")
    assert named_folder(store, "first") == run.path.name  # for those who want to remove it


def test_a_name_that_cannot_be_read_is_passed_over(store):
    run = stored(store, FIRST, named=True)
    (path,) = (store.root / ".names").iterdir()
    for text in (
        "{",
        "[]",
        "{}",
        '{"name": "first"}',
        path.read_text().replace('"name": "first"', '"name": "foreign"'),
    ):
        path.write_text(text)
        assert store.names() == [] and asked_run(store, "first").run == run


def test_a_copy_made_by_hand_is_not_mistaken_for_the_run(store):
    run = stored(store, FIRST, named=True)
    for name in ("a-copy", "z-copy"):
        shutil.copytree(run.path, store.root / f"{name}-{run.key}")
    for words in ("first", run.path.name):
        assert asked_run(store, words).run == run
    with pytest.raises(StoreError, match="does not fit its manifest"):
        asked_run(store, "z-copy")
    store.remove(next(each for each in store.runs() if each.name == f"a-copy-{run.key}"))
    assert asked_run(store, "first").run == run and [name.name for name in store.names()] == ["first"]


def test_a_run_is_not_given_up_because_its_name_cannot_be_kept(call, monkeypatch, tmp_path):
    run_replaced(monkeypatch)
    (tmp_path / "runs").mkdir()
    (tmp_path / "runs" / ".names").write_text("a file where the folder should be")
    code, _out, err = call("solve", written(tmp_path, FIRST), "--quality", "draft", "--no-figures")
    assert code == 0 and "the run will not be found by the name first: cannot write in" in " ".join(
        err.split()
    )
    assert asked_run(Store(tmp_path / "runs"), "first").record == FIRST  # by the name it was made under


# --- the road of a person ---------------------------------------------------------------------


def test_two_names_with_one_geometry(call, monkeypatch, tmp_path):
    """Solved, solved by another name, asked for again: each name keeps its own record, and the run its
    place.
    """
    reported = []

    def write_report(run, results, record, *rest):
        reported.append((record.title, run.figures(record.name).relative_to(run.path).as_posix()))
        return []

    monkeypatch.setattr(REPORT, "write_report", write_report)
    asked = run_replaced(monkeypatch)
    paths = {record.name: written(tmp_path, record) for record in (FIRST, SECOND)}
    solve = ("--quality", "draft", "--no-figures", "--json")
    first = json.loads(call("solve", paths["first"], *solve)[1])
    second = json.loads(call("solve", paths["second"], *solve)[1])
    assert len(asked) == 1 and first["run"] == second["run"] == f"first-{asked[0]}"
    assert (first["record"], second["record"]) == ("first", "second")

    def shown() -> None:
        for name, polarization, target in (
            ("first", "horizontal", "-10 dB"),
            ("second", "vertical", "-12 dB"),
        ):
            for words in (name, paths[name], f"{name}-{asked[0]}"):
                found = asked_run(Store(tmp_path / "runs"), words)
                assert found.record.name == name and found.run.path.name == first["run"]
            found = json.loads(call("show", name, "--json")[1])
            assert found["record"] == name and found["run"] == first["run"]
            assert polarization in found["figures"]["polarization"]["value"]
            assert any(target in sentence for sentence in found["sentences"])
            code, text, _err = call("show", name, "--record")
            assert code == 0 and tomllib.loads(text)["title"] == (FIRST if name == "first" else SECOND).title

    shown()
    again = json.loads(call("solve", paths["second"], *solve, "--again")[1])
    assert len(asked) == 2 and again["run"] == first["run"]
    assert sorted(path.name for path in (tmp_path / "runs").iterdir()) == [".names", first["run"]]
    files = {path.name for path in (tmp_path / "runs" / first["run"]).iterdir()}
    assert "first.s1p" in files and "second.s1p" not in files
    shown()
    assert call("report", "first")[0] == call("report", paths["second"])[0] == 0
    assert reported == [(FIRST.title, "figures"), (SECOND.title, "figures/second")]
    (listed,) = json.loads(call("runs", "--json")[1])
    assert (
        listed["names"] == ["second"]
        and listed["quality"] == "draft"
        and listed["worst_s11_db"] == pytest.approx(-26.02, abs=0.01)
    )
    assert "-26.0 dB" in call("runs")[1]


@pytest.mark.parametrize("name", SHIPPED)
def test_a_run_gives_its_record_back(call, store, name):
    record = SHIPPED[name]
    run = stored(store, record)
    code, text, err = call("show", run.path.name, "--record")
    assert (code, err) == (0, "") and parse_record(tomllib.loads(text)) == record


def test_the_record_is_written_over_nothing_unasked(call, store, tmp_path):
    stored(store, FIRST)
    assert call("show", "first", "--record", "--out", "back.toml")[0] == 0
    back = (tmp_path / "back.toml").read_text(encoding="utf-8")
    assert (
        record_plan(parse_record(tomllib.loads(back)), "draft", on=ON).key
        == record_plan(FIRST, "draft", on=ON).key
    )
    (tmp_path / "back.toml").write_text("mine")
    code, out, err = call("show", "first", "--record", "--out", "back.toml")
    assert (
        (code, out) == (3, "")
        and "--replace to write over it" in err
        and (tmp_path / "back.toml").read_text() == "mine"
    )
    assert call("show", "first", "--record", "--out", "back.toml", "--replace")[0] == 0
    assert (tmp_path / "back.toml").read_text(encoding="utf-8") == back
    assert call("show", "first", "--out", "else.toml")[0] == 2 and not (tmp_path / "else.toml").exists()
